"""The bench page: the same screens for a tablet, a laptop, or several of them."""

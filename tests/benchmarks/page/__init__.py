"""How long a reading takes from the wire to every screen of the bench page."""

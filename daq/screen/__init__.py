"""What people look at in a terminal: the bench screen as data, its drawing, its keys."""

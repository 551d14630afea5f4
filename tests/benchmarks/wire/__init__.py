"""What the wire, the logbook and the screens cost, measured beside bare floors."""

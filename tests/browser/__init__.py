"""The bench page in a real browser, from the simulated gauge to what is painted."""

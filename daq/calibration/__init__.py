"""Calibration of gauges, and studies of how far their values can be trusted."""

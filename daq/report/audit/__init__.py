"""The report of an audit: what was found in the calibration logs of a fleet, and how it stands."""

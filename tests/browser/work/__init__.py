"""The pages of jobs, calibrations and the logbook in a real browser, and who may open them."""

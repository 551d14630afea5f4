"""Auditing calibration logs: which calibrations are real, complete, in date, plausible, unedited.

And, when a gauge is found out of limits, which captured work must be looked at again. Everything
here reads the open log format of `daq.audit.layout`; `daq.audit.intake` brings other logs into it,
and `daq.audit.export` writes it from a logbook. Neither numpy nor duckdb is imported before a log
is read or written.
"""

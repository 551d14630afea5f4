"""A calibration certificate as a Digital Calibration Certificate (DCC 3.x with D-SI), as XML.

An export: none is read. No signature is made. ``lxml`` is imported where a file is made or checked,
not before; the published schema is not shipped, and a user names a folder that holds it.
"""

from daq.report.dcc.errors import (
    DccError,
    DccExtraError,
    InvalidDccError,
    NotStatedError,
    SchemaError,
)
from daq.report.dcc.making import VERSION, check_dcc, dcc_of
from daq.report.dcc.stated import Stated, stated_from_bytes

__all__ = [
    "VERSION",
    "DccError",
    "DccExtraError",
    "InvalidDccError",
    "NotStatedError",
    "SchemaError",
    "Stated",
    "check_dcc",
    "dcc_of",
    "stated_from_bytes",
]

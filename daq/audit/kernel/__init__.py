"""One pass over the rows, block by block, in numpy: what the rules need, small against the rows."""

from daq.audit.kernel.captures import Captured, CaptureKernel
from daq.audit.kernel.columns import CAPTURES, POINTS
from daq.audit.kernel.digits import digits
from daq.audit.kernel.lookup import ByGauge
from daq.audit.kernel.passes import Passes, PassKernel, Table
from daq.audit.kernel.series import series
from daq.audit.kernel.windows import Windows

__all__ = [
    "CAPTURES",
    "POINTS",
    "ByGauge",
    "CaptureKernel",
    "Captured",
    "PassKernel",
    "Passes",
    "Table",
    "Windows",
    "digits",
    "series",
]

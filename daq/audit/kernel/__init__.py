"""One pass over the rows, block by block, in numpy: what the rules need, small against the rows."""

from daq.audit.kernel.captures import Captured, CaptureKernel
from daq.audit.kernel.certified import Certified
from daq.audit.kernel.columns import CAPTURES, EXTRAS, POINTS
from daq.audit.kernel.digits import digits
from daq.audit.kernel.lookup import ByGauge
from daq.audit.kernel.passes import Passes, PassKernel, Table
from daq.audit.kernel.pieces import pieces
from daq.audit.kernel.series import series
from daq.audit.kernel.windows import Windows

__all__ = [
    "CAPTURES",
    "EXTRAS",
    "POINTS",
    "ByGauge",
    "CaptureKernel",
    "Captured",
    "Certified",
    "PassKernel",
    "Passes",
    "Table",
    "Windows",
    "digits",
    "pieces",
    "series",
]

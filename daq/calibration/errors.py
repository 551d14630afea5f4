"""What can be wrong with a calibration as somebody wrote it down or asked for it.

CalibrationError
├── RegisterError   a register of standards and gauges has mistakes, or lacks what was asked of it
└── PlanError       a plan has mistakes, or a standard cannot make up its lengths
"""

from drivers.errors import RestpointError


class CalibrationError(RestpointError):
    """A calibration cannot be had as it was asked for.

    Args:
        problems: one sentence each, at least one. Those found in a file have the form
            ``file:line: field: what is wrong; what would be right``.
    """

    def __init__(self, *problems: str) -> None:
        super().__init__(*problems)
        self.problems = problems

    def __str__(self) -> str:
        return "\n".join(self.problems)


class RegisterError(CalibrationError):
    """A register file has mistakes, or does not hold what was asked of it."""


class PlanError(CalibrationError):
    """A calibration plan has mistakes, or a standard cannot make up its lengths."""

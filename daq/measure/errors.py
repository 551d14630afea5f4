"""What can go wrong between a gauge's name and its reading.

RestpointError
├── GaugeError     no such gauge, or a gauge file that cannot be read
└── NoValueError   the gauge gave no value that can be trusted; the message says why
"""

from drivers.errors import RestpointError


class GaugeError(RestpointError):
    """A gauge was named that is not known, or the gauges file has mistakes.

    Args:
        problems: one line each.
    """

    def __init__(self, *problems: str) -> None:
        super().__init__(*problems)
        self.problems = problems

    def __str__(self) -> str:
        return "\n".join(self.problems)


class NoValueError(RestpointError):
    """No value came that can be trusted, and why."""

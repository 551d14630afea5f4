"""Which of several gauges is shown."""

from dataclasses import dataclass


@dataclass(slots=True)
class Choosing:
    """The gauges at a bench, and the one that is shown.

    Args:
        labels: all of them, at least one.
    """

    labels: tuple[str, ...]
    label: str = ""

    def __post_init__(self) -> None:
        self.label = self.label or self.labels[0]

    def choose(self, label: str) -> bool:
        """Show the gauge called so; False if there is none."""
        if label not in self.labels:
            return False
        self.label = label
        return True

    def next(self) -> None:
        """Show the one after this, and after the last the first."""
        place = self.labels.index(self.label) + 1
        self.label = self.labels[place % len(self.labels)]

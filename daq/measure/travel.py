"""Whether a plunger has moved since its value was kept: one rest pressed twice is one value."""

from dataclasses import dataclass, field
from decimal import Decimal


@dataclass(slots=True)
class _Kept:
    value_mm: Decimal
    at: object
    moved_mm: Decimal = Decimal(0)


@dataclass(slots=True)
class Travel:
    """How far each gauge's reading has been from the value kept last.

    Nothing is known of a gauge before its first value is kept.
    """

    _kept: dict[str, _Kept] = field(default_factory=dict)

    def keep(self, label: str, value_mm: Decimal, at: object) -> None:
        """A value of the gauge was kept.

        Args:
            label: which gauge.
            value_mm: its reading then.
            at: what it was taken for; compared by ``is_elsewhere``.
        """
        self._kept[label] = _Kept(value_mm, at)

    def read(self, label: str, value_mm: Decimal) -> None:
        """The gauge reads this now."""
        kept = self._kept.get(label)
        if kept is not None:
            kept.moved_mm = max(kept.moved_mm, abs(value_mm - kept.value_mm))

    def is_elsewhere(self, label: str, at: object) -> bool:
        """Whether the last value was taken for something else than ``at``."""
        kept = self._kept.get(label)
        return kept is not None and kept.at != at

    def has_moved(self, label: str, least_mm: Decimal) -> bool:
        """Whether the reading has been at least so far from the value kept last, or none was."""
        kept = self._kept.get(label)
        return kept is None or kept.moved_mm >= least_mm

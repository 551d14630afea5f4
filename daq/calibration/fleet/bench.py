"""What the register says of a gauge that is plugged in at a bench."""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from daq.calibration.due import GaugeStatus, range_words
from daq.calibration.fields import brief_mm
from daq.calibration.fleet.fleet import Fleet, is_same_adapter


@dataclass(frozen=True, slots=True)
class BenchStatus:
    """How a gauge stands that is plugged in.

    ``standing`` is that of ``daq.calibration.due``, or ``another gauge``, or ``not in the
    register``. ``words`` say it in a sentence or two, ``short`` in a few words, empty while all is
    well. What is not usable is captured with only if somebody answers for it. ``label`` is what it
    is entered as; empty where it is not known which gauge it is.
    """

    standing: str
    words: str
    short: str
    is_usable: bool
    due: date | None = None
    from_mm: Decimal | None = None
    to_mm: Decimal | None = None
    label: str = ""

    def why_not_at(self, value_mm: float) -> str:
        """Why a value may not be taken from a gauge of limited range; empty if it may.

        Args:
            value_mm: what the gauge reads.
        """
        too_low = self.from_mm is not None and value_mm < self.from_mm
        too_high = self.to_mm is not None and value_mm > self.to_mm
        if not too_low and not too_high:
            return ""
        good = range_words(self.from_mm, self.to_mm)
        at = brief_mm(Decimal(repr(value_mm)).quantize(Decimal("0.0001")))
        return f"it reads {at}, and by its calibration it is good {good} only; take another gauge"


def bench_status(fleet: Fleet, label: str, identity: str, on: date) -> BenchStatus | None:
    """How the gauge on an adapter stands on a day; None where the register has no gauges.

    The adapter's identity tells which gauge it is, and where that is not in the register, its label
    does.

    Args:
        fleet: the register.
        label: what the gauge is called at the bench; with an ``@`` it is a profile at a port.
        identity: the adapter's, or empty if it has none.
        on: the day.
    """
    if not fleet.gauges:
        return None
    by_adapter = fleet.gauge_by_identity(identity)
    entry = fleet.gauges.get(label)
    if by_adapter is not None:
        status = fleet.status(by_adapter.label, on)
        if by_adapter.label == label or "@" in label:
            return _as_it_stands(by_adapter.label, status)
        words = (
            f"This adapter is entered as {by_adapter.label}, not {label}. Plug in {label}, or "
            f"correct the gauges file. {status.words}"
        )
        return BenchStatus("another gauge", words, f"entered as {by_adapter.label}", False)
    if entry is None:
        words = f"{label} is not in the register, so nothing is known of its errors."
        return BenchStatus("not in the register", words, "not in the register", False)
    if entry.identity and identity and not is_same_adapter(entry.identity, identity):
        words = (
            f"{label} is entered on the adapter {entry.identity}, and this is {identity}, so it "
            f"may be another gauge. Plug in {label}, or enter it anew."
        )
        return BenchStatus("another gauge", words, "on another adapter", False)
    return _as_it_stands(label, fleet.status(label, on))


def _as_it_stands(label: str, status: GaugeStatus) -> BenchStatus:
    return BenchStatus(
        status.standing,
        status.words,
        _short(status),
        status.is_usable,
        status.due,
        status.from_mm,
        status.to_mm,
        label,
    )


def _short(status: GaugeStatus) -> str:
    match status.standing:
        case "in date":
            return ""
        case "due":
            return f"due on {status.due}"
        case "overdue":
            return f"overdue since {status.due}"
        case "limited range":
            due = f", due on {status.due}" if status.is_due_soon else ""
            return f"good {range_words(status.from_mm, status.to_mm)} only{due}"
        case _:
            return status.standing

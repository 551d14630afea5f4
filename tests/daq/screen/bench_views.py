"""Bench views for the tests: one ordinary setting job, in each of its states."""

from decimal import Decimal
from typing import Any

from daq.screen.view import BenchView

MM_PER_INCH = Decimal("25.4")


def bench_view(deviation: str | None, **fields: Any) -> BenchView:
    """A fresh, moving reading this far (mm) from a nominal of 12.300 mm ± 0.050 mm."""
    deviation_mm = None if deviation is None else Decimal(deviation)
    usual: dict[str, Any] = {
        "gauge_label": "BENCH 3",
        "profile": "signed decimal line",
        "port": "/dev/ttyUSB0",
        "deviation_mm": deviation_mm,
        "length_mm": None if deviation_mm is None else deviation_mm + Decimal("12.300"),
        "nominal_mm": Decimal("12.300"),
        "lower_mm": Decimal("-0.050"),
        "upper_mm": Decimal("0.050"),
        "spec_name": "rack reference",
        "motion": "moving",
        "age_s": 0.04,
        "captured": 3,
    }
    return BenchView(**{**usual, **fields})


def at_rest(deviation: str, outcome: str, **fields: Any) -> BenchView:
    """The same at rest, with a verdict."""
    settled = {"motion": "at rest", "settled_mm": float(deviation), "u_mm": 0.0006, "n": 41}
    return bench_view(deviation, outcome=outcome, **{**settled, **fields})


STATES: dict[str, BenchView] = {
    "moving": bench_view(
        "0.080",
        way="clockwise",
        amount="1/8",
        guide_words="clockwise 1/8 turn (45°)",
    ),
    "coming-to-rest": bench_view("0.002", motion="coming to rest", way="leave it"),
    "in": at_rest("0.002", "in", way="leave it", guide_words="leave it"),
    "low": at_rest(
        "-0.062",
        "low",
        way="anticlockwise",
        amount="1/16",
        guide_words="anticlockwise about 1/16 turn (22°)",
    ),
    "high": at_rest("0.093", "high", way="lower", guide_words="lower 0.093 mm"),
    "too-close-to-call": at_rest("-0.049", "too close to call", u_mm=0.0011, n=17),
    "beyond-scale": at_rest(
        "13.412", "high", way="clockwise", amount="8 7/8", guide_words="clockwise 8 7/8 turns"
    ),
    "inch": bench_view(
        str(Decimal("0.0031") * MM_PER_INCH),
        unit="in",
        step_mm=Decimal("0.0001") * MM_PER_INCH,
        way="clockwise",
        amount="3/16",
        guide_words="clockwise 3/16 turn (68°)",
    ),
    "vibrating": bench_view("0.002", motion="vibrating", way="leave it"),
    "captured": at_rest("0.002", "in", way="leave it", captured=4, captured_ago_s=0.2),
    "refused": bench_view(
        "0.012",
        way="clockwise",
        amount="hair",
        refused_ago_s=0.2,
        notice="not captured: the reading is still moving; hold still and press again",
    ),
    "doubt": at_rest(
        "0.080",
        "high",
        way="clockwise",
        amount="1/8",
        guide_words="clockwise 1/8 turn (45°)",
        doubt="the display changed from mm to in: look at the gauge, then press c",
        keys="c confirm  q quit",
    ),
    "no-signal": bench_view("0.080", way="clockwise", amount="1/8", age_s=1.2),
    "cable-out": bench_view("0.080", link_state="cable out", way="clockwise", amount="1/8"),
}

"""States of the live page as the bench sends them, for the tests of its scripts."""

from dataclasses import replace
from decimal import Decimal

from daq.page.messages import Message, State, bench_message, state_message
from daq.screen.view import BenchView
from tests.daq.screen.bench_views import STATES as USUAL
from tests.daq.screen.bench_views import at_rest, bench_view

VIEWS: dict[str, BenchView] = {
    **USUAL,
    "far-off": bench_view(
        "-0.412",
        way="anticlockwise",
        amount="2 3/8",
        guide_words="anticlockwise about 2 3/8 turns",
    ),
    "no-spec": BenchView(
        gauge_label="DI-07",
        deviation_mm=Decimal("4.137"),
        length_mm=Decimal("4.137"),
        motion="at rest",
        settled_mm=4.1372,
        u_mm=0.0004,
        n=36,
        age_s=0.03,
    ),
    "one-limit": at_rest("-0.012", "in", lower_mm=None, way="leave it"),
    "aim-aside": bench_view(
        "0.004",
        lower_mm=Decimal("0.010"),
        upper_mm=Decimal("0.030"),
        aim_mm=Decimal("0.020"),
        way="raise",
        guide_words="raise 0.016 mm",
    ),
    "battery": replace(USUAL["moving"], statuses=("battery low",), standing="due in 3 days"),
    "wordy": replace(
        USUAL["refused"],
        gauge_label="DEPTH GAUGE OF THE NORTH BENCH 14",
        standing="calibration out of date since 2026-01-31",
        last_capture="timing height, cylinder 12: +0.0020 mm ± 0.0012 mm (k=2)",
        notice="not captured: the reading is within limits, but the gauge has no calibration that "
        "covers this length; take another gauge or let the office decide",
        captured=128,
    ),
}
"""By name: the bench in each of its states."""


def state_of(view: BenchView, *, n: int = 1, may_act: bool = True) -> Message:
    """The message that a screen gets for a view."""
    state = State(
        work="live", gauges=(view.gauge_label,), gauge=view.gauge_label, view=bench_message(view)
    )
    return state_message(state, n, may_act=may_act)


def all_states() -> dict[str, Message]:
    """Every view as a message."""
    return {name: state_of(view) for name, view in VIEWS.items()}

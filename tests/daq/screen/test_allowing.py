"""A gauge that should not be used: nothing is captured until somebody answers for it."""

from daq.calibration.fleet import BenchStatus
from daq.screen.allowing import CONFIRM_KEYS, Allowing
from daq.screen.drawing import rows_of
from daq.screen.view import headline
from daq.screen.words import plain_line

from .bench_views import at_rest, bench_view

OVERDUE = BenchStatus(
    "overdue", "DI-7 has been overdue since 2026-05-01, 31 days (C-1 of 2025-05-01).",
    "overdue since 2026-05-01", False,
)  # fmt: skip
GONE = BenchStatus(
    "withdrawn", "DI-7 was withdrawn on 2026-05-02 by B: dropped", "withdrawn", False
)
GOOD = BenchStatus("in date", "DI-7 is due on 2027-05-01 (C-2).", "", True)


def said(*statuses, although=""):
    """Each status as the gauge is plugged in again."""
    each = iter(statuses)
    return Allowing(lambda _: next(each), although)


def test_nothing_known_is_no_reason():
    allowing = Allowing()
    allowing.appeared("")
    view = bench_view("0.080")
    assert (allowing.waits, allowing.why_not(1.0), allowing.note) == (False, "", "")
    assert allowing.seen(view, asks=True) is view


def test_a_gauge_in_date_is_used_without_a_word():
    allowing = said(GOOD)
    allowing.appeared("")
    assert (allowing.waits, allowing.why_not(1.0), allowing.note) == (False, "", "")
    assert allowing.seen(bench_view("0.080"), asks=True) == bench_view("0.080")


def test_an_overdue_gauge_is_refused_until_somebody_confirms_and_that_is_kept():
    allowing = said(OVERDUE)
    allowing.appeared("")
    assert allowing.why_not(1.0) == allowing.why_not(None) == OVERDUE.words
    allowing.confirm()
    assert (allowing.waits, allowing.why_not(1.0)) == (False, "")
    assert allowing.note == f"{OVERDUE.words} Used nevertheless: confirmed at the screen."


def test_a_reason_given_beforehand_is_kept_instead():
    allowing = said(GONE, although="only a rough look")
    allowing.appeared("")
    assert not allowing.waits
    assert allowing.note == f"{GONE.words}. Used nevertheless: only a rough look."


def test_what_was_confirmed_holds_for_that_standing_only():
    allowing = said(OVERDUE, OVERDUE, GONE, although="only a rough look")
    allowing.appeared("")
    allowing.appeared("")
    assert not allowing.waits
    allowing.appeared("")
    assert allowing.waits
    allowing.confirm()
    assert not allowing.waits


def test_the_screen_asks_until_it_is_confirmed_and_says_the_standing_beside_the_label():
    allowing = said(OVERDUE)
    allowing.appeared("")
    view = allowing.seen(at_rest("0.002", "in", way="leave it"), asks=True)
    assert headline(view).texts == ("CHECK GAUGE",)
    assert (view.keys, view.doubt) == (CONFIRM_KEYS, OVERDUE.words)
    foot = "".join(text for text, _ in rows_of(view, 80, 24)[-1])
    assert foot.rstrip().endswith("c use it  q quit")
    allowing.confirm()
    view = allowing.seen(at_rest("0.002", "in", way="leave it"), asks=True)
    assert headline(view).texts == ("LEAVE IT",)
    title = "".join(text for text, _ in rows_of(view, 72, 24)[0])
    assert title.startswith(" BENCH 3  ·  overdue since 2026-05-01  ")
    assert title.endswith("rack reference  ·  12.300 mm ")
    assert plain_line(view).endswith("overdue since 2026-05-01")


def test_where_nothing_is_captured_the_screen_says_it_and_asks_nothing():
    allowing = said(OVERDUE)
    allowing.appeared("")
    view = allowing.seen(at_rest("0.002", "in", way="leave it"), asks=False)
    assert (view.standing, view.doubt) == ("overdue since 2026-05-01", "")
    assert headline(view).texts == ("LEAVE IT",)


def test_a_doubt_about_the_reading_comes_first():
    allowing = said(OVERDUE)
    allowing.appeared("")
    assert (
        allowing.seen(bench_view("0.080", doubt="the unit key"), asks=True).doubt == "the unit key"
    )

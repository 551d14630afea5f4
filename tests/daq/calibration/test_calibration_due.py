"""Whether a gauge may be used on a day, and when it is due next: always from what is written."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daq.calibration.due import (
    SOON_DAYS,
    Calibrated,
    ReturnedToUse,
    Withdrawn,
    months_later,
    next_due,
    staircase,
    status_on,
)
from daq.calibration.errors import CalibrationError
from tests.daq.calibration.invented import gauge

FIRST = date(2026, 1, 31)
STAIRCASE = {
    "kind": "reactive", "months": 12, "least": 6, "most": 18, "longer_by": 4, "shorter_by": 5,
    "good_results": 2,
}  # fmt: skip


def calibrated(on=FIRST, as_found="pass", as_left="pass", **more):
    return Calibrated(on, f"C-{on:%Y%m}", as_found, as_left, **more)


def row(*found, policy=STAIRCASE):
    history = [calibrated(months_later(FIRST, 12 * n), each) for n, each in enumerate(found)]
    return gauge(interval=policy), history


@pytest.mark.parametrize(
    ("days", "standing", "is_usable"),
    [
        (-SOON_DAYS - 1, "in date", True),
        (-SOON_DAYS, "due", True),
        (0, "due", True),
        (1, "overdue", False),
        (400, "overdue", False),
    ],
)
def test_a_gauge_is_usable_until_the_day_it_is_due(days, standing, is_usable):
    due = date(2027, 1, 31)
    status = status_on(due + timedelta(days), gauge(), [calibrated()])
    assert (status.standing, status.is_usable, status.due) == (standing, is_usable, due)
    assert status.rests_on == calibrated()
    assert "C-202601 of 2026-01-31" in status.words


def test_the_words_say_how_long():
    words = [status_on(date(2027, 1, day), gauge(), [calibrated()]).words for day in (30, 31)]
    assert words[0] == "DI-7 is due on 2027-01-31, in 1 day (C-202601 of 2026-01-31)."
    assert words[1] == "DI-7 is due on 2027-01-31, today (C-202601 of 2026-01-31)."
    late = status_on(date(2027, 2, 2), gauge(), [calibrated()])
    assert late.words.startswith("DI-7 has been overdue since 2027-01-31, 2 days")


def test_a_gauge_without_a_calibration_is_not_usable():
    status = status_on(FIRST, gauge(), [])
    assert (status.standing, status.is_usable, status.due) == ("never calibrated", False, None)
    with pytest.raises(CalibrationError, match="never been calibrated"):
        next_due(gauge(), [], FIRST)


def test_nothing_dated_later_counts():
    later = [calibrated(), Withdrawn(date(2026, 6, 1), "dropped", "A. Fitter")]
    assert status_on(date(2026, 5, 31), gauge(), later).standing == "in date"
    assert status_on(date(2026, 1, 30), gauge(), later).standing == "never calibrated"
    assert status_on(date(2026, 6, 1), gauge(), later).standing == "withdrawn"


def test_a_withdrawn_gauge_stays_so_until_somebody_returns_it_and_a_calibration_does_not():
    history = [
        calibrated(),
        Withdrawn(date(2026, 6, 1), "dropped", "A. Fitter"),
        calibrated(date(2026, 6, 20)),
    ]
    status = status_on(date(2026, 7, 1), gauge(), history)
    assert status.words == "DI-7 was withdrawn on 2026-06-01 by A. Fitter: dropped"
    assert not status.is_usable
    history.append(ReturnedToUse(date(2026, 6, 21), "calibrated anew", "B. Metrologist"))
    assert status_on(date(2026, 7, 1), gauge(), history).standing == "in date"


@pytest.mark.parametrize(
    ("as_left", "words"),
    [
        ("fail", "did not pass (C-202601"),
        ("conditional fail", "did not pass (C-202601"),
        ("not judged", "could not be judged (C-202601"),
    ],
)
def test_a_gauge_that_did_not_pass_is_withdrawn_by_that_alone(as_left, words):
    status = status_on(date(2026, 2, 1), gauge(), [calibrated(as_left=as_left)])
    assert (status.standing, status.is_usable) == ("withdrawn", False)
    assert words in status.words


def test_a_gauge_that_was_found_out_and_set_right_is_in_date():
    status = status_on(date(2026, 2, 1), gauge(), [calibrated(as_found="fail")])
    assert status.standing == "in date"


@pytest.mark.parametrize(
    ("ends", "words"),
    [
        ({"to_mm": Decimal("5.0")}, "good up to 5 mm only"),
        ({"from_mm": Decimal(2)}, "good from 2 mm only"),
        ({"from_mm": Decimal(2), "to_mm": Decimal(8)}, "good from 2 mm to 8 mm only"),
    ],
)
def test_a_limited_range_is_said_and_goes_out_of_date_like_any_other(ends, words):
    history = [calibrated(**ends)]
    status = status_on(date(2026, 6, 1), gauge(), history)
    assert (status.standing, status.is_usable, status.is_due_soon) == ("limited range", True, False)
    assert words in status.words
    assert (status.from_mm, status.to_mm) == (ends.get("from_mm"), ends.get("to_mm"))
    assert status_on(date(2027, 1, 20), gauge(), history).is_due_soon
    assert status_on(date(2027, 2, 1), gauge(), history).standing == "overdue"


def test_a_day_that_was_set_comes_before_the_policy_s():
    history = [calibrated(due=date(2026, 3, 1))]
    proposal = next_due(gauge(), history, date(2026, 2, 1))
    assert proposal.due == date(2026, 3, 1)
    assert "was set at the calibration" in proposal.words
    assert status_on(date(2026, 3, 2), gauge(), history).standing == "overdue"


def test_the_newest_calibration_counts_in_whatever_order_they_come():
    history = [calibrated(date(2027, 5, 1)), calibrated()]
    assert next_due(gauge(), history, date(2027, 6, 1)).due == date(2028, 5, 1)


@pytest.mark.parametrize(
    ("found", "months", "words", "rests_on"),
    [
        (["pass"], 12, "12 months to begin with", [0]),
        (["fail"], 12, "12 months to begin with", [0]),
        (["pass", "pass"], 12, "found within its limits 1 of 2 times", [1]),
        (["pass", "pass", "conditional pass"], 16, "16 months, up from 12", [1, 2]),
        (["pass"] * 5, 18, "18 months, up from 16", [3, 4]),
        (["pass"] * 7, 18, "18 months, no further", [5, 6]),
        (["pass", "fail"], 7, "7 months, down from 12", [1]),
        (["pass", "fail", "conditional fail"], 6, "6 months, down from 7", [2]),
        (["pass", "fail", "fail", "fail"], 6, "6 months, no further", [3]),
        (["pass", "pass", "fail", "pass"], 7, "1 of 2 times", [3]),
        (["pass", "pass", None, "pass"], 12, "1 of 2 times", [3]),
        (["pass", "pass", None], 12, "nothing was judged as found", [2]),
        (["pass", "pass", "not judged"], 12, "nothing was judged as found", [2]),
    ],
)
def test_the_staircase_goes_up_slowly_and_down_at_once(found, months, words, rests_on):
    device, history = row(*found)
    proposal = next_due(device, history, date(2040, 1, 1))
    assert proposal.months == months
    assert words in proposal.words
    assert proposal.rests_on == tuple(history[n] for n in rests_on)
    assert proposal.due == months_later(history[-1].on, months)


FOUND = st.lists(st.sampled_from(["pass", "fail", None]), min_size=1, max_size=12)


@given(FOUND)
def test_the_staircase_never_leaves_its_bounds_and_a_bad_result_never_lengthens_it(found):
    device, history = row(*found)
    steps = [staircase(device.interval, history[: n + 1])[0] for n in range(len(history))]
    assert all(6 <= each <= 18 for each in steps)
    for before, after, result in zip(steps, steps[1:], found[1:], strict=False):
        assert after <= before or result == "pass"
        assert after < before or before == 6 or result != "fail"


def test_a_reliability_target_keeps_its_first_interval_until_the_fleet_says_otherwise():
    policy = {"kind": "reliability", "months": 9, "least": 3, "most": 24, "reliability": 90}
    proposal = next_due(gauge(interval=policy), [calibrated()], date(2026, 2, 1))
    assert proposal.due == date(2026, 10, 31)
    assert "until the history of the fleet shows" in proposal.words


@pytest.mark.parametrize(
    ("day", "months", "later"),
    [
        ("2026-01-31", 1, "2026-02-28"),
        ("2027-01-31", 13, "2028-02-29"),
        ("2026-12-01", 12, "2027-12-01"),
        ("2026-08-31", 6, "2027-02-28"),
    ],
)
def test_months_end_where_the_month_does(day, months, later):
    assert months_later(date.fromisoformat(day), months) == date.fromisoformat(later)

"""The reliability target: which intervals count, how many are enough, and what is proposed."""

from datetime import date, timedelta

import pytest

from daq.calibration.due import Calibrated, months_later
from daq.calibration.fleet import fleet_of
from daq.calibration.policy import ReliabilityTarget
from daq.calibration.reliability import IntervalRun, enough, months_by_reliability
from daq.logbook import Logbook
from tests.daq.calibration.fleet.records import calibration, gauge_entry

POLICY = {"kind": "reliability", "months": 12, "least": 3, "most": 24, "reliability": 90}
FIRST = date(2020, 1, 15)


def target(**changes):
    return ReliabilityTarget.model_validate(POLICY | changes)


def runs(within, out, months=12.0, until=date(2025, 1, 15), gauges=10, name="G"):
    """Intervals of one length, spread over gauges."""
    return [
        IntervalRun(f"{name}{place % gauges}", until, months, place < within)
        for place in range(within + out)
    ]


@pytest.mark.parametrize(
    ("reliability", "confidence", "n"),
    # The least n with (α/2)^(1/n) ≥ target: ln 0.025 / ln 0.9 = 35.01, ln 0.05 / ln 0.9 = 28.43,
    # ln 0.025 / ln 0.95 = 71.9.
    [(90, 95, 36), (90, 90, 29), (95, 95, 72)],
)
def test_enough_intervals_are_those_that_could_show_more_than_the_target(
    reliability, confidence, n
):
    assert enough(target(reliability=reliability, confidence=confidence)) == n


def test_the_policy_holds_until_there_are_enough():
    months, words = months_by_reliability(target(), runs(35, 0))
    assert months == 12
    assert "until the history of the fleet shows more: so far 35 of 35 intervals" in words
    assert "It takes 36 intervals of one length." in words
    # With one more they speak: 12 · ln 0.9 / ln 0.9026 = 12.3, which is no whole month more.
    months, words = months_by_reliability(target(months=6), runs(36, 0))
    assert months == 12
    assert words.startswith("12 months (kept, it comes to no whole month more): 36 of 36 intervals")


def test_a_fleet_that_is_better_than_its_target_goes_longer_by_the_lower_end():
    # 100 of 100: the lower end is 0.025^(1/100) = 0.963783, and 12 · ln 0.9 / ln 0.963783 = 34.27;
    # 96 of 97 gives 0.943901 (Clopper and Pearson), and 12 · ln 0.9 / ln 0.943901 = 21.9.
    months, words = months_by_reliability(target(), runs(100, 0))
    assert (months, "(lengthened, held at its bound)" in words) == (24, True)
    assert "100.0 % (exact 95 % interval 96.4 % to 100.0 %); 90 % are asked for" in words
    months, words = months_by_reliability(target(), runs(96, 1))
    assert (months, "(lengthened)" in words) == (21, True)


def test_a_fleet_that_is_worse_goes_shorter_even_where_there_are_few():
    # 4 of 10: the upper end is 0.7376 (Clopper and Pearson), below 0.9; the share of 0.4 gives
    # 12 · ln 0.9 / ln 0.4 = 1.38 months, which is held at the least.
    months, words = months_by_reliability(target(), runs(4, 6))
    assert (months, "(shortened, held at its bound)" in words) == (3, True)
    months, words = months_by_reliability(target(), runs(75, 25))  # 12 · 0.10536 / 0.28768 = 4.39
    assert (months, "(shortened)" in words) == (4, True)
    assert months_by_reliability(target(), runs(0, 9))[0] == 3


def test_what_cannot_be_told_from_the_target_keeps_the_interval_that_was_run():
    months, words = months_by_reliability(target(), runs(45, 5, months=17.6))
    assert months == 18
    assert "(kept, the data cannot tell it from the target): 45 of 50" in words


def test_one_gauge_that_came_in_early_moves_nothing():
    early = IntervalRun("G0", date(2025, 6, 1), 2.0, True)
    alone = months_by_reliability(target(), [*runs(96, 1), early])
    assert alone == months_by_reliability(target(), runs(96, 1))
    # Nor do two that were dropped: by themselves, none of two would shorten it.
    dropped = [IntervalRun(f"G{n}", date(2025, 6, 1), 2.0, False) for n in range(2)]
    assert months_by_reliability(target(), [*runs(96, 1), *dropped])[0] == 21
    assert months_by_reliability(target(), dropped)[0] == 3


def test_too_few_intervals_of_a_new_length_leave_the_decision_to_those_before():
    before, new = runs(96, 1), runs(10, 0, months=21, until=date(2027, 1, 1))
    assert months_by_reliability(target(), before + new)[0] == 21
    # But they are heard where they show that it has become too long.
    assert months_by_reliability(target(), before + runs(2, 8, 21, date(2027, 1, 1)))[0] == 3


@pytest.fixture
def fleet(tmp_path):
    """Four gauges alike, each calibrated every 365 days ten times, the last four found out once."""

    def entries():
        for number in range(4):
            entry = gauge_entry(FIRST, label=f"DI-{number}", identity=None, interval=POLICY)
            yield entry
            for year in range(11):
                day = FIRST + timedelta(days=365 * year)
                found = None if year == 0 else "fail" if (year, number) == (5, 2) else "pass"
                yield from calibration(day, entry, found, "pass")
        limits = {"source": "own rule", "over_range": "0.020 mm"}
        other = gauge_entry(FIRST, label="DI-X", identity=None, limits=limits, interval=POLICY)
        yield other
        for year in range(11):
            day = FIRST + timedelta(days=365 * year)
            yield from calibration(day, other, "fail", "pass")

    with Logbook.open(tmp_path / "lab.logbook") as book:
        book.append_many(entries())
        return fleet_of(book)


NOW = date(2031, 1, 1)


def test_the_proposal_rests_on_gauges_that_are_alike_and_on_no_others(fleet):
    intervals = fleet.intervals_like("DI-0", NOW)
    assert len(intervals) == 40
    assert sum(each.is_within for each in intervals) == 39
    assert {each.label for each in intervals} == {"DI-0", "DI-1", "DI-2", "DI-3"}
    assert {round(each.months, 4) for each in intervals} == {round(365 / 365.25 * 12, 4)}
    proposal = fleet.next_due("DI-0", NOW)
    # 39 of 40: the exact 95 % interval is 0.8684 to 0.9994 (Clopper and Pearson).
    assert "39 of 40 intervals of about 12.0 months, of 4 gauges like it" in proposal.words
    assert "97.5 % (exact 95 % interval 86.8 % to 99.9 %); 90 % are asked for" in proposal.words
    assert (proposal.months, proposal.due) == (12, months_later(FIRST + timedelta(3650), 12))
    # The others have been out every time.
    assert fleet.next_due("DI-X", NOW).months == 3


def test_the_clopper_pearson_ends_in_these_tests_are_those_of_another_library():
    stats = pytest.importorskip("scipy.stats")
    for within, trials, low, high in (
        (39, 40, 0.8684, 0.9994), (4, 10, 0.1216, 0.7376), (96, 97, 0.9439, 0.9997),
    ):  # fmt: skip
        ends = stats.binomtest(within, trials).proportion_ci(0.95, "exact")
        assert (ends.low, ends.high) == pytest.approx((low, high), abs=6e-5)


def test_nothing_dated_later_counts(fleet):
    early = fleet.intervals_like("DI-0", FIRST + timedelta(days=400))
    assert len(early) == 4
    assert "It takes 36" in fleet.next_due("DI-0", FIRST + timedelta(days=400)).words


def test_a_calibration_that_is_not_kept_yet_counts_for_its_own_gauge(fleet):
    day = NOW + timedelta(days=14)
    as_if = Calibrated(day, "C-new", "fail", "pass")
    assert len(fleet.intervals_like("DI-0", day, as_if)) == 41
    proposal = fleet.next_due("DI-0", day, as_if)
    assert "39 of 41 intervals" in proposal.words
    assert proposal.due == months_later(day, 12)


def test_an_interval_counts_only_if_the_gauge_went_out_good_and_was_judged_as_found(tmp_path):
    entry = gauge_entry(FIRST, interval=POLICY)
    days = [FIRST + timedelta(days=300 * n) for n in range(6)]
    outcomes = [
        (None, "pass"),
        ("pass", "fail"),  # counts: found within
        ("fail", "pass"),  # does not: it had not gone out good
        (None, "pass"),  # does not: nobody knows how it was found
        ("not judged", "pass"),  # nor here
        ("conditional fail", "pass"),  # counts: found out
    ]
    with Logbook.open(tmp_path / "lab.logbook") as book:
        book.append(entry)
        for day, (found, left) in zip(days, outcomes, strict=True):
            book.append_many(calibration(day, entry, found, left))
        intervals = fleet_of(book).intervals_like("DI-7", days[-1])
    assert [(each.until, each.is_within) for each in intervals] == [
        (days[1], True), (days[5], False),
    ]  # fmt: skip

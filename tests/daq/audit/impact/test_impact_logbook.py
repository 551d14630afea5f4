"""Impact from a bench's own logbook: a gauge that is calibrated, used, and calibrated again."""

from datetime import timedelta
from decimal import Decimal

import numpy as np
import pytest

from daq.audit.impact import GROUPS
from daq.audit.impact.from_logbook import impact_in
from daq.calibration.errors import RegisterError
from daq.logbook import Logbook, Note, new_uid
from daq.logbook.job import JobBegun, JobGauge, JobPoint
from tests.daq.audit.impact.bench import BETWEEN, FIRST, SECOND, WHO, calibration, work
from tests.daq.calibration.fleet.test_fleet import Newer


@pytest.fixture
def keep(tmp_path):
    """Keeps records in a logbook, and opens it to be read."""

    def kept(*records):
        path = tmp_path / "lab.logbook"
        with Logbook.open(path, at=FIRST) as book:
            book.append_many(records)
        return Logbook.read(path)

    return kept


def groups(impact):
    return [GROUPS[group] for each in impact.touched for group in each.group]


# The gauge reads too long by about 0.030·sin(5/3) + half the hysteresis of 0.002 at 5 mm.
ERROR_AT_5 = 0.030 * np.sin(5 / 3) + 0.001


def test_a_capture_since_the_last_good_calibration_turns_over(keep, story):
    good, bad = story
    with keep(*good, work("5.000", ("4.980", "5.010")), *bad) as book:
        impact = impact_in(book)
    (only,) = impact.touched
    assert groups(impact) == ["flips"]
    assert only.error_mm[0] == pytest.approx(ERROR_AT_5, abs=0.0012)  # the display's step
    assert (only.period.what, only.period.gauge) == ("found", "DI-7")
    assert only.captures.document[0] == "setting sheet 4"
    assert only.captures.feature[0] == "protrusion"
    assert only.corrected_u_mm[0] > only.captures.u_mm[0]


def test_captures_before_and_after_are_left_alone_and_so_is_the_calibration_itself(keep, story):
    good, bad = story
    early = work("5.000", ("4.980", "5.010"), at=FIRST - timedelta(days=1))
    late = work("5.000", ("4.980", "5.010"), at=SECOND + timedelta(days=1))
    with keep(early, *good, *bad, late) as book:
        assert groups(impact_in(book)) == []


def test_a_gauge_that_was_good_both_times_touched_nothing(keep):
    records = [
        *calibration(FIRST, 0.001), work("5.000", ("4.980", "5.010")),
        *calibration(SECOND, 0.001),
    ]  # fmt: skip
    with keep(*records) as book:
        assert impact_in(book).touched == ()


def test_a_gauge_that_is_used_on_without_being_adjusted_stays_in_doubt(keep):
    records = [
        *calibration(FIRST, 0.001), *calibration(SECOND, 0.030),
        work("5.000", ("4.980", "5.010"), at=SECOND + timedelta(days=1)),
    ]  # fmt: skip
    with keep(*records) as book:
        impact = impact_in(book)
    assert [each.period.what for each in impact.touched] == ["found", "left"]
    assert groups(impact) == ["flips"]


def changed(records, kind, **changes):
    """The records with figures of those of one kind changed."""
    return [each.model_copy(update=changes) if each.kind == kind else each for each in records]


def test_the_decision_counts_and_where_there_is_none_the_permissible_error(keep, story):
    good, bad = story
    passed = changed(bad, "calibration end", as_found="pass")
    with keep(*good, *passed) as book:
        assert impact_in(book).touched == ()


@pytest.mark.parametrize(
    ("zero", "over_range_mm", "periods"),
    [("fixed", "0.032", 0), ("fixed", "0.030", 1), ("floating", "0.032", 1)],
)
def test_where_nothing_was_decided_the_permissible_error_says_it(
    keep, story, zero, over_range_mm, periods
):
    # Mean errors between −0.005 mm and +0.031 mm: a spread of 0.036 mm.
    good, bad = story
    limits = next(each.limits for each in bad if each.kind == "gauge")
    limits = limits.model_copy(update={"zero": zero, "over_range_mm": Decimal(over_range_mm)})
    unjudged = changed(bad, "calibration end", as_found="not judged", as_left="pass")
    with keep(*good, *changed(unjudged, "gauge", limits=limits)) as book:
        assert len(impact_in(book).touched) == periods


def test_in_time_half_way_the_error_is_half(keep, story):
    good, bad = story
    middle = FIRST + (SECOND - FIRST) / 2
    with keep(*good, work("5.000", at=middle), *bad) as book:
        whole, half = (impact_in(book, in_time=each).touched[0] for each in (False, True))
    at_first = 0.001 * np.sin(5 / 3) + 0.001
    assert half.error_mm[0] == pytest.approx((whole.error_mm[0] + at_first) / 2, abs=0.0006)


def test_another_gauges_work_is_not_touched(keep, story):
    good, bad = story
    other = work("5.000", ("4.980", "5.010"), label="DI-8", identity="ADAPTER-8")
    with keep(*good, other, *bad) as book:
        assert groups(impact_in(book)) == []


def test_a_gauge_without_a_label_is_known_by_its_adapter(keep, story):
    good, bad = story
    unnamed = work("5.000", ("4.980", "5.010"), label="")
    with keep(*good, unnamed, *bad) as book:
        assert groups(impact_in(book)) == ["flips"]


def test_a_capture_that_was_taken_back_does_not_count(keep, story):
    good, bad = story
    slip = work("5.000", ("4.980", "5.010"))
    note = Note(
        uid=new_uid(), at=BETWEEN, operator=WHO, purpose="withdrawal", about=slip.uid, text="a slip"
    )
    with keep(*good, slip, note, *bad) as book:
        assert groups(impact_in(book)) == []


def test_a_capture_of_a_job_is_told_with_its_engine_and_step(keep, story):
    good, bad = story
    capture = work("5.000", ("4.980", "5.010"))
    gauge = JobGauge(
        role="depth", label="DI-7", profile="decimal-line", identity="ADAPTER-7",
        resolution_mm=Decimal("0.001"), calibration="",
    )  # fmt: skip
    job = JobBegun(
        uid=new_uid(), at=BETWEEN, station="bench", operator=WHO, engine="E-204",
        sheet_title="Pump rack", sheet_revision="1", sheet_sha256="0" * 64, sheet_toml="-",
        variant="standard", gauges=(gauge,),
    )  # fmt: skip
    point = JobPoint(
        uid=new_uid(), at=BETWEEN, operator=WHO, job=job.uid, step="protrusion", target="pump 3",
        phase="as left", master=None, capture=capture.uid, position="", angle_deg=None, group="",
        words="",
    )  # fmt: skip
    with keep(*good, job, capture, point, *bad) as book:
        (only,) = impact_in(book).touched
    assert only.captures.job[0] == "E-204, Pump rack"
    assert only.captures.feature[0] == "protrusion: pump 3"


def test_one_gauge_may_be_asked_for_and_an_unknown_one_is_refused(keep, story):
    good, bad = story
    with keep(*good, work("5.000", ("4.980", "5.010")), *bad) as book:
        assert groups(impact_in(book, "DI-7")) == ["flips"]
        with pytest.raises(RegisterError, match="There is no gauge 'DI-9'"):
            impact_in(book, "DI-9")


@pytest.mark.parametrize("kind", ["capture", "calibration result", "calibration end"])
def test_a_record_that_cannot_be_read_leaves_the_answer_open(keep, story, kind):
    good, bad = story
    newer = Newer(kind=kind, format=99, at="2027-02-01")
    with keep(*good, newer, *bad) as book:
        impact = impact_in(book)
    assert not impact.is_whole
    assert any("cannot be read" in each for each in impact.remarks)

"""A job and the calibration of its gauges: may they serve, where, and what do they err."""

from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daq.jobs.answers import captured, excepted, gauge_used
from daq.jobs.calibrated import is_changed, why_out_of_range
from daq.jobs.recipes import Body, GaugeTable, TablePoint, Temperature, Tilt, reading_for
from daq.jobs.sheet import SheetError, sheet_from_bytes
from daq.jobs.tasks import next_task
from daq.logbook.job import JobException, JobGaugeUsed, JobResult
from daq.logbook.records import body_of, record_from
from tests.daq.jobs.fitter import Engine, Fitter, calibration, capture
from tests.daq.jobs.test_job import SHEET

DEPTH = SHEET.replace(b'role = "rack"\nkind = "indicator"', b'role = "rack"\nkind = "depth gauge"')
DEPTH = DEPTH.replace(b'range = "10 mm"', b'range = "50 mm"')
CORRECTED = DEPTH.replace(
    b'range = "50 mm"\nu = "0.002 mm"', b'range = "50 mm"\nu = "0.002 mm"\ncorrect = true'
)
TABLE = (("0", "0", "0.0004"), ("42", "0.020", "0.0005"), ("43", "0.060", "0.0005"))
"""Invented, and far worse than any gauge: 0.04 mm on the last millimetre."""


def error_mm(length_mm):
    """The errors of TABLE, straight lines between."""
    if length_mm < 42:
        return 0.020 * length_mm / 42
    return 0.020 + 0.040 * (length_mm - 42)


class WithError(Engine):
    """An engine read by a depth gauge whose zero key was pressed anywhere, and that errs."""

    def reads_mm(self, planned, task):
        reads = super().reads_mm(planned, task)
        if planned.role.role != "rack":
            return reads
        master = float(planned.step.master.mm)
        at = master if task.master is not None else self.length_mm(planned, task.target)
        return reads + error_mm(at)


@pytest.fixture(scope="module")
def sheet():
    return sheet_from_bytes(SHEET, "two.toml")


@pytest.fixture(scope="module")
def depth():
    return sheet_from_bytes(DEPTH, "two.toml")


@pytest.fixture(scope="module")
def corrected():
    return sheet_from_bytes(CORRECTED, "two.toml")


def with_gauges(sheet, *known, engine=None):
    """A fitter whose gauges stand so: (role, standing, usable) or (role, more)."""
    fitter = Fitter(sheet, engine)
    fitter.records += [calibration(fitter.begun, role, **more) for role, more in known]
    return fitter


def until(fitter, wanted):
    """Work until a task is wanted, and give it."""
    for _ in range(200):
        task = next_task(fitter.stands(), fitter.captures)
        assert task is not None, "the job has ended before"
        if wanted(task):
            return task
        fitter.step()
    raise AssertionError("it never came")


# May it serve.


def test_where_nothing_is_known_of_a_gauge_nothing_is_asked(sheet):
    fitter = Fitter(sheet).work()
    assert not [task for task in fitter.tasks if task.kind == "decide"]


@pytest.mark.parametrize("standing", ["in date", "due", "limited range"])
def test_a_gauge_that_may_serve_is_not_asked_about(sheet, standing):
    fitter = with_gauges(sheet, ("rack", {"standing": standing})).work()
    assert not [task for task in fitter.tasks if task.kind == "decide"]
    (mount,) = [task for task in fitter.tasks if task.gate == "step" and task.step == "height"]
    said = f"gauge rack is {standing}." in mount.more
    assert said == (standing != "in date")


@pytest.mark.parametrize(
    "standing", ["overdue", "withdrawn", "never calibrated", "not in the register"]
)
def test_a_gauge_that_may_not_serve_is_asked_about_once_before_it_measures(sheet, standing):
    fitter = with_gauges(sheet, ("rack", {"standing": standing, "usable": False})).work()
    (asked,) = [task for task in fitter.tasks if task.kind == "decide"]
    before = fitter.tasks[: fitter.tasks.index(asked)]
    assert not [task for task in before if task.step == "height"]
    assert f"gauge rack is {standing}. " in asked.words
    assert "reason and a name" in asked.words
    (used,) = [each for each in fitter.records if isinstance(each, JobGaugeUsed)]
    assert (used.role, used.standing, used.reason, used.by, used.asked) == (
        "rack", standing, "no other is here", "B. Lund", asked.words,
    )  # fmt: skip
    (mount,) = [task for task in fitter.tasks if task.gate == "step" and task.step == "height"]
    assert "It is used nevertheless: no other is here (B. Lund)." in mount.more


def test_until_somebody_answers_for_it_nothing_goes_on(sheet):
    fitter = with_gauges(sheet, ("rack", {"standing": "overdue", "usable": False}))
    asked = until(fitter, lambda task: task.kind == "decide")
    assert next_task(fitter.stands(), fitter.captures) == asked
    fitter.records.append(
        excepted(fitter.stands(), "height", asked.target, "skipped", "later", fitter.stamp())
    )
    again = next_task(fitter.stands(), fitter.captures)
    assert again.gauge == asked.gauge
    assert again.target != asked.target


def test_each_role_is_answered_for_on_its_own(sheet):
    overdue = {"standing": "overdue", "usable": False}
    fitter = with_gauges(sheet, ("rack", overdue), ("rocker", overdue)).work()
    asked = [task.gauge.role for task in fitter.tasks if task.kind == "decide"]
    assert asked == ["rack", "rocker"]


def test_an_answer_holds_for_what_was_known_then_and_not_for_worse(sheet):
    fitter = with_gauges(sheet, ("rack", {"standing": "overdue", "usable": False}))
    until(fitter, lambda task: task.kind == "measure")
    fitter.records.append(calibration(fitter.begun, "rack", "withdrawn", False))
    asked = next_task(fitter.stands(), fitter.captures)
    assert (asked.kind, asked.gauge.standing) == ("decide", "withdrawn")
    fitter.records.append(calibration(fitter.begun, "rack"))
    assert next_task(fitter.stands(), fitter.captures).kind == "measure"


def test_another_day_is_no_news_and_another_standing_is(sheet):
    fitter = Fitter(sheet)
    was = calibration(fitter.begun, "rack", "due", words="due in 9 days", due=date(2026, 3, 11))
    later = calibration(fitter.begun, "rack", "due", words="due in 8 days", due=date(2026, 3, 11))
    assert is_changed(None, was)
    assert not is_changed(was, later)
    for field, value in (
        ("standing", "overdue"), ("usable", False), ("due", date(2027, 3, 11)),
        ("from_mm", Decimal(1)), ("certificate", "C-13"), ("label", "another"),
    ):  # fmt: skip
        assert is_changed(was, later.model_copy(update={field: value})), field


def test_a_gauge_worse_than_the_sheet_allows_is_spoken_of(sheet):
    def said(worst_mm):
        known = ("rack", {"worst_mm": Decimal(worst_mm)})
        fitter = with_gauges(sheet, known)
        return until(fitter, lambda task: task.gate == "step").more[-1]

    # u = 0.002 mm on the sheet; a bound of 0.0035 mm is 0.00202 mm over the square root of 3.
    assert "may read up to 0.0035 mm wrong" in said("0.0035")
    assert "wrong" not in said("0.0034")


def test_the_records_come_back_from_their_own_text(sheet):
    known = {"standing": "overdue", "usable": False, "table": TABLE, "due": date(2026, 1, 2)}
    fitter = with_gauges(sheet, ("rack", {**known, "from_mm": Decimal("1.0")})).work()
    for record in fitter.records:
        assert record_from(body_of(record).decode()) == record


# A limited range.


def range_of(sheet, low, high):
    known = {"from_mm": low and Decimal(low), "to_mm": high and Decimal(high)}
    return with_gauges(sheet, ("rack", {"standing": "limited range", **known}))


def test_a_value_outside_the_range_of_the_gauge_makes_no_result(sheet):
    fitter = range_of(sheet, None, "1.300")
    task = until(fitter, lambda task: task.kind == "measure" and task.master is None)
    value = capture(1.334, 500)
    point, again = captured(fitter.stands(), task, value, fitter.captures, fitter.stamp())
    assert isinstance(again, JobException)
    assert (point.capture, again.what) == (value.uid, "again")
    assert "gauge rack stands at 1.334 mm" in again.reason
    assert "good up to 1.3 mm only" in again.reason
    *_, good = captured(fitter.stands(), task, capture(1.3, 501), fitter.captures, fitter.stamp())
    assert isinstance(good, JobResult)


def test_an_indicator_is_told_by_its_display_and_a_depth_gauge_by_its_depth(sheet, depth):
    for each, at_mm in ((sheet, None), (depth, Decimal("41.100"))):
        fitter = range_of(each, "40", "42.55")
        until(fitter, lambda task: task.kind == "measure" and task.master is None)
        step = fitter.stands().steps["height"]
        # The master of 42.500 mm was read as 1.234 mm: the zero key was pressed elsewhere.
        assert step.mastered.value == Decimal("1.234")
        assert bool(why_out_of_range(step, False, Decimal("1.284"))) == (at_mm is None)
        assert bool(why_out_of_range(step, False, Decimal("1.285"))) is True
        assert bool(why_out_of_range(step, True, Decimal("1.234"))) == (at_mm is None)


# Corrected by the calibration.


def off_by(off_mm):
    """An engine whose first injector is so far off its nominal of 42.600 mm."""
    engine = WithError()
    engine._length_mm["height", "injector 1"] = 42.6 + off_mm
    return engine


def found(fitter, target="injector 1"):
    return fitter.stands().target("height", target).as_found


def test_what_a_depth_gauge_errs_is_taken_off_as_from_its_master(corrected):
    engine = off_by(0.13)
    fitter = with_gauges(corrected, ("rack", {"table": TABLE}), engine=engine)
    until(fitter, lambda task: found(fitter) is not None)
    result, true_mm = found(fitter), engine._length_mm["height", "injector 1"]
    read_mm = Decimal("42.500") + fitter.captures[result.captures[0]].value_mm
    read_mm -= fitter.stands().steps["height"].masters[0].value
    wrong_mm = error_mm(true_mm) - error_mm(42.5)
    assert wrong_mm == pytest.approx(0.0092)  # 0.23 mm from the master, 0.04 mm a millimetre
    assert float(result.value) == pytest.approx(true_mm, abs=0.0012)
    (applied,) = [each for each in result.corrections if each.name == "gauge calibration"]
    assert float(applied.amount) == pytest.approx(float(result.value - read_mm), abs=2e-6)
    # The table is entered with what the gauge reads, 0.0092 mm further up its 4 % slope.
    assert float(applied.amount) == pytest.approx(-wrong_mm * 1.04, abs=1e-5)
    assert "certificate C-12, 3 points" in applied.why
    names = [each.name for each in result.components]
    assert names.count("gauge calibration") == 1
    assert "gauge and mounting, the most that the sheet allows" in names


def test_the_same_gauge_uncorrected_is_wrong(depth):
    engine = off_by(0.13)
    fitter = with_gauges(depth, ("rack", {"table": TABLE}), engine=engine)
    until(fitter, lambda task: found(fitter) is not None)
    assert float(found(fitter).value) - 42.73 == pytest.approx(0.0092, abs=0.0011)


def test_zero_on_the_screen_is_zero_when_it_is_corrected(corrected):
    fitter = with_gauges(corrected, ("rack", {"table": TABLE}), engine=off_by(0.13))
    task = until(fitter, lambda task: task.kind == "adjust")
    # 42.600 errs 0.044 mm and the master at 42.500 0.040 mm: the display must show 0.004 mm more
    # than the master's 1.274 mm and the 0.100 mm between them.
    assert task.spec.nominal_mm == pytest.approx(Decimal("1.378"), abs=Decimal("0.0003"))
    at_zero = capture(float(task.spec.nominal_mm), 600)
    *_, result = captured(fitter.stands(), task, at_zero, fitter.captures, fitter.stamp())
    assert result.deviation == pytest.approx(Decimal(0), abs=Decimal("0.0006"))
    assert result.verdict.outcome == "in"


@pytest.mark.parametrize(
    ("known", "words"),
    [
        (None, "has no register of gauges"),
        ({}, "there is no correction table of it"),
        ({"table": TABLE[:2]}, "is outside the gauge's calibration"),
        ({"table": (*TABLE[:2], ("42.55", "0", "0"))}, "is outside the gauge's calibration"),
        ({"table": (("42.55", "0", "0"), ("43", "0", "0"))}, "is outside the gauge's calibration"),
        ({"table": TABLE[::-1]}, "at rising lengths"),
    ],
)
def test_nothing_is_measured_that_could_not_be_corrected(corrected, known, words):
    """No register, no table, a table short of master and aim, of the aim, of the master, none."""
    gauges = [] if known is None else [("rack", known)]
    fitter = with_gauges(corrected, *gauges)
    asked = until(fitter, lambda task: task.step == "height")
    assert (asked.kind, asked.gauge) == ("decide", None)
    assert words in asked.words
    fitter.records.append(
        excepted(fitter.stands(), "height", asked.target, "skipped", "no table", fitter.stamp())
    )
    assert next_task(fitter.stands(), fitter.captures).target == "injector 2"


def test_a_value_outside_the_table_is_refused_with_the_range(corrected):
    table = (*TABLE[:2], ("42.62", "0.040", "0.0005"))
    fitter = with_gauges(corrected, ("rack", {"table": table}))
    task = until(fitter, lambda task: task.kind == "measure" and task.master is None)
    value = capture(1.234 + 0.130, 500)
    _, again = captured(fitter.stands(), task, value, fitter.captures, fitter.stamp())
    assert isinstance(again, JobException)
    assert "42.630 mm is outside its range of 0.000 mm to 42.620 mm" in again.reason


def test_a_gauge_out_of_date_still_corrects_if_somebody_answers_for_it(corrected):
    known = {"standing": "overdue", "usable": False, "table": TABLE}
    fitter = with_gauges(corrected, ("rack", known), engine=off_by(0.13))
    task = until(fitter, lambda task: task.kind == "decide")
    fitter.records.append(gauge_used(fitter.stands(), task, "urgent", fitter.stamp()))
    until(fitter, lambda task: found(fitter) is not None)
    assert "gauge calibration" in [each.name for each in found(fitter).corrections]
    (used,) = fitter.stands().gauges_used
    assert used.by == used.operator  # nobody else was named


SET = b'exercise = 2\nlock = true\nlock_shift = "0.02 mm"\n'
SET += b'[steps.adjuster]\nthread = "M8x1"\nclockwise = "raises"\n'
AT_POINTS = CORRECTED.replace(SET, b"").replace(
    b'recipe = "length"', b'recipe = "points"\npoints = ["left", "right"]'
)


def test_the_mean_of_points_is_corrected_or_not_measured():
    sheet = sheet_from_bytes(AT_POINTS, "two.toml")
    fitter = with_gauges(sheet, ("rack", {"table": TABLE}), engine=off_by(0.04))
    until(fitter, lambda task: found(fitter) is not None)
    assert float(found(fitter).value) == pytest.approx(42.64, abs=0.0011)
    assert "gauge calibration" in [each.name for each in found(fitter).corrections]
    short = (*TABLE[:2], ("42.55", "0.042", "0.0005"))
    fitter = with_gauges(sheet, ("rack", {"table": short}))
    assert "its table does not serve" in until(fitter, lambda task: task.step == "height").words


# The sheet.


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        (b'kind = "depth gauge"', b'kind = "indicator"', "gauges.1.correct: the gauge is of the"),
        (b'kind = "depth gauge"', b'kind = "probe"', "gauges.1.correct: the gauge is of the kind"),
        (b'gauge = "rocker"', b'gauge = "rack"', 'steps.2.gauge: "rack" has correct = true'),
        (
            b'master = "42.500 mm"\nmaster_limit = "0.005 mm"\n',
            b"",
            'steps.1.master: is missing; "rack" has correct = true',
        ),
        (b"correct = true", b'correct = "yes"', "gauges.1.correct: "),
    ],
)
def test_a_sheet_that_asks_for_what_cannot_be_known_is_refused(old, new, words):
    assert old in CORRECTED
    with pytest.raises(SheetError) as refused:
        sheet_from_bytes(CORRECTED.replace(old, new), "two.toml")
    assert words in str(refused.value)
    assert len(refused.value.problems) == 1


@given(
    value=st.floats(1.0, 40.0),
    tilt=st.floats(0, 30),
    errors=st.lists(st.floats(-0.1, 0.1), min_size=3, max_size=8),
)
def test_the_reading_for_a_value_is_the_one_that_corrected_gives_it(value, tilt, errors):
    lengths = [-20.0 + 100.0 * n / (len(errors) - 1) for n in range(len(errors))]
    points = tuple(TablePoint(at, error, 0.0) for at, error in zip(lengths, errors, strict=True))
    corrections = [
        GaugeTable(points, "invented", mastered_mm=20.0),
        Tilt(tilt, 1.0, 20.0),
        Temperature(Body(22.0, 0, 11.5e-6, 0), Body(40.0, 0, 20e-6, 0)),
    ]
    reading = reading_for(value, corrections)
    for each in corrections:
        reading = each.correct(reading)
    assert reading == pytest.approx(value, abs=1e-7)

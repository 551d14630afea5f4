"""A whole calibration, task by task: what is asked, what is kept, and how it goes on."""

import shutil
from decimal import Decimal
from functools import cache
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from daq.calibration import guided
from daq.calibration.kept import calibrations_in, kept_calibration
from daq.logbook import Logbook
from daq.logbook.calibration import CalibrationPoint, CalibrationResult
from daq.logbook.records import Note, body_of, record_from
from tests.daq.calibration.guided.lab import BEGAN, Gauge, Lab
from tests.daq.calibration.invented import PLAN, gauge, plan

D = Decimal
OF_PLAN = 19


def of_run(lab, run):
    """What a run comes to, without names, times and the returns between."""
    stands = lab.stands()
    found = stands.as_found if run == "as found" else stands.as_left
    points = [(each.place, each.reading_mm, each.reference_mm) for each in found.points]
    result = found.result.model_dump(exclude={"uid", "at", "calibration", "points"})
    return points, result, [each.error_mm for each in found.result.points]


def test_it_is_walked_from_the_zero_to_the_certificate():
    lab = Lab().work()
    kinds = [task.kind for task in lab.tasks]
    assert kinds == ["conditions", *["point"] * OF_PLAN, "adjusted or not", "end"]
    assert [task.done for task in lab.tasks[1:20]] == list(range(OF_PLAN))
    assert lab.tasks[1].words == "The bare plate: set the gauge to zero here (1 of 7)."
    assert lab.task() is None
    ended = lab.kept.records[-1]
    assert (ended.how, ended.as_found, ended.as_left) == ("complete", "pass", "pass")
    assert ended.certificate == f"DI-7-20260601-{lab.kept.begun.uid[-4:]}"
    assert str(ended.due) == "2027-06-01"
    assert ended.authorised_by == ""


def test_the_known_error_curve_comes_out_of_the_readings():
    lab = Lab(instrument=Gauge(scatter_mm=0.0)).work()
    for point in lab.stands().as_found.points:
        stop = lab.stands().prepared.plan.stops[point.place - 1]
        truth_mm = lab.instrument.error_mm(stop)
        assert abs(float(point.error_mm) - truth_mm) <= 0.0005 + 1e-9


def test_the_result_comes_in_one_transaction_with_the_last_point_of_its_run():
    lab = Lab(adjusts="pivot cleaned").work()
    together = [each for each in lab.transactions if isinstance(each[-1], CalibrationResult)]
    assert [[type(record).__name__ for record in each] for each in together] == [
        ["Capture", "CalibrationPoint", "CalibrationResult"]
    ] * 2
    assert [each[1].place for each in together] == [OF_PLAN] * 2


def test_how_it_was_found_is_kept_when_it_is_adjusted():
    lab = Lab(instrument=Gauge(wave_mm=0.008), adjusts="pivot cleaned")
    lab.work("adjusted or not")
    before = of_run(lab, "as found")
    lab.work()
    assert of_run(lab, "as found") == before
    found, left = lab.stands().as_found.result, lab.stands().as_left.result
    assert (found.run, left.run) == ("as found", "as left")
    assert (found.word, left.word) == ("fail", "pass")
    ended = lab.kept.records[-1]
    assert (ended.as_found, ended.as_left) == ("fail", "pass")
    assert {each.point for each in found.points}.isdisjoint(each.point for each in left.points)


def test_the_task_after_the_run_as_found_shows_its_result():
    lab = Lab(instrument=Gauge(wave_mm=0.008)).work("adjusted or not")
    task = lab.task()
    assert task.words == "As found: fail. Was the gauge adjusted?"
    span = lab.stands().as_found.result.characteristics[1]
    assert span.what == "span error"
    assert any(
        each.startswith(f"span error: {span.value_mm:.4f} ±") and each.endswith("0.01 mm: fail")
        for each in task.more
    ), task.more


@cache
def undisturbed(adjusts):
    return Lab(adjusts=adjusts).work()


@given(
    stops=st.sets(st.integers(0, 50), max_size=4),
    adjusts=st.sampled_from([None, "pivot cleaned"]),
)
@settings(max_examples=12, deadline=None)
def test_wherever_it_is_interrupted_the_points_and_the_result_are_the_same(stops, adjusts):
    whole, broken = undisturbed(adjusts), Lab(adjusts=adjusts)
    for number in range(200):
        if number in stops:
            broken.interrupt()
        if not broken.step():
            break
    assert broken.task() is None
    runs = ["as found"] if adjusts is None else ["as found", "as left"]
    for run in runs:
        assert of_run(broken, run) == of_run(whole, run)
    said = "certificate", "as_found", "as_left", "due"
    endings = [each.kept.records[-1].model_dump(include={*said}) for each in (whole, broken)]
    assert [each.pop("certificate")[:-4] for each in endings] == ["DI-7-20260601-"] * 2
    assert endings[0] == endings[1]


@pytest.mark.parametrize("number", range(2, 14))
def test_after_an_interruption_in_mid_run_temperature_and_last_point_come_first(number):
    lab = Lab()
    for _ in range(number):
        lab.step()
    next_words = lab.task().words
    lab.interrupt()
    asked = []
    for _ in range(2):
        asked.append((lab.task().kind, lab.task().words))
        lab.step()
    assert [kind for kind, _ in asked] == ["conditions", "return"]
    assert "again" in asked[0][1]
    assert "once more: back to" in asked[1][1]
    returned, before = lab.kept.records[-1], lab.points()[-1]
    assert (returned.is_return, returned.place) == (True, number - 1)
    assert lab.stands().current.points[-1].uid == before.uid != returned.uid
    assert lab.task().words == next_words


def test_an_interruption_between_the_runs_asks_nothing_again():
    lab = Lab().work("adjusted or not")
    lab.interrupt()
    assert lab.task().kind == "adjusted or not"
    lab.work("end").interrupt()
    assert lab.task().kind == "end"


def test_an_interruption_among_the_repeats_asks_for_the_temperature_only():
    lab = Lab()
    for _ in range(17):
        lab.step()
    lab.interrupt()
    assert lab.task().kind == "conditions"
    lab.step()
    assert lab.task().kind == "point"


def test_a_zero_that_moved_meanwhile_begins_the_run_again():
    lab = Lab()
    for _ in range(9):
        lab.step()
    lab.interrupt()
    lab.step()
    lab.instrument.zero_mm = 0.006
    refusal = lab.take()
    assert refusal.kind == "has moved"
    assert not refusal.may_insist
    assert [type(each) for each in lab.transactions[-1]] != [CalibrationPoint]
    lab.step()
    gate = lab.kept.records[-1]
    assert (gate.gate, gate.run) == ("anew", "as found")
    assert "the zero has moved" in gate.said
    stands = lab.stands()
    assert (stands.current.points, stands.current.temperature_c) == ((), None)
    assert [lab.task().kind, lab.task().done] == ["conditions", 0]
    lab.work()
    assert of_run(lab, "as found") == of_run(Lab().work(), "as found")
    assert len(lab.points()) == 8 + OF_PLAN  # those before are still there


def test_anew_as_left_leaves_as_found_alone():
    lab = Lab(adjusts="pivot cleaned").work("adjusted or not")
    for _ in range(7):
        lab.step()
    before = of_run(lab, "as found")
    lab.say(guided.anew(lab.stands(), "the stand was knocked", lab.stamp()))
    assert lab.stands().run == "as left"
    assert lab.stands().current.points == ()
    assert of_run(lab, "as found") == before
    lab.work()
    assert lab.kept.records[-1].as_left == "pass"


def test_an_adjustment_after_the_run_as_left_begins_that_run_again():
    lab = Lab(adjusts="pivot cleaned").work("end")
    first = lab.stands().left
    lab.say(guided.adjusted(lab.stands(), "contact point changed", lab.stamp()))
    assert (lab.task().kind, lab.stands().left) == ("conditions", None)
    lab.work()
    assert lab.stands().left.uid != first.uid
    own = {each.uid for each in lab.stands().as_left.points}
    assert own.isdisjoint(each.point for each in first.points)


def test_a_point_taken_back_is_asked_for_again_and_the_result_is_made_anew():
    lab = Lab().work("adjusted or not")
    first = lab.stands().as_found.result
    lab.say(guided.taken_back(lab.stands(), "dirt under the block", lab.stamp()))
    assert lab.stands().as_found.result is None
    task = lab.task()
    assert (task.kind, task.wanted.stop.place) == ("point", OF_PLAN)
    lab.step()
    again = lab.stands().as_found.result
    assert again.uid != first.uid
    assert again.points[:-1] == first.points[:-1]
    assert again.points[-1].point != first.points[-1].point


def test_a_capture_that_is_taken_back_takes_its_point_with_it():
    lab = Lab()
    for _ in range(6):
        lab.step()
    last = lab.points()[-1]
    lab.keep(withdrawal(lab, last.capture))
    assert lab.task().wanted.stop.place == last.place


def test_a_point_as_found_that_is_taken_back_after_adjusting_cannot_be_had_again():
    lab = Lab(adjusts="pivot cleaned").work("end")
    lab.keep(withdrawal(lab, lab.stands().as_found.points[3].uid))
    task = lab.task()
    assert task.kind == "end"
    assert "no result as found" in task.more[0]
    lab.work()
    assert (lab.kept.records[-1].as_found, lab.kept.records[-1].as_left) == (None, "pass")


def test_a_gate_that_is_taken_back_is_asked_again():
    lab = Lab().work("end")
    lab.keep(withdrawal(lab, lab.kept.records[-1].uid))
    assert lab.task().kind == "adjusted or not"


def test_an_end_that_is_taken_back_opens_it_for_another_certificate():
    lab = Lab().work()
    number = lab.kept.records[-1].certificate
    lab.keep(withdrawal(lab, lab.kept.records[-1].uid))
    assert lab.task().kind == "end"
    lab.numbers.append(number)
    lab.step()
    assert lab.kept.records[-1].certificate not in ("", number)
    assert lab.task() is None


def test_after_a_point_is_taken_again_it_is_asked_again_whether_it_was_adjusted():
    lab = Lab().work("end")
    lab.say(guided.taken_back(lab.stands(), "dirt under the block", lab.stamp()))
    asked = []
    while lab.task().kind != "end":
        asked.append(lab.task().kind)
        lab.step()
    assert asked == ["point", "adjusted or not"]


def test_an_adjustment_that_is_taken_back_was_none():
    lab = Lab(adjusts="pivot cleaned").work("adjusted or not")
    lab.step()
    said = lab.kept.records[-1]
    lab.step()
    lab.keep(withdrawal(lab, said.uid))
    assert (lab.stands().run, lab.task().kind) == ("as found", "adjusted or not")
    lab.adjusts = None
    lab.work()
    assert lab.kept.records[-1].how == "complete"
    assert lab.task() is None


def test_a_result_of_other_points_does_not_count():
    lab = Lab().work("adjusted or not")
    result = lab.kept.records.pop()
    lab.kept.records.append(result.model_copy(update={"points": result.points[:-1]}))
    assert (lab.task().kind, lab.stands().as_found.result) == ("result", None)
    lab.step()
    assert lab.task().kind == "adjusted or not"


def test_a_result_that_is_taken_back_is_worked_out_again_from_the_same_points():
    lab = Lab().work("adjusted or not")
    first = of_run(lab, "as found")
    lab.keep(withdrawal(lab, lab.stands().as_found.result.uid))
    assert lab.task().kind == "result"
    lab.step()
    assert of_run(lab, "as found") == first


def withdrawal(lab, about):
    return Note(
        uid="00000000-0000-4000-8000-000000000001",
        at=lab.now,
        operator="M. Ostby",
        purpose="withdrawal",
        about=about,
        text="a slip",
    )


def test_out_of_a_logbook_it_stands_where_it_stood(tmp_path):
    lab = Lab(adjusts="pivot cleaned")
    for _ in range(30):
        lab.step()
    lab.keep(withdrawal(lab, lab.stands().current.taken[-1].uid))
    with Logbook.open(tmp_path / "book.sqlite", at=BEGAN) as book:
        for each in lab.transactions:
            book.append_many(each)
        kept = kept_calibration(book, lab.kept.begun.uid)
    again = guided.standing(kept)
    assert again.current.points == lab.stands().current.points
    assert again.as_found.result == lab.stands().as_found.result
    assert guided.next_task(again) == lab.task()


def test_every_record_reads_back_as_it_was_written():
    lab = Lab(adjusts="pivot cleaned").work()
    for records in lab.transactions:
        for each in records:
            assert record_from(body_of(each).decode()) == each


def test_a_plan_that_goes_up_with_a_lifted_plunger_is_walked_too():
    sheet = plan(
        ("wait = 20", 'approach = "lifted"\ndirections = "up"'), ('direction = "down"', "")
    )
    lab = Lab(gauge(), sheet=sheet).work()
    assert lab.kept.records[-1].how == "complete"
    assert "hysteresis" not in {
        each.what for each in lab.stands().left.characteristics if each.word == "pass"
    }
    assert sheet.text != PLAN


def test_the_curve_grows_with_the_points_and_says_what_is_permissible():
    lab = Lab()
    lab.step()
    empty = guided.curve_of(lab.stands())
    assert (empty.up, empty.down, empty.repeat) == ((), (), ())
    assert (empty.lower_mm, empty.upper_mm, empty.to_mm) == (D("-0.005"), D("0.005"), D(10))
    lengths = []
    while lab.task().kind == "point":
        lab.step()
        curve = guided.curve_of(lab.stands())
        lengths.append((len(curve.up), len(curve.down), len(curve.repeat)))
        assert curve.upper_mm - curve.lower_mm == curve.limit_mm == D("0.010")
        assert curve.is_within
    errors = [error for _, error in (*curve.up, *curve.down)]
    assert curve.lower_mm + curve.upper_mm == min(errors) + max(errors) != 0
    assert lengths == [
        *((number, 0, 0) for number in range(1, 8)),
        *((7, number, 0) for number in range(1, 8)),
        *((7, 7, number) for number in range(1, 6)),
    ]
    assert [nominal for nominal, _ in curve.down][:2] == [D(10), D("7.5")]
    errors = {each.nominal_mm: each.error_mm for each in lab.stands().current.points[:7]}
    assert dict(curve.up) == errors
    assert guided.curve_of(lab.stands(), "as left") is None


def test_a_fixed_zero_has_its_limits_about_nought():
    limits = {"source": "own rule", "over_range": "0.004 mm", "zero": "fixed"}
    lab = Lab(gauge(limits=limits), Gauge(wave_mm=0.008))
    lab.work("adjusted or not")
    curve = guided.curve_of(lab.stands())
    assert (curve.lower_mm, curve.upper_mm) == (D("-0.004"), D("0.004"))
    assert not curve.is_within


def test_a_kept_logbook_stands_as_it_did_when_it_was_written(tmp_path):
    kept_at = Path(__file__).parents[3] / "data" / "logbook_format_calibration_1.sqlite"
    path = shutil.copy(kept_at, tmp_path / "book.sqlite")
    with Logbook.read(path) as book:
        done, broken_off = (kept_calibration(book, each.uid) for each in calibrations_in(book))
    stands = guided.standing(done)
    assert (stands.as_found.result.word, stands.left.word) == ("fail", "pass")
    assert (stands.ended.as_found, stands.ended.as_left) == ("fail", "pass")
    assert [str(each.reading_mm) for each in stands.as_found.points[:4]] == [
        "0.000", "4.007", "5.008", "9.998",
    ]  # fmt: skip
    left = stands.left
    assert [each.of for each in left.monte_carlo] == [each.of for each in left.budgets]
    assert guided.standing(broken_off).ended.reason == "the customer wants it back"
    assert guided.next_task(stands) is None

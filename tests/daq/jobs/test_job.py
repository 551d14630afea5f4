"""A whole job, task by task, without gauges: what is asked, what is kept, and how it goes on."""

import copy
from decimal import Decimal

import pytest

from daq.jobs.answers import confirmed, excepted
from daq.jobs.gates import furthest
from daq.jobs.sheet import sheet_from_bytes
from daq.jobs.standing import is_in
from daq.jobs.tasks import next_task
from daq.logbook import Capture
from daq.logbook.job import JobException, JobPoint, JobResult
from daq.logbook.records import body_of, record_from
from tests.daq.jobs.fitter import Engine, Fitter, capture

SHEET = b"""
[sheet]
title = "Two cylinders"
revision = "1"
[[sources]]
id = "made up"
document = "figures invented for this test"
revision = "1"
[engine]
source = "invented"
stroke = "four"
cylinders = 2
firing_order = "1-2"
rotation = "clockwise"
seen_from = "flywheel end"
intake_valves = 1
exhaust_valves = 1
injectors = 1
[[variants]]
name = "only one"
plate = "plate 1"
[[gauges]]
role = "rack"
kind = "indicator"
resolution = "0.001 mm"
range = "10 mm"
u = "0.002 mm"
[[gauges]]
role = "rocker"
kind = "indicator"
resolution = "0.001 mm"
range = "5 mm"
u = "0.002 mm"
[[steps]]
name = "height"
what = "Timing height"
for_each = "injector"
recipe = "length"
nominal = "42.60 mm"
limits = "\xc2\xb1 0.05 mm"
source = "made up, p. 1"
crank = "own firing TDC"
gauge = "rack"
master = "42.500 mm"
master_limit = "0.005 mm"
exercise = 2
lock = true
lock_shift = "0.02 mm"
[steps.adjuster]
thread = "M8x1"
clockwise = "raises"
[[steps]]
name = "clearance"
what = "Valve clearance"
for_each = "valve"
recipe = "play"
nominal = "0.40 mm"
limits = "\xc2\xb1 0.04 mm"
source = "made up, p. 2"
after = ["height"]
crank = "own firing TDC"
gauge = "rocker"
repeats = 2
lock = true
[steps.adjuster]
thread = "M10x1"
clockwise = "lowers"
lever_ratio = "1.4"
"""


@pytest.fixture(scope="module")
def sheet():
    return sheet_from_bytes(SHEET, "two.toml")


def left(job):
    """Every as-left value, by step and target."""
    return {
        (name, target.work.target.name): target.as_left and target.as_left.value
        for name, step in job.steps.items()
        for target in step.targets
    }


def test_the_demo_job_is_worked_through_and_every_length_left_within_its_limits():
    job = Fitter().work().stands()
    assert job.is_complete
    assert all(target.passes for step in job.steps.values() for target in step.targets)
    assert all(step.mastered is None or step.is_closed for step in job.steps.values())


def test_what_is_left_is_what_the_engine_has(sheet):
    fitter = Fitter(sheet).work()
    for (step, target), value in left(fitter.stands()).items():
        planned = fitter.stands().steps[step].planned
        assert float(value) == pytest.approx(fitter.engine.length_mm(planned, target), abs=0.001)


def test_every_record_of_a_job_comes_back_from_its_own_text(sheet):
    fitter = Fitter(sheet).work()
    for record in [fitter.begun, *fitter.records]:
        assert record_from(body_of(record).decode()) == record


def test_the_first_thing_asked_is_the_engines_plate_and_then_the_cautions():
    fitter = Fitter()
    fitter.step(), fitter.step()
    assert [task.gate for task in fitter.tasks] == ["plate", "cautions"]
    assert "speed 1500" in fitter.tasks[0].words
    assert any("lock out starting energy" in each for each in fitter.tasks[1].more)


def test_a_gauge_is_let_down_twice_on_its_master_before_anything_is_measured(sheet):
    fitter = Fitter(sheet).work()
    kinds = [task.master for task in fitter.tasks if task.step == "height" and task.wanted]
    assert kinds[:2] == ["before", "before"]
    assert kinds[-1] == "after"


def test_a_plunger_that_does_not_come_back_is_let_down_again(sheet):
    fitter = Fitter(sheet)
    while not (fitter.tasks and fitter.tasks[-1].master == "before"):
        fitter.step()
    task, job = next_task(fitter.stands(), fitter.captures), fitter.stands()
    from daq.jobs.answers import captured

    stuck = capture(1.234 + 0.02, len(fitter.records))
    fitter.records += [stuck, *captured(job, task, stuck, fitter.captures, fitter.stamp())]
    result = fitter.records[-1]
    assert isinstance(result, JobResult)
    assert result.verdict.outcome == "high"
    again = next_task(fitter.stands(), fitter.captures)
    assert (again.master, again.wanted.number) == ("before", 1)


def test_what_is_found_within_its_limits_is_left_alone(sheet):
    fitter = Fitter(sheet, Engine(off_mm=0.01)).work()
    assert not [task for task in fitter.tasks if task.kind == "adjust" or task.gate == "locked"]
    for step in fitter.stands().steps.values():
        assert all(target.as_left is target.as_found for target in step.targets)


def test_a_lock_nut_that_shifts_the_setting_too_far_means_setting_it_anew(sheet):
    fitter = Fitter(sheet, Engine(lock_shift_mm=0.06, seed=4)).work()
    again = [t for t in fitter.tasks if t.kind == "adjust" and t.words.startswith("Loosen")]
    assert again
    set_anew = fitter.stands().target("height", again[0].target)
    assert abs(set_anew.shift(set_anew.as_left)) <= 0.02


def test_a_gauge_that_moved_puts_all_since_the_last_good_check_in_doubt(sheet):
    fitter = Fitter(sheet)
    while not (fitter.tasks and fitter.tasks[-1].target == "injector 2"):
        fitter.step()
    fitter.engine.master_moved_mm["height"] = 0.03
    fitter.work()
    job = fitter.stands()
    checks = [(each.master, each.verdict.outcome) for each in job.steps["height"].masters]
    assert checks == [("before", "in"), ("after", "high"), ("before", "in"), ("after", "in")]
    for target in job.steps["height"].targets:
        assert target.doubted
        assert target.as_left.uid not in target.doubted
        untouched = all(each.phase == "as found" for each in target.results)
        assert (target.as_found.uid in target.doubted) is not untouched
        assert float(target.as_left.value) == pytest.approx(
            fitter.engine.length_mm(target.work.planned, target.work.target.name), abs=0.001
        )


def test_going_back_measures_again_and_keeps_what_was_there(sheet):
    fitter = Fitter(sheet, Engine(off_mm=0.01))
    while not any(isinstance(each, JobResult) and each.phase for each in fitter.records):
        fitter.step()
    job, before = fitter.stands(), len(fitter.records)
    found = job.target("height", "injector 1").as_found
    fitter.records.append(
        excepted(job, "height", "injector 1", "again", "not sure of it", fitter.stamp())
    )
    task = next_task(fitter.stands(), fitter.captures)
    assert (task.target, task.phase) == ("injector 1", "as left")
    fitter.work()
    target = fitter.stands().target("height", "injector 1")
    assert target.as_found == found
    assert target.as_left.phase == "as left"
    assert len(fitter.records) > before


def test_a_target_may_be_skipped_with_a_reason_and_a_name(sheet):
    fitter = Fitter(sheet)
    while not (fitter.tasks and fitter.tasks[-1].phase == "as found"):
        fitter.step()
    fitter.records.append(
        excepted(fitter.stands(), "height", "injector 2", "skipped", "seized", fitter.stamp(), "Q")
    )
    fitter.work()
    target = fitter.stands().target("height", "injector 2")
    assert (target.exception.reason, target.exception.by) == ("seized", "Q")
    assert not target.passes
    assert not target.results


def test_what_no_screw_sets_is_decided_by_somebody():
    fitter = Fitter()
    while not (fitter.tasks and fitter.tasks[-1].step == "liner projection"):
        fitter.step()
    fitter.engine._length_mm["liner projection", "cylinder 1"] = 0.20
    fitter.work()
    target = fitter.stands().target("liner projection", "cylinder 1")
    assert isinstance(target.exception, JobException)
    assert target.as_left.verdict.outcome == "high"
    assert not target.passes


def test_points_that_contradict_each_other_are_taken_again(sheet):
    fitter = Fitter(sheet)
    while not (fitter.tasks and fitter.tasks[-1].step == "clearance" and fitter.tasks[-1].phase):
        fitter.step()
    fitter.engine.presses = {}
    real, levels = fitter.engine.reads_mm, iter([1.0, 1.4, 1.9, 2.7])
    fitter.engine.reads_mm = lambda planned, task: next(levels, None) or real(planned, task)
    fitter.work()
    notes = [each for each in fitter.records if isinstance(each, JobException)]
    assert {each.what for each in notes} == {"again"}
    assert fitter.stands().is_complete


def test_a_screw_that_turns_the_wrong_way_is_warned_of(sheet):
    fitter = Fitter(sheet, Engine(seed=5))
    turn = fitter.engine.turn
    fitter.engine.turn = lambda planned, target, turns: turn(planned, target, -turns)
    for _ in range(120):
        if not fitter.step():
            break
    warned = [note for task in fitter.tasks if task.told for note in task.told.notes]
    assert any("wrong way" in note for note in warned), warned


def test_the_crank_is_never_barred_backwards_and_no_further_than_planned():
    fitter = Fitter().work()
    barred = [task.words for task in fitter.tasks if task.gate == "crank"]
    degrees = [int(words.split("°")[0].split()[-1]) for words in barred if "°" in words]
    assert all(0 < each <= 720 for each in degrees)
    # Six injectors at their own firing TDC, 120 degrees apart; then from the last one to the two
    # positions of the half rule, which are a turn apart (docs/crank.md).
    assert degrees[:5] == [120] * 5
    assert degrees[5:] == [120, 360]


def test_it_goes_on_alike_after_an_interruption_at_every_task(sheet):
    """A job is its records: the same fitter with the same engine leaves the same behind."""
    fitter, moments = Fitter(sheet, Engine(seed=2)), []
    while True:
        moments.append((list(fitter.records), copy.deepcopy(fitter.engine)))
        if not fitter.step():
            break
    whole = left(fitter.stands())
    assert len(moments) > 60
    for records, engine in moments:
        resumed = Fitter(sheet, engine, fitter.begun, records).work()
        assert left(resumed.stands()) == whole


def test_a_capture_that_nothing_names_is_no_part_of_the_job(sheet):
    fitter = Fitter(sheet)
    while not (fitter.tasks and fitter.tasks[-1].phase):
        fitter.step()
    before = next_task(fitter.stands(), fitter.captures)
    fitter.records.append(capture(9.9, len(fitter.records)))
    assert next_task(fitter.stands(), fitter.captures) == before


def test_every_result_names_captures_that_are_there(sheet):
    fitter = Fitter(sheet).work()
    there = {each.uid for each in fitter.records if isinstance(each, Capture)}
    for record in fitter.records:
        if isinstance(record, JobResult):
            assert set(record.captures) <= there
        if isinstance(record, JobPoint):
            assert record.capture in there


def test_nothing_is_asked_after_the_job_has_ended(sheet):
    fitter = Fitter(sheet).work()
    assert next_task(fitter.stands(), fitter.captures) is None
    assert is_in(fitter.stands().target("height", "injector 1").as_left)


def test_a_gate_keeps_what_was_asked_and_how_far_to_turn(sheet):
    fitter = Fitter(sheet, Engine(off_mm=0.3))
    while not (fitter.tasks and fitter.tasks[-1].gate == "adjusted"):
        fitter.step()
    gate = fitter.records[-1]
    assert gate.asked.startswith("Turn ")
    assert isinstance(gate.asked_turns, Decimal)
    assert gate.asked_turns != 0
    assert confirmed(fitter.stands(), fitter.tasks[-1], fitter.stamp()).asked == gate.asked


def with_spread(limit):
    spread = f'\n[steps.across]\nspread = "{limit}"\n'.encode()
    first, second = SHEET.split(b'[[steps]]\nname = "clearance"')
    parts = [first, spread, b'[[steps]]\nname = "clearance"', second, spread]
    return sheet_from_bytes(b"".join(parts), "two.toml")


def apart(fitter, step):
    values = [target.as_left.value for target in fitter.stands().steps[step].targets]
    return float(max(values) - min(values))


def anew(fitter):
    """What the fitter does who presses a: the target furthest from its aim is set once more."""
    job = fitter.stands()
    task = next_task(job, fitter.captures)
    name = furthest(job.steps[task.step])
    fitter.records.append(excepted(job, task.step, name, "anew", "too far off", fitter.stamp()))
    return name


def until_across(fitter):
    while (task := next_task(fitter.stands(), fitter.captures)) and task.gate != "across":
        fitter.step()
    return task


@pytest.mark.parametrize("step", ["height", "clearance"])
def test_results_that_do_not_go_together_are_told_and_can_be_set_anew(step):
    fitter = Fitter(with_spread("0.02 mm"), Engine(off_mm=0.0))
    first, second = [each.name for each in fitter.stands().steps[step].planned.targets][:2]
    planned = fitter.stands().steps[step].planned
    fitter.engine._length_mm[step, first] = float(planned.spec.nominal_mm) + 0.034
    fitter.engine.turn = lambda planned, target, turns: fitter.engine.turn_to(planned, target)
    task = until_across(fitter)
    assert task.step == step
    assert "Spread of" in task.more[0]
    assert "0.02" in task.more[0]
    assert anew(fitter) == first
    fitter.work()
    assert apart(fitter, step) < 0.02
    target = fitter.stands().target(step, first)
    assert target.as_left.phase == "as left"
    assert float(target.as_found.deviation) == pytest.approx(0.034, abs=0.001)
    assert fitter.stands().target(step, second).as_left.phase == "as found"
    assert not [task for task in fitter.tasks if task.gate == "across"]


def test_results_that_do_not_go_together_may_stand_and_are_not_told_twice():
    fitter = Fitter(with_spread("0.02 mm"), Engine(off_mm=0.0))
    planned = fitter.stands().steps["height"].planned
    fitter.engine._length_mm["height", "injector 1"] = float(planned.spec.nominal_mm) + 0.034
    fitter.work()
    assert len([task for task in fitter.tasks if task.gate == "across"]) == 1
    assert fitter.stands().is_complete


def test_a_screw_is_not_told_twice_to_turn_when_the_rests_after_it_contradict_each_other(sheet):
    fitter = Fitter(sheet, Engine(seed=5))
    while not (fitter.tasks and fitter.tasks[-1].gate == "adjusted"):
        fitter.step()
    turned = len([task for task in fitter.tasks if task.gate == "adjusted"])
    real, levels = fitter.engine.reads_mm, iter([1.0, 1.4, 1.9, 2.7])
    fitter.engine.reads_mm = lambda planned, task: next(levels, None) or real(planned, task)
    while not isinstance(fitter.records[-1], JobException):
        fitter.step()
    fitter.engine.presses = {}
    assert next_task(fitter.stands(), fitter.captures).phase == "adjusted"
    while not isinstance(fitter.records[-1], JobResult):
        fitter.step()
    assert len([task for task in fitter.tasks if task.gate == "adjusted"]) == turned


def test_what_was_found_in_doubt_is_found_again_where_nobody_has_touched_it(sheet):
    fitter = Fitter(sheet, Engine(off_mm=0.01))
    while not (fitter.tasks and fitter.tasks[-1].target == "injector 1"):
        fitter.step()
    fitter.engine.master_moved_mm["height"] = 0.03
    fitter.work()
    target = fitter.stands().target("height", "injector 2")
    assert [each.phase for each in target.results] == ["as found", "as found"]
    assert target.as_found is target.as_left is target.results[-1]
    assert float(target.as_found.value) == pytest.approx(
        fitter.engine.length_mm(target.work.planned, "injector 2"), abs=0.001
    )

"""The job page's part of a state: it says what the records say, and nothing else."""

import json
from decimal import Decimal

import pytest

from daq.jobs.answers import excepted
from daq.jobs.tasks import next_task
from daq.logbook.job import JobException, JobResult
from daq.page.hub import Hub
from daq.page.job_cylinders import cylinders_of
from daq.page.job_state import JobStates, job_message, place_message
from daq.page.parts import JobPart
from daq.screen.job_view import JobView
from tests.daq.jobs.fitter import Engine, Fitter


def work_until(fitter, holds, most=600):
    """Let the fitter work until the next task is one that holds; that task."""
    for _ in range(most):
        task = next_task(fitter.stands(), fitter.captures)
        if holds(task):
            return task
        assert fitter.step()
    raise AssertionError("the task never came")


def place(fitter):
    job = fitter.stands()
    return place_message(job, next_task(job, fitter.captures))


def view(fitter, **more):
    job = fitter.stands()
    task = next_task(job, fitter.captures)
    return JobView(
        kind=task.kind, sign=task.gate or task.kind, title=task.title, words=task.words,
        more=task.more, standing=job, task=task, **more,
    )  # fmt: skip


def step_of(message, name):
    (found,) = [each for each in message["steps"] if each["name"] == name]
    return found


@pytest.fixture(scope="module")
def done():
    return Fitter().work()


def test_every_moment_of_a_whole_job_can_be_sent_as_json():
    fitter, states = Fitter(), JobStates()
    for number in range(2000):
        if next_task(fitter.stands(), fitter.captures) is None:
            break
        if number % 7 == 0:
            message = states.message(view(fitter))
            assert json.loads(json.dumps(message, allow_nan=False)) == message
            now = [t for s in message["steps"] for t in s["targets"] if t["state"] == "now"]
            assert len(now) == (1 if message["target"] else 0)
        fitter.step()
    assert number > 300


def test_cautions_stand_apart_and_learned_notes_stay_with_the_rest():
    fitter = Fitter()
    work_until(fitter, lambda task: task.gate == "cautions")
    message = job_message(view(fitter))
    assert "This sheet is for a demonstration." in message["cautions"][0]
    assert message["more"] == []
    task = work_until(fitter, lambda task: task.step == "liner projection")
    shown = view(fitter)
    message = job_message(shown)
    assert message["cautions"] == [task.more[0]]
    assert message["more"] == list(task.more[1:])


def test_a_caution_of_a_step_stays_while_it_is_measured():
    fitter = Fitter()
    work_until(fitter, lambda task: task.step == "liner projection" and task.target)
    assert place(fitter)["cautions"][0].startswith("Clamp the liner")


def test_before_the_first_gate_there_is_nothing_to_go_back_to_or_to_skip():
    message = place(Fitter())
    assert message["can"] == {"back": False, "anew": [], "skip": False, "stand": False}
    assert message["history"] == []
    assert {each["state"] for each in message["svg_states"].values()} == {"to do"}


def test_the_next_position_of_the_crank_says_how_far_to_bar():
    fitter = Fitter()
    task = work_until(fitter, lambda task: task.gate == "crank" and "Bar on" in task.words)
    asked = place(fitter)["next_crank"]
    assert (asked["title"], asked["is_now"]) == (task.target, True)
    assert f"{asked['angle_deg']:g}°" in task.words
    assert f"{asked['angle_deg']:g}°" in asked["words"]
    fitter.step()
    ahead = place(fitter)["next_crank"]
    assert ahead["title"] != task.target
    assert not ahead["is_now"]


def test_where_the_crank_stands_is_known_of_every_cylinder_once_it_was_said():
    fitter = Fitter()
    assert {each["crank"] for each in place(fitter)["svg_states"].values()} == {""}
    task = work_until(fitter, lambda task: task.gate == "crank")
    fitter.step()
    cylinders = place(fitter)["svg_states"]
    name = task.target.split()[1]
    assert cylinders[name]["crank"] == "firing TDC"
    assert [each["crank"] for each in cylinders.values()].count("overlap TDC") == 1


def test_a_result_out_of_limits_that_no_screw_sets_is_out_until_it_is_let_stand():
    engine = Engine()
    fitter = Fitter(engine=engine)
    planned = fitter.stands().steps["liner projection"].planned
    engine._length_mm["liner projection", "cylinder 2"] = float(planned.spec.nominal_mm) + 0.2
    work_until(fitter, lambda task: task.kind == "decide" and task.target == "cylinder 2")
    message = place(fitter)
    assert message["can"]["stand"]
    target = step_of(message, "liner projection")["targets"][1]
    assert (target["state"], target["value"], target["deviation"]) == (
        "now", "0.3000 mm", "+0.2000 mm",
    )  # fmt: skip
    fitter.step()
    message = place(fitter)
    assert step_of(message, "liner projection")["targets"][1]["state"] == "stands"
    assert message["svg_states"]["2"]["state"] == "stands"
    told = [each for each in message["history"] if each["verdict"] == "overruled"]
    assert told[0]["words"] == "agreed with the owner (R. Ahlers)"


def test_a_skipped_target_is_skipped_in_the_list_and_on_the_engine():
    fitter = Fitter()
    task = work_until(fitter, lambda task: task.target == "cylinder 3")
    job = fitter.stands()
    fitter.records.append(
        excepted(job, task.step, task.target, "skipped", "no liner", fitter.stamp(), "B. Lund")
    )
    message = place(fitter)
    assert step_of(message, "liner projection")["targets"][2]["state"] == "skipped"
    assert message["svg_states"]["3"]["state"] == "skipped"


def test_only_the_latest_result_of_a_target_can_be_measured_again(done):
    job = done.stands()
    task = next(each for each in reversed(done.tasks) if each.step)
    history = place_message(job, task)["history"]
    latest = {each.latest.uid for step in job.steps.values() for each in step.targets}
    shown = {each["uid"]: each["again"] for each in history}
    assert {uid for uid, again in shown.items() if again} == latest & set(shown)
    records = [r for r in done.records if isinstance(r, JobResult | JobException)]
    assert len(history) + place_message(job, task)["earlier"] == len(records)
    assert [each["at"] for each in history] == sorted((e["at"] for e in history), reverse=True)


def test_a_value_has_a_place_more_than_its_gauge_and_its_deviation_a_sign(done):
    job = done.stands()
    message = place_message(job, done.tasks[-2])
    stop = step_of(message, "full-load stop")["targets"][0]
    result = job.target("full-load stop", "engine").latest
    assert stop["value"] == f"{result.value:.3f} mm"
    assert Decimal(stop["deviation"].removesuffix(" mm")) == round(result.deviation, 3)
    assert stop["deviation"][0] in "+-0"


def test_the_slow_half_is_made_once_a_task():
    fitter, states = Fitter(), JobStates()
    shown = view(fitter)
    first = states.message(shown)
    again = states.message(shown)
    assert again["steps"] is first["steps"]
    fitter.step()
    assert states.message(view(fitter))["steps"] is not first["steps"]


def test_a_view_without_its_standing_still_says_its_task():
    message = job_message(JobView(kind="measure", sign="measure", title="a", words="b"))
    assert (message["title"], message["steps"], message["asks"]) == ("a", [], None)


def test_the_drawing_is_of_the_last_view():
    fitter, states = Fitter(), JobStates()
    part = JobPart(Hub(), ("G-1",), states.message)
    assert part.engine() is None
    work_until(fitter, lambda task: task.target == "cylinder 3")
    part.show(view(fitter), 0.0)
    assert not part.trouble
    assert "Cylinder 3: now" in part.engine()
    assert "Cylinder 2: in" in part.engine()


def test_several_targets_of_one_cylinder_make_one_word_for_it():
    fitter = Fitter()
    task = work_until(fitter, lambda task: task.step == "exhaust clearance" and task.target)
    cylinders = cylinders_of(fitter.stands(), task)
    name = task.target.split()[1]
    assert cylinders[name].state == "now"
    assert {each.of for each in cylinders.values()} == {2}

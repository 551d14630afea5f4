"""What screens ask for, as commands of the loops; what does not fit is refused in words."""

import contextlib
import json
from decimal import Decimal

import pytest

from daq.calibration.guided import Task as CalibrationTask
from daq.jobs.task import Task as JobTask
from daq.page.errors import UnfitError
from daq.page.messages import wish_from
from daq.page.wishes import bench_command, calibration_command, job_command
from daq.screen.calibration_run import Command as CalibrationCommand
from daq.screen.job_run import Command as JobCommand

DOS = (
    "capture", "confirm", "go", "back", "anew", "again", "skip", "stand", "insist", "adjusted",
    "not adjusted", "choose",
)  # fmt: skip


def wish(do, **fields):
    return wish_from(json.dumps({"v": 1, "do": do, **fields}))


def job_task(asks=""):
    return JobTask(kind="measure", title="t", words="w", asks=asks)


def calibration_task(kind):
    return CalibrationTask(kind=kind, title="t", words="w", run="as found")


@pytest.mark.parametrize(
    ("do", "command"), [("capture", "capture"), ("go", "capture"), ("confirm", "confirm")]
)
def test_a_bench_captures_and_confirms(do, command):
    assert bench_command(wish(do)) == command


@pytest.mark.parametrize("do", [each for each in DOS if each not in ("capture", "go", "confirm")])
def test_a_bench_has_nothing_of_a_job(do):
    with pytest.raises(UnfitError):
        bench_command(wish(do, reason="r", by="b"))


@pytest.mark.parametrize(
    ("said", "command"),
    [
        (wish("go"), JobCommand("go")),
        (wish("capture"), JobCommand("go")),
        (wish("confirm"), JobCommand("trust the gauge")),
        (wish("back"), JobCommand("back")),
        (wish("anew", target="injector 3"), JobCommand("anew", target="injector 3")),
        (wish("skip", reason="seized", by="M. Rode"), JobCommand("skip", "seized", "M. Rode")),
        (wish("stand", reason="r", by="b"), JobCommand("let it stand", "r", "b")),
        (wish("again", reason="r", uid="a-1"), JobCommand("again", "r", "", uid="a-1")),
    ],
)
def test_a_jobs_buttons_are_its_commands(said, command):
    assert job_command(said, job_task()) == command


@pytest.mark.parametrize(
    "said",
    [
        wish("skip"),
        wish("skip", reason="seized"),
        wish("stand", by="M. Rode"),
        wish("again", uid="a-1"),
        wish("insist", reason="r", by="b"),
        wish("adjusted", reason="r"),
        wish("not adjusted"),
        wish("choose", gauge="G-1"),
    ],
)
def test_what_lacks_a_reason_or_a_name_or_is_of_other_work_is_no_command_of_a_job(said):
    with pytest.raises(UnfitError):
        job_command(said, job_task())


def test_a_job_gets_the_figures_that_it_asks_for_and_no_others():
    angle = job_command(wish("go", figures=["36.5"]), job_task("angle"))
    assert angle == JobCommand("go", figures=(Decimal("36.5"),))
    both = job_command(wish("go", figures=["31", "22.5"]), job_task("temperatures"))
    assert both.figures == (Decimal("31"), Decimal("22.5"))
    assert job_command(wish("go", figures=["36.5"]), job_task()).figures == ()
    with pytest.raises(UnfitError, match="angle"):
        job_command(wish("go"), job_task("angle"))
    with pytest.raises(UnfitError, match="both temperatures"):
        job_command(wish("go", figures=["31"]), job_task("temperatures"))


@pytest.mark.parametrize(
    ("said", "command"),
    [
        (wish("go"), CalibrationCommand(kind="go")),
        (wish("capture"), CalibrationCommand(kind="go")),
        (wish("confirm"), CalibrationCommand(kind="trust the gauge")),
        (wish("back", reason="r"), CalibrationCommand(kind="back", text="r")),
        (wish("anew", reason="r"), CalibrationCommand(kind="anew", text="r")),
        (wish("insist", reason="r", by="b"), CalibrationCommand(kind="insist", text="r", by="b")),
        (wish("adjusted", reason="nut"), CalibrationCommand(kind="adjusted", text="nut")),
        (wish("not adjusted"), CalibrationCommand(kind="not adjusted")),
    ],
)
def test_a_calibrations_buttons_are_its_commands(said, command):
    assert calibration_command(said, calibration_task("point")) == command


@pytest.mark.parametrize(
    "said",
    [
        wish("anew"),
        wish("adjusted"),
        wish("insist", reason="r"),
        wish("insist", by="b"),
        wish("skip", reason="r", by="b"),
        wish("stand", reason="r", by="b"),
        wish("again", reason="r", uid="a-1"),
        wish("choose", gauge="G-1"),
    ],
)
def test_what_lacks_a_reason_or_a_name_or_is_of_other_work_is_no_command_of_a_calibration(said):
    with pytest.raises(UnfitError):
        calibration_command(said, calibration_task("point"))


def test_the_temperature_is_typed_where_a_calibration_asks_for_it():
    said = calibration_command(wish("go", figures=["20.1"]), calibration_task("conditions"))
    assert said == CalibrationCommand(kind="go", temperature_c=Decimal("20.1"))
    with pytest.raises(UnfitError, match="temperature"):
        calibration_command(wish("go"), calibration_task("conditions"))


@pytest.mark.parametrize("make", [job_command, calibration_command])
def test_before_the_first_task_a_wish_is_a_command_or_a_refusal(make):
    made = []
    for do in DOS:
        with contextlib.suppress(UnfitError):
            made.append(make(wish(do, reason="r", by="b", uid="a-1"), None).kind)
    assert {"go", "trust the gauge", "back", "anew"} <= set(made)

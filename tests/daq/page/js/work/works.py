"""Messages of jobs, calibrations and records as the bench sends them, for tests of the scripts."""

from typing import Any

from daq.calibration.guided import curve_of
from daq.jobs.tasks import next_task
from daq.logbook import Logbook
from daq.page.calibration_state import calibration_message
from daq.page.engine_drawing import svg_of
from daq.page.job_cylinders import cylinders_of
from daq.page.job_state import job_message
from daq.page.messages import Message, State, bench_message, state_message
from daq.page.records import one, search
from daq.screen.calibration_view import CalibrationView, large_of, last_words, more_of
from daq.screen.job_view import JobView
from daq.screen.view import BenchView
from tests.daq.calibration.guided.lab import Lab
from tests.daq.jobs.fitter import BEGAN, Fitter
from tests.daq.logbook.conftest import make_capture, make_note
from tests.daq.screen.bench_views import STATES as VIEWS


def all_works(folder: Any) -> dict[str, Any]:
    """Everything by name; ``folder`` is where a logbook may be made."""
    return {**_jobs(), **_calibrations(), **_records(folder)}


def _jobs() -> dict[str, Any]:
    fitter = Fitter()
    wanted = {
        "job-plate": lambda task: task.gate == "plate",
        "job-cautions": lambda task: task.gate == "cautions",
        "job-liner": lambda task: task.kind == "measure" and task.target == "cylinder 2",
        "job-adjust": lambda task: task.kind == "adjust" and task.step == "timing height",
        "job-crank": lambda task: task.gate == "crank" and "Bar on" in task.words,
        "job-end": lambda task: task.kind == "end",
    }
    made: dict[str, Any] = {}
    for name, holds in wanted.items():
        while not holds(next_task(fitter.stands(), fitter.captures)):
            assert fitter.step()
        job = fitter.stands()
        task = next_task(job, fitter.captures)
        bench = VIEWS["moving"] if task.role else None
        every = [each for step in job.steps.values() for each in step.targets]
        view = JobView(
            kind=task.kind, sign=task.gate or task.kind, title=task.title, words=task.words,
            more=task.more, bench=bench, standing=job, task=task,
            done=sum(each.is_done for each in every), of=len(every),
        )  # fmt: skip
        made[name] = _state("job", bench, job=job_message(view))
        made[f"{name}-svg"] = svg_of(job.sheet.engine, cylinders_of(job, task))
    return made


def _calibrations() -> dict[str, Any]:
    lab = Lab(adjusts="the lever")
    made = {"cal-temperature": _calibration(lab, None)}
    lab.step()
    made["cal-zero"] = _calibration(lab, VIEWS["in"])
    for _ in range(6):
        lab.step()
    made["cal-point"] = _calibration(lab, VIEWS["in"])
    lab.work(until="adjusted or not")
    made["cal-result"] = _calibration(lab, None)
    for _ in range(6):
        lab.step()
    made["cal-left"] = _calibration(lab, VIEWS["in"])
    lab.work(until="end")
    made["cal-end"] = _calibration(lab, None)
    return made


def _calibration(lab: Lab, bench: BenchView | None) -> Message:
    stands, task = lab.stands(), lab.task()
    view = CalibrationView(
        kind=task.kind, title=task.title, words=task.words, large=large_of(task),
        more=more_of(task), done=task.done, of=task.of, bench=bench,
        curve=curve_of(stands) if stands.current.taken else None,
        step_mm=stands.gauge.step_mm, last=last_words(stands), standing=stands, task=task,
    )  # fmt: skip
    return _state("calibration", bench, calibration=calibration_message(view))


def _state(work: Any, bench: BenchView | None, **parts: Any) -> Message:
    view = None if bench is None else bench_message(bench)
    return state_message(State(work=work, gauges=("DI-7",), view=view, **parts), 7, may_act=True)


def _records(folder: Any) -> dict[str, Any]:
    capture = make_capture()
    with Logbook.open(folder / "a.logbook", at=BEGAN) as book:
        book.append(capture)
        book.append(make_note("<script>x</script>", about=capture.uid))
        near = make_capture().spec.model_copy(
            update={"lower_mm": capture.u_mm * -30, "upper_mm": capture.u_mm * 110}
        )
        book.append(make_capture(spec=near))
        return {
            "records": search(book),
            "record": one(book, capture.uid),
            "record-near": one(book, "4"),
        }

"""restpoint job run in a logbook with a register: what is asked of a gauge, and what is refused."""

import os
import subprocess
import sys
import time
from contextlib import ExitStack
from decimal import Decimal
from pathlib import Path

from daq.cli.job_opening import await_ports, begin_job
from daq.jobs.keeping import jobs_in, kept_job
from daq.jobs.sheet import sheet_from_bytes
from daq.logbook import Logbook
from daq.logbook.job import JobCalibration, JobGate, JobGaugeUsed
from daq.measure.capture import Bench as Place
from daq.measure.gauges import Gauge
from daq.measure.station import Station
from daq.report import facts_of, report_of
from daq.screen.job_run import Command, JobRun
from drivers.profiles import load_profile
from simulated_devices import Bench
from tests.daq.jobs.fitter import calibration
from tests.daq.jobs.test_job import SHEET
from tests.end_to_end.road import WITHIN_S, steady

ROOT = Path(__file__).parents[2]
TO_THE_QUESTION = "go\ngo\ngo\n"
"""The plate, the cautions, and then the gauge: a third go does not answer."""


def run(place, lines, rack="DI-7"):
    """The command with these lines on its standard input; its exit status and what it said."""
    done = subprocess.run(
        [sys.executable, "-m", "daq.cli", "job", "run", place / "two.toml", "--logbook",
         place / "a.logbook", "--engine", "aux 2", "--operator", "R. Ahlers", "--gauges",
         place / "gauges.toml", "--gauge", f"rack={rack}", "--gauge", "rocker=DI-9"],
        input=lines, capture_output=True, text=True, timeout=WITHIN_S, cwd=ROOT, check=False,
        env={**os.environ, "NO_COLOR": "1"},
    )  # fmt: skip
    return done.returncode, done.stdout + done.stderr


def jobs(place):
    with Logbook.read(place / "a.logbook") as book:
        return [kept_job(book, each.uid) for each in jobs_in(book)]


def of_kind(job, model):
    return [each for each in job.records if isinstance(each, model)]


def test_a_gauge_that_was_never_calibrated_serves_only_with_a_reason_and_a_name(place):
    status, said = run(place, TO_THE_QUESTION)
    assert status == 3
    assert "DI-7 has never been calibrated. Press q to stop here" in said
    assert "press q to stop here, or o to use it with a reason and a name" in said
    assert "Timing height" not in said

    status, said = run(place, "stand it is all there is | M. Lind\ngo\n")
    (job,) = jobs(place)
    assert [each.gate for each in of_kind(job, JobGate)] == ["plate", "cautions", "step"]
    known = of_kind(job, JobCalibration)
    assert [(each.role, each.label, each.standing) for each in known] == [
        ("rack", "DI-7", "never calibrated"),
        ("rocker", "DI-9", "not in the register"),
    ]
    (used,) = of_kind(job, JobGaugeUsed)
    assert (used.calibration, used.reason, used.by) == (
        known[0].uid, "it is all there is", "M. Lind",
    )  # fmt: skip
    with Logbook.read(place / "a.logbook") as book:
        facts = facts_of(book.entries(), book.id, job.begun.uid)
    (told,) = report_of(facts.standing, facts).exempted
    assert (told.what, told.by) == ("used though never calibrated", "M. Lind")


def test_before_anything_is_captured_another_gauge_may_be_taken(place):
    run(place, TO_THE_QUESTION)
    status, said = run(place, TO_THE_QUESTION, rack="DI-8")
    assert status == 3
    assert "DI-8 is not in the register" in said
    first, second = jobs(place)
    assert (first.ended.how, second.ended) == ("broken off", None)
    assert "other gauges" in first.ended.reason
    assert [each.label for each in second.begun.gauges] == ["DI-8", "DI-9"]


def test_outside_its_range_a_gauge_captures_nothing_and_says_why(tmp_path):
    sheet = sheet_from_bytes(SHEET, "two.toml")
    views = []
    with ExitStack() as stack:
        bench = stack.enter_context(Bench({"one": (steady("decimal-line", 12.34), None)}))
        book = stack.enter_context(Logbook.open(tmp_path / "a.logbook"))
        serves = Gauge("DI-7", load_profile("decimal-line"), bench.ports["one"])
        station = stack.enter_context(
            Station([serves], logbook=book, bench=Place("b", "R. Ahlers"))
        )
        await_ports(station, ["DI-7"])
        both = {"rack": serves, "rocker": serves}
        kept = begin_job(book, sheet, "aux 2", "R. Ahlers", None, both, station)
        known = calibration(kept.begun, "rack", "limited range", to_mm=Decimal(10))
        kept.records.append(known)
        end_s = time.monotonic() + WITHIN_S

        def stop():
            refused = views and "is good" in views[-1].notice
            return refused or time.monotonic() > end_s

        JobRun(
            station, book, sheet, kept, {"rack": "DI-7", "rocker": "DI-7"}, "R. Ahlers",
            lambda view, _now_s: views.append(view), lambda: [Command("go")], stop=stop,
        ).run()  # fmt: skip
        assert [entry.record for entry in book.entries(kind="capture")] == []
    assert "gauge rack stands at 12.34 mm" in views[-1].notice
    assert "good up to 10 mm only" in views[-1].notice

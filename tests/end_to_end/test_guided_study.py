"""A guided study on a simulated gauge: interrupted, gone on with, studied from its logbook."""

import json
import subprocess
import sys
import time
from contextlib import suppress
from datetime import UTC, datetime
from decimal import Decimal
from pathlib import Path

import pytest

from daq.calibration.study.guided import Stamp, begun
from daq.calibration.study.guided_kept import KeptStudy, csv_of, kept_study, studies_in
from daq.calibration.study.guided_plan import study_plan_from_bytes
from daq.cli import main
from daq.logbook import Logbook, verify
from daq.measure.gauges import Gauge
from daq.measure.station import Station
from daq.screen.job_run import Command
from daq.screen.study_run import StudyRun
from drivers.profiles import load_profile
from simulated_devices import Bench, SimulatedGauge
from tests.daq.report.reading import closed_up, html_text, pdf_text
from tests.end_to_end.road import steady

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminals")

SPEED = 25.0
MOST_S = 30.0
PROFILE = "marked-crc"
PLAN = """
[study]
title = "ring grooves"
design = "crossed"
parts = ["1", "2", "3"]
appraisers = ["Ada", "Ben"]
trials = 2
tolerance = "0.5 mm"
seed = 7
"""
PARTS_MM = {"1": 12.10, "2": 12.34, "3": 12.52}
OFF_MM = {"Ada": 0.0, "Ben": 0.004}


def clock():
    """The gauge's own time, faster than real."""
    return time.monotonic() * SPEED


class Appraiser:
    """Lifts the plunger, places the part, and goes on when the screen says that it is at rest."""

    def __init__(self, gauge, length_mm, *, back_at=(), lazy=False):
        self.gauge, self.length_mm = gauge, length_mm
        self.back_at, self.lazy = set(back_at), lazy
        self.view, self.task, self.since_s, self.placed = None, None, 0.0, False
        self.pressed_s, self.taken, self.notices, self.views = 0.0, 0, [], []

    def told(self, task):
        self.task, self.since_s, self.placed = task, clock(), False
        if task.kind == "measure" and not self.lazy:
            self.gauge.move_to(20.0)

    def show(self, view, _now_s):
        self.view = view
        if view.notice and view.notice not in self.notices:
            self.notices.append(view.notice)

    def commands(self):
        if self.task is None or self.view is None:
            return []
        if self.task.kind == "end":
            return [Command("go")]
        now_s = clock()
        if not self.placed and now_s - self.since_s > 0.6:
            self.gauge.move_to(self.length_mm(self.task.turn))
            self.placed, self.pressed_s = True, now_s
        if self.taken in self.back_at and self.task.done:
            self.back_at.remove(self.taken)
            return [Command("back", "slipped")]
        at_rest = self.view.bench is not None and self.view.bench.motion == "at rest"
        if self.placed and at_rest and now_s - self.pressed_s > 1.0:
            self.pressed_s = now_s
            self.taken += 1
            self.views.append(self.view)
            return [Command("go")]
        return []


@pytest.fixture
def gauge():
    return SimulatedGauge(load_profile(PROFILE), noise_mm=0.0004, seed=4)


@pytest.fixture
def bench(gauge):
    with Bench({"gauge": (gauge, None)}, speed=SPEED) as bench:
        yield bench


def length_mm(turn):
    return PARTS_MM[turn.part] + OFF_MM[turn.appraiser] + 0.001 * turn.trial


def work(book, kept, bench, person, stop_after=None):
    """One run, stopped after so many values, at the latest after ``MOST_S`` real seconds."""
    end_s = time.monotonic() + MOST_S

    def stop():
        assert time.monotonic() < end_s, person.notices
        return stop_after is not None and person.taken >= stop_after

    place = Gauge("D07", load_profile(PROFILE), bench.ports["gauge"])
    with Station([place], logbook=book, clock=clock) as station:
        run = StudyRun(
            station, book, kept, "D07", "C. Lead", person.show, person.commands, person.told, stop
        )
        run.run()


def test_a_study_that_was_interrupted_twice_ends_and_its_log_says_what_a_file_would(
    tmp_path, gauge, bench, capsys
):
    plan = study_plan_from_bytes(PLAN.encode(), "plan.toml")
    facts = {
        "gauge_label": "D07",
        "identity": "",
        "profile": PROFILE,
        "resolution_mm": Decimal("0.001"),
    }
    first = begun(plan, stamp=Stamp("C. Lead", datetime.now(UTC)), station="bench 2", gauge=facts)
    path = tmp_path / "lab.logbook"
    with Logbook.open(path) as book:
        book.append(first)
    for stop_after in (3, 4, None):
        with Logbook.open(path) as book:
            kept = kept_study(book, first.uid)
            person = Appraiser(gauge, length_mm, back_at=(2,) if stop_after is None else ())
            work(book, kept, bench, person, stop_after)
            if stop_after is not None:
                assert main(["study", "log", str(path)]) == 3
                assert "values; go on with it first" in capsys.readouterr().err
    assert verify(path).intact
    with Logbook.read(path) as book:
        kept = kept_study(book, first.uid)
    assert kept.ended.how == "complete"
    assert len(kept.points) == 13  # one was taken again
    for place, turn in enumerate(first.order, 1):
        point = kept.standing_points[place]
        assert (point.part, point.appraiser, point.trial) == (turn.part, turn.appraiser, turn.trial)
        assert float(point.value_mm) == pytest.approx(length_mm(turn), abs=0.002)
    _check_the_log(path, tmp_path, kept, capsys)


def _check_the_log(path, tmp_path, kept, capsys):
    """What study log gives is what study file gives of the same values."""
    files = [str(tmp_path / f"r.{ending}") for ending in ("csv", "html", "pdf")]
    words = ["--json", "--csv", files[0], "--html", files[1], "--pdf", files[2]]
    assert main(["study", "log", str(path), *words]) == 0
    from_log = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    assert Path(files[0]).read_text("utf-8") == csv_of(kept)
    assert main(["study", files[0], "--json", "--tolerance", "0.5 mm"]) == 0
    assert [json.loads(line) for line in capsys.readouterr().out.splitlines()] == from_log
    components = {each["name"]: each["sd"] for each in from_log[0]["components"]}
    assert components["part"] == pytest.approx(0.21, abs=0.01)
    assert components["reproducibility"] == pytest.approx(0.0028, abs=0.001)
    html = html_text(Path(files[1]).read_text("utf-8"))
    paper = closed_up(pdf_text(Path(files[2]).read_bytes()))
    for said in ("ring grooves", "C. Lead", str(verify(path).last_hash), "D07", "complete"):
        assert closed_up(said) in html
        assert closed_up(said) in paper
    assert main(["study", "log", str(path), "--list"]) == 0
    assert "ring grooves: crossed, D07, 12 of 12 values, complete" in capsys.readouterr().out
    assert main(["study", "log", str(path), "--study", "nobody"]) == 3
    assert "holds no such study" in capsys.readouterr().err


def test_a_part_that_was_not_placed_anew_is_not_taken(tmp_path, gauge, bench):
    plan = study_plan_from_bytes(PLAN.encode(), "plan.toml")
    facts = {"gauge_label": "D07", "identity": "", "profile": PROFILE}
    first = begun(
        plan,
        stamp=Stamp("C. Lead", datetime.now(UTC)),
        station="bench 2",
        gauge={**facts, "resolution_mm": Decimal("0.001")},
    )
    with Logbook.open(tmp_path / "log") as book:
        book.append(first)
        kept = KeptStudy(first)
        person = Appraiser(gauge, lambda _: 12.34, lazy=True)
        work(book, kept, bench, person, stop_after=3)
    assert len(kept.points) == 1
    assert person.notices == ["the plunger was not seen to move since the last value; lift it"]


def test_the_appraiser_sees_no_earlier_value(tmp_path, gauge, bench):
    plan = study_plan_from_bytes(PLAN.encode(), "plan.toml")
    facts = {"gauge_label": "D07", "identity": "", "profile": PROFILE}
    first = begun(
        plan,
        stamp=Stamp("C. Lead", datetime.now(UTC)),
        station="bench 2",
        gauge={**facts, "resolution_mm": Decimal("0.001")},
    )
    with Logbook.open(tmp_path / "log") as book:
        book.append(first)
        person = Appraiser(gauge, length_mm)
        work(book, KeptStudy(first), bench, person, stop_after=8)
    assert len(person.views) == 8
    assert all(view.more == () for view in person.views)
    assert all(not view.bench.last_capture for view in person.views)


STABILITY = '[study]\ntitle = "ring R4"\ndesign = "stability"\nparts = ["ring R4"]\n'


def test_the_command_takes_a_session_of_a_check_standard_from_lines(tmp_path):
    (tmp_path / "plan.toml").write_text(STABILITY, "utf-8")
    book = tmp_path / "log"
    with Bench({"gauge": (steady(PROFILE, 25.0), None)}) as bench:
        words = ["study", "run", str(tmp_path / "plan.toml"), "--logbook", str(book)]
        words += ["--gauge", f"{PROFILE}@{bench.ports['gauge']}", "--operator", "C. Lead"]
        program = subprocess.Popen(
            [sys.executable, "-m", "daq.cli", *words],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
            cwd=Path(__file__).parents[2],
        )
        try:
            end_s = time.monotonic() + MOST_S
            while program.poll() is None and time.monotonic() < end_s:
                try:
                    program.stdin.write("go\n")
                    program.stdin.flush()
                except BrokenPipeError:
                    break
                with suppress(subprocess.TimeoutExpired):
                    program.wait(timeout=0.5)
            out, _ = program.communicate(timeout=5)
        finally:
            program.kill()
    assert program.returncode == 0
    assert "0/1  ring R4: Place the check standard as always" in out
    assert "1 value is in the logbook. To see what it comes to: restpoint study log" in out
    with Logbook.read(book) as reader:
        [first] = studies_in(reader)
        [point] = kept_study(reader, first.uid).points
    assert float(point.value_mm) == pytest.approx(25.0)
    assert (point.part, point.place, point.operator) == ("ring R4", 1, "C. Lead")


def test_a_bad_plan_begins_no_logbook(tmp_path, capsys):
    (tmp_path / "plan.toml").write_text(STABILITY.replace("stability", "steady"), "utf-8")
    words = ["study", "run", str(tmp_path / "plan.toml"), "--logbook", str(tmp_path / "log")]
    assert main([*words, "--gauge", f"{PROFILE}@/dev/none", "--operator", "x"]) == 3
    assert "plan.toml:3: study.design" in capsys.readouterr().err
    words[2] = str(tmp_path / "none.toml")
    assert main([*words, "--gauge", f"{PROFILE}@/dev/none", "--operator", "x"]) == 3
    assert "none.toml cannot be read" in capsys.readouterr().err
    assert not (tmp_path / "log").exists()


def test_a_study_is_ended_with_a_reason_and_a_new_one_may_begin(tmp_path, capsys):
    (tmp_path / "plan.toml").write_text(PLAN, "utf-8")
    path = tmp_path / "log"
    words = ["study", "run", str(tmp_path / "plan.toml"), "--logbook", str(path)]
    words += ["--operator", "C. Lead"]
    assert main([*words, "--end", "the gauge broke"]) == 2
    assert main(words) == 2
    assert not path.exists()
    plan = study_plan_from_bytes(PLAN.encode(), "plan.toml")
    facts = {"gauge_label": "D07", "identity": "", "profile": PROFILE}
    first = begun(
        plan,
        stamp=Stamp("C. Lead", datetime.now(UTC)),
        station="bench 2",
        gauge={**facts, "resolution_mm": Decimal("0.001")},
    )
    with Logbook.open(path) as book:
        book.append(first)
    assert main([*words, "--end", " "]) == 2
    assert main([*words, "--end", "the gauge broke"]) == 0
    assert "The study is broken off: the gauge broke." in capsys.readouterr().out
    assert main([*words, "--end", "again"]) == 2
    assert "has no open study by" in capsys.readouterr().err
    assert main(["study", "log", str(path), "--list"]) == 0
    assert "0 of 12 values, broken off" in capsys.readouterr().out


def test_nothing_is_made_of_a_logbook_that_is_not_whole(tmp_path, capsys):
    kept = Path(__file__).parents[1] / "data" / "logbook_format_study_1.sqlite"
    path = tmp_path / "log"
    path.write_bytes(kept.read_bytes())
    words = ["study", "log", str(path), "--study", "ec37010b-3679-4471-9b73-459027ca4b55"]
    assert main(words) == 0
    assert "2 parts, 2 operators, 2 trials" in capsys.readouterr().out
    path.write_bytes(kept.read_bytes().replace(b"12.344", b"12.345"))
    assert main([*words, "--html", str(tmp_path / "r.html")]) == 3
    said = capsys.readouterr()
    assert "is not as restpoint left it" in said.err
    assert said.out == ""
    assert not (tmp_path / "r.html").exists()

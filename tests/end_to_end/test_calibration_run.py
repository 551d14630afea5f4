"""A guided calibration on a simulated gauge, faster than real: what is found is true, slips are
caught, and one that is killed, stopped and unplugged goes on to its end.
"""

import json
import os
import select
import subprocess
import sys
import threading
import time
from datetime import UTC, datetime
from multiprocessing.managers import BaseManager
from pathlib import Path

import pytest

from daq.calibration.kept import calibrations_in, kept_calibration
from daq.cli import main
from daq.cli.demo_calibration import Watching, off_truth, run_lab, work_on
from daq.cli.demo_calibrator import WHAT_WAS_DONE
from daq.cli.demo_job import Pace
from daq.cli.demo_lab import LABEL, demo_lab
from daq.logbook import Logbook, verify
from daq.logbook.calibration import CalibrationGate, CalibrationPoint, CalibrationResult
from daq.screen.calibration_run import Command
from simulated_devices import Bench
from simulated_devices.calibration_hand import RigHand, RigSlips
from tests.end_to_end.road import json_lines

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminals")

SPEED = 25.0
MOST_S = 30.0
"""Real seconds after which a run is given up."""

PLAN = """
[plan]
title = "Short"
revision = "1"
range = "10 mm"
points = ["0 mm", "5 mm", "10 mm"]
soak = 0

[partial]
over = "1 mm"
points = ["1 mm", "1.4 mm", "2 mm"]

[[repeats]]
at = "5 mm"
times = 5
"""
POINTS = 17
"""Readings that the plan asks for in each run."""

NO_SLIPS = RigSlips(takes={})


def lab(slips=NO_SLIPS):
    return demo_lab(datetime.now(UTC).date(), PLAN, slips)


def in_time():
    end_s = time.monotonic() + MOST_S
    return lambda: time.monotonic() > end_s


def kept_in(path):
    """The only calibration in a logbook, which must be whole."""
    assert verify(path).intact
    with Logbook.read(path) as book:
        (begun,) = calibrations_in(book)
        return kept_calibration(book, begun.uid)


def of_kind(kept, kind):
    return [each for each in kept.records if isinstance(each, kind)]


# Slips: one process, the hand errs.

SLIPS = RigSlips(
    passes=frozenset({2, 9}),
    takes={5: (8,)},
    unit=frozenset({4}),
    stays=frozenset({14}),
    battery=frozenset({6}),
)


@pytest.fixture
def flawed(monkeypatch, tmp_path, capsys):
    """The demo command with the short plan and a hand that slips; what came of it."""
    outcomes = []

    def kept(*args, **more):
        outcomes.append(run_lab(*args, **more))
        return outcomes[-1]

    monkeypatch.setattr("daq.cli.demo_calibration.demo_lab", lambda _: lab(SLIPS))
    monkeypatch.setattr("daq.cli.demo_calibration.run_lab", kept)
    path = tmp_path / "demo.logbook"
    words = ["demo", "--calibration", "--json", "--logbook", str(path), "--speed", str(SPEED)]
    return main(words), json_lines(capsys.readouterr().out)[-1], outcomes[0], path


def test_every_slip_is_caught_and_what_is_found_is_true(flawed):
    status, said, outcome, path = flawed
    assert said["problems"] == []
    assert all(said["caught"].values()), said["caught"]
    assert (status, said["as_found"], said["as_left"]) == (0, "fail", "pass")
    kept = kept_in(path)
    points = of_kind(kept, CalibrationPoint)
    assert [each.place for each in points] == [*range(1, POINTS + 1)] * 2
    assert not any(each.insisted for each in points)
    assert len(kept.captures) == 2 * POINTS  # nothing that was refused was kept
    assert kept.ended.authorised_by == "M. Lind"
    assert [each.said for each in of_kind(kept, CalibrationGate) if each.gate == "adjusted"] == [
        WHAT_WAS_DONE
    ]
    names = {Path(each).suffix for each in said["certificate"]}
    assert {".html", ".csv"} <= names
    assert all(Path(each).exists() for each in said["certificate"])

    # Held against a gauge that errs otherwise, what was found is not true, and that is said.
    found = of_kind(kept, CalibrationResult)[0]
    swapped = found.model_copy(update={"run": "as left"})
    assert off_truth(outcome.lab, kept.prepared(), found) == []
    assert len(off_truth(outcome.lab, kept.prepared(), swapped)) > POINTS / 2


def test_a_clean_hand_is_never_told_that_it_erred(tmp_path):
    outcome = run_lab(tmp_path / "a.logbook", lab(), Watching(stop=in_time()), speed=SPEED, seed=4)
    assert outcome.problems() == []
    assert {each for each in outcome.person.caught if "still moving" not in each} == set()


def test_one_that_was_stopped_is_not_as_it_should_be(tmp_path):
    at_once = Watching(stop=lambda: True)
    outcome = run_lab(tmp_path / "a.logbook", lab(), at_once, speed=SPEED)
    assert outcome.problems() == ["it was stopped with 0 points taken"]
    assert not any(outcome.caught().values())


def test_a_gauge_that_was_unplugged_has_to_show_what_it_showed_before(tmp_path):
    path, own = tmp_path / "a.logbook", lab()
    pace = Pace(SPEED)
    rig = own.rig(2, pace.now_s)
    with Bench({LABEL: (rig.gauge, None)}) as bench:

        def told(asked):
            wanted = asked.task.wanted
            if wanted is not None and wanted.stop.place == 4 and asked.task.kind == "point":
                if "pulled" not in done:
                    bench.pull(LABEL)
                done.add("pulled")

        def show(view, _now_s):
            out = view.bench is not None and view.bench.link_state == "cable out"
            if out and "plugged in" not in done:
                done.add("plugged in")
                bench.plug_in(LABEL)

        done = set()
        watching = Watching(show=show, told=told, stop=in_time())
        outcome = work_on(path, own, rig, RigHand(rig), bench.ports[LABEL], pace, watching)
    assert outcome.problems() == []
    found = [each for each in kept_in(path).records if getattr(each, "run", "") == "as found"]
    conditions = [each for each in found if getattr(each, "gate", "") == "conditions"]
    returned = [each for each in found if getattr(each, "is_return", False)]
    assert (len(conditions), [each.place for each in returned]) == (2, [3])


# Killed: the gauge on its rig is one process, the person with the program another.


class World(BaseManager):
    """Where the rig is, for another process."""


KEY = b"loopback only"


def serve_rig(seed):
    """Run the rig's gauge on a bench in this process until the standard input ends."""
    pace = Pace(SPEED)
    rig = lab().rig(int(seed), pace.now_s)
    World.register("rig", callable=lambda: rig)
    with Bench({LABEL: (rig.gauge, None)}) as bench:
        server = World(("127.0.0.1", 0), KEY).get_server()
        threading.Thread(target=server.serve_forever, daemon=True).start()
        print(json.dumps({"address": server.address, "port": bench.ports[LABEL]}), flush=True)
        sys.stdin.read()


def work(path, served, quit_after):
    """Calibrate on the rig in that other process; print each point's uid when it is kept.

    After ``quit_after`` points somebody presses q.
    """
    world = json.loads(served)
    append_many, kept = Logbook.append_many, []

    def acknowledged(book, records):
        entries = append_many(book, records)
        kept.extend(each.uid for each in records if each.kind == "calibration point")
        os.write(1, "".join(f"{each.uid}\n" for each in records).encode())
        return entries

    def commands():
        return [Command(kind="quit")] if len(kept) >= int(quit_after) else []

    Logbook.append_many = acknowledged
    World.register("rig")
    manager = World(tuple(world["address"]), KEY)
    manager.connect()
    rig = manager.rig()
    watching = Watching(commands=commands, stop=in_time())
    work_on(Path(path), lab(), rig, RigHand(rig), world["port"], Pace(SPEED), watching)


def process(call, *words):
    """A process that calls one of the functions above."""
    program = f"import sys; from tests.end_to_end.test_calibration_run import {call}; "
    return subprocess.Popen(
        [sys.executable, "-c", f"{program}{call}(*sys.argv[1:])", *map(str, words)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        cwd=Path(__file__).parents[2],
    )


@pytest.fixture
def world():
    """A rig in a process of its own; what a worker has to know of it."""
    with process("serve_rig", 6) as serving:
        try:
            yield serving.stdout.readline()
        finally:
            serving.stdin.close()
            serving.wait(10)


def test_one_that_is_killed_and_then_stopped_goes_on_to_its_end(tmp_path, world):
    path, acknowledged = tmp_path / "a.logbook", []
    with process("work", path, world, 1000) as worker:  # killed in the middle of the way up
        acknowledged += [worker.stdout.readline().strip() for _ in range(14)]
        worker.kill()
        acknowledged += worker.stdout.read().split()
    before = len(of_kind(kept_in(path), CalibrationPoint))
    assert 4 <= before < POINTS
    assert kept_in(path).ended is None

    with process("work", path, world, 5) as worker:  # stopped by q after five more
        acknowledged += worker.stdout.read().split()
        assert worker.wait(MOST_S) == 0
    stopped = kept_in(path)
    assert len(of_kind(stopped, CalibrationPoint)) == before + 5
    assert stopped.ended is None

    with process("work", path, world, 1000) as worker:
        acknowledged += worker.stdout.read().split()
        assert worker.wait(MOST_S) == 0
    kept = kept_in(path)
    assert (kept.ended.how, kept.ended.as_found, kept.ended.as_left) == ("complete", "fail", "pass")
    assert set(acknowledged) <= {kept.begun.uid, *kept.sequences, *register_uids(path)}

    points = of_kind(kept, CalibrationPoint)
    counted = [each.place for each in points if not each.is_return]
    assert counted == [*range(1, POINTS + 1)] * 2  # nothing twice, nothing left out
    assert 1 <= len(points) - len(counted) <= 2  # a stop after the way down needs no return
    runs = of_kind(kept, CalibrationResult)
    assert [each.run for each in runs] == ["as found", "as left"]
    for result in runs:
        assert off_truth(lab(), kept.prepared(), result) == []

    place = tmp_path / "certificates"
    words = [kept.ended.certificate, "--logbook", str(path), "--html", "--pdf", "--csv"]
    assert main(["certificate", *words, "--output", str(place)]) == 0
    (page,) = place.glob("*.html")
    text = page.read_text("utf-8")
    assert kept.ended.certificate in text
    assert "VOID" not in text
    assert "DRAFT" not in text
    assert {each.suffix for each in place.iterdir()} == {".html", ".pdf", ".csv", ".json"}


def register_uids(path):
    with Logbook.read(path) as book:
        return {
            entry.record.uid for kind in ("gauge", "standard") for entry in book.entries(kind=kind)
        }


# The command itself, in real time, with lines of text in the place of keys.


def test_the_command_takes_a_point_refuses_a_wrong_temperature_and_stays_open(tmp_path):
    path, plan, own = tmp_path / "lab.logbook", tmp_path / "short.toml", lab()
    plan.write_text(PLAN)
    with Logbook.open(path) as book:
        book.append_many(own.entries(datetime.now(UTC)))
    rig = own.rig(1)
    rig.go_to(0.0)
    words = ["calibrate", LABEL, "--logbook", path, "--standard", "blocks-1", "--plan", plan]
    with Bench({"gauge": (rig.gauge, None)}) as bench:
        words += ["--port", bench.ports["gauge"], "--operator", "M. Lind"]
        with subprocess.Popen(
            [sys.executable, "-m", "daq.cli", *map(str, words)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
            cwd=Path(__file__).parents[2],
        ) as program:
            said = [until(program, "type it in")]
            said.append(until(program, "It is 25", "temp 25\n"))
            said.append(until(program, "set the gauge to zero", "temp 20.3\n"))
            rig.press("zero")
            said.append(until(program, "Block 1 mm: up to 1 mm", "go\n"))
            out, _ = program.communicate("quit\n", timeout=MOST_S)
    assert program.returncode == 3
    assert f"1 of {POINTS} points as found. It is open; the same command goes on with it." in out
    (point,) = of_kind(kept_in(path), CalibrationPoint)
    assert (point.place, point.temperature_c) == (1, kept_in(path).records[0].temperature_c)

    assert main(["calibrate", LABEL, "--logbook", str(path), "--operator", "M. Lind",
                 "--break-off", "the gauge fell down"]) == 0  # fmt: skip
    assert kept_in(path).ended.reason == "the gauge fell down"


def until(program, wanted, says=""):
    """The program's line that has ``wanted`` in it; ``says`` is said again until it comes."""
    end_s = time.monotonic() + MOST_S
    heard = []
    while time.monotonic() < end_s:
        if says:
            program.stdin.write(says)
            program.stdin.flush()
        while select.select([program.stdout], [], [], 6.0)[0]:
            heard.append(program.stdout.readline())
            if wanted in heard[-1]:
                return heard[-1]
            if not heard[-1]:
                raise AssertionError(f"it ended; the last lines: {heard[-4:]}")
    raise AssertionError(f"no {wanted!r}; the last lines: {heard[-4:]}")

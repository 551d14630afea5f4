"""A whole job on simulated gauges, faster than real: what is left is true, mistakes are caught,
and a fitter whose program is killed again and again ends with the same report.
"""

import json
import os
import random
import subprocess
import sys
import threading
import time
from dataclasses import replace
from multiprocessing.managers import BaseManager
from pathlib import Path

import pytest

from daq.cli import main
from daq.cli.demo_engine import DemoGauge, engine_of, place_of, truth_mm
from daq.cli.demo_fitter import Fitter
from daq.cli.demo_job import Pace, Watching, run_story, work_on
from daq.cli.demo_outcome import Outcome
from daq.cli.demo_story import Excuse, Story, demo_story
from daq.jobs.keeping import jobs_in, kept_job
from daq.jobs.sheet import sheet_from_bytes
from daq.jobs.standing import standing
from daq.logbook import Logbook, verify
from daq.report import facts_of, report_of
from simulated_devices import Bench
from simulated_devices.engine_hand import EngineHand, Flaws
from tests.end_to_end.road import json_lines, restpoint

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminals")

SPEED = 25.0
MOST_S = 45.0
"""Real seconds after which a run is given up."""

KILLS = int(os.environ.get("RESTPOINT_TEST_KILLS", "5"))
"""How often the program is killed."""

SHEET = """
[sheet]
title = "Small pump, two cylinders"
revision = "A"
rule = "simple"

[[sources]]
id = "test"
document = "Figures invented for a test"
revision = "1"

[engine]
source = "figures invented for a test"
stroke = "four"
cylinders = 2
firing_order = "1-2"
rotation = "clockwise"
seen_from = "free end"
intake_valves = 1
exhaust_valves = 1
injectors = 1

[[variants]]
name = "only one"
plate = "1500 1/min"

[[gauges]]
role = "rack"
kind = "indicator"
resolution = "0.001 mm"
range = "10 mm"
u = "0.004 mm"

[[gauges]]
role = "rocker"
kind = "indicator"
resolution = "0.001 mm"
range = "5 mm"
u = "0.004 mm"

[[steps]]
name = "rack"
what = "Rack reference length"
for_each = "cylinder"
recipe = "length"
nominal = "42.60 mm"
limits = "± 0.05 mm"
source = "test, p. 1"
condition = "pinned"
crank = "any"
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
for_each = "cylinder"
recipe = "play"
nominal = "0.36 mm"
limits = "± 0.04 mm"
source = "test, p. 2"
condition = "cold"
after = ["rack"]
crank = "any"
gauge = "rocker"
repeats = 2
lock = true
lock_shift = "0.03 mm"

[steps.adjuster]
thread = "M10x1"
clockwise = "lowers"
lever_ratio = "1.4"
"""

CLEARANCE_2 = ("clearance", "cylinder 2")

STORY = Story(
    sheet=sheet_from_bytes(SHEET.encode(), "small.toml"),
    variant="only one",
    engine="pump 1",
    operator="R. Vale",
    gauges=(
        DemoGauge("G-1", "decimal-line", ("rack",)),
        DemoGauge("G-2", "fixed-fields", ("rocker",)),
    ),
    off_mm={
        ("rack", "cylinder 1"): 0.11,
        ("rack", "cylinder 2"): -0.12,
        ("clearance", "cylinder 1"): 0.09,
        CLEARANCE_2: -0.08,
    },
)

FLAWS = Flaws(
    wrong_way={place_of("rack", "cylinder 1"): 2},
    slips_mm={place_of("rack", "cylinder 1"): 0.031},
    mistakes=(
        ("presses early", place_of("rack", "cylinder 1")),
        ("forgets to lift", "the 42.500 mm master"),
        ("knocks", place_of("rack", "cylinder 2")),
    ),
)


def stops_in_time():
    end_s = time.monotonic() + MOST_S
    return Watching(stop=lambda: time.monotonic() > end_s)


def report(path):
    """The report that is made of the only job in a logbook."""
    with Logbook.read(path) as book:
        (begun,) = jobs_in(book)
        facts = facts_of(book.entries(), book.id, begun.uid)
    return report_of(facts.standing, facts)


@pytest.fixture(scope="module")
def whole(tmp_path_factory):
    """A job by a fitter without great mistakes, worked through without a break; its logbook too."""
    path = tmp_path_factory.mktemp("whole") / "job.logbook"
    return run_story(path, STORY, stops_in_time(), seed=6, speed=SPEED), path


def test_what_was_found_is_what_the_engine_had_before_anybody_touched_it(whole):
    outcome, path = whole
    assert outcome.problems() == []
    for each in outcome.targets:
        off_mm = STORY.off_mm[each.work.planned.name, each.work.target.name]
        assert float(each.as_found.deviation) == pytest.approx(off_mm, abs=0.002)
    assert verify(path).intact
    assert report(path).outcome.status == "passed"


@pytest.fixture
def flawed(monkeypatch, tmp_path, capsys):
    """The demo command run on the small sheet, with a skip and every mistake; what came of it."""
    outcomes = []

    def kept(*args, **more):
        outcomes.append(run_story(*args, **more))
        return outcomes[-1]

    story = replace(STORY, flaws=FLAWS, skips={CLEARANCE_2: Excuse("it is worn", "M. Lind")})
    monkeypatch.setattr("daq.cli.demo_story.demo_story", lambda: story)
    monkeypatch.setattr("daq.cli.demo_job.run_story", kept)
    path = tmp_path / "demo.logbook"
    status = main(["demo", "--logbook", str(path), "--seed", "3", "--speed", str(SPEED)])
    return status, capsys.readouterr(), outcomes[0], path


def test_what_is_left_is_true_and_every_mistake_is_caught(flawed):
    status, (out, err), outcome, path = flawed
    assert outcome.job.ended
    assert outcome.job.ended.how == "complete"
    left = [each for each in outcome.targets if each.as_left is not None]
    assert len(left) == 3
    for each in left:
        assert each.passes, each.work.target
        true_mm = truth_mm(outcome.engine, each.work.planned, each.work.target)
        off_mm = abs(float(each.as_left.value) - true_mm)
        assert off_mm <= 3 * float(each.as_left.u)
        assert off_mm <= 0.002  # the display steps are 0.001 mm and 0.0005 mm, noise 0.0003 mm
    assert outcome.problems() == []
    assert all(outcome.caught().values()), outcome.caught()
    assert verify(path).intact

    (skipped,) = (each for each in outcome.job.exceptions if each.what == "skipped")
    assert (skipped.step, skipped.target) == CLEARANCE_2
    assert (skipped.reason, skipped.by) == ("it is worn", "M. Lind")
    assert report(path).outcome.status != "passed"

    assert (status, err) == (0, "")
    assert "Rack reference length: found" in out
    assert "3 of 4 left within their limits, 1 skipped or overruled with a reason" in out
    assert "is intact" in out
    assert "NOT" not in out
    assert path.with_suffix(".html").read_text("utf-8").startswith("<!")

    # After the job, behind its back: what was left is no longer true, and that is said.
    outcome.engine.loosen(place_of("rack", "cylinder 2"))
    outcome.engine.turn(place_of("rack", "cylinder 2"), -0.03)
    (problem,) = outcome.problems()
    assert problem.startswith("rack, cylinder 2: +0.0")
    assert problem.endswith("mm from the truth")


def test_no_report_is_written_over_another(tmp_path, capsys):
    (tmp_path / "demo.html").write_text("mine")
    assert main(["demo", "--logbook", str(tmp_path / "demo.logbook")]) == 2
    assert "demo.html is there already" in capsys.readouterr().err
    assert not (tmp_path / "demo.logbook").exists()


@pytest.mark.skipif(
    "RESTPOINT_TEST_WHOLE_DEMO" not in os.environ, reason="takes a minute; make demo does the same"
)
@pytest.mark.timeout(240)
def test_the_whole_demo_sheet_is_worked_through(tmp_path):
    status, out, _ = restpoint(
        "demo", "--json", "--logbook", tmp_path / "demo.logbook", timeout_s=200
    )
    *steps, end = json_lines(out)
    assert (status, end["problems"], end["intact"]) == (0, [], True)
    assert [each["step"] for each in steps] == [each.name for each in demo_story().sheet.steps]
    assert all(end["caught"].values())


def test_a_job_that_was_stopped_is_not_as_it_should_be(tmp_path):
    at_once = Watching(stop=lambda: True)
    outcome = run_story(tmp_path / "job.logbook", STORY, at_once, speed=SPEED)
    assert outcome.problems() == ["the job was stopped with 0 of 4 done"]
    assert not any(outcome.caught().values())


# Killed: the engine with its gauges is one process, the fitter with the program another.


class World(BaseManager):
    """Where the engine is, for another process."""


KEY = b"loopback only"


def serve_engine(seed):
    """Run the engine on a bench in this process until the standard input ends."""
    pace = Pace(SPEED)
    engine = engine_of(
        STORY.sheet, STORY.variant, STORY.gauges, int(seed), STORY.off_mm, pace.now_s
    )
    World.register("engine", callable=lambda: engine)
    gauges = {label: (gauge, None) for label, gauge in engine.gauges.items()}
    with Bench(gauges) as bench:
        server = World(("127.0.0.1", 0), KEY).get_server()
        threading.Thread(target=server.serve_forever, daemon=True).start()
        print(json.dumps({"address": server.address, "ports": bench.ports}), flush=True)
        sys.stdin.read()


def engine_at(address):
    """The engine in that other process, as if it were here."""
    World.register("engine")
    world = World(tuple(address), KEY)
    world.connect()
    return world.engine()


def work(path, served, seed):
    """Work on the engine in that other process; print each record's uid when it is kept."""
    world = json.loads(served)
    append_many = Logbook.append_many

    def acknowledged(book, records):
        entries = append_many(book, records)
        os.write(1, "".join(f"{each.uid}\n" for each in records).encode())
        return entries

    Logbook.append_many = acknowledged
    engine = engine_at(world["address"])
    hand = EngineHand(engine, seed=int(seed))
    work_on(Path(path), STORY, engine, hand, world["ports"], Pace(SPEED), stops_in_time())


def process(call, *words):
    """A process that calls one of the functions above."""
    program = f"import sys; from tests.end_to_end.test_demo_job import {call}; "
    return subprocess.Popen(
        [sys.executable, "-c", f"{program}{call}(*sys.argv[1:])", *map(str, words)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        cwd=Path(__file__).parents[2],
    )


@pytest.fixture
def world():
    """An engine in a process of its own; what a worker has to know of it."""
    with process("serve_engine", 6) as serving:
        try:
            yield serving.stdout.readline()
        finally:
            serving.stdin.close()
            serving.wait(10)


@pytest.mark.timeout(60 + 6 * KILLS)
def test_a_job_killed_at_any_moment_goes_on_to_the_same_report(tmp_path, world, whole):
    path, moments = tmp_path / "job.logbook", random.Random(7)
    acknowledged, killed, seed = [], 0, 0
    while True:
        seed += 1
        with process("work", path, world, seed) as worker:
            acknowledged.append(worker.stdout.readline().strip())  # it is at work now
            try:
                after_s = moments.uniform(0.0, 6 / (KILLS + 1)) if killed < KILLS else MOST_S
                worker.wait(after_s)
            except subprocess.TimeoutExpired:
                worker.kill()
                killed += 1
            acknowledged += worker.stdout.read().split()
        if worker.returncode == 0 or is_ended(path):
            break
        assert killed <= KILLS
    assert killed >= 0.8 * KILLS  # it may have been done before the last of them

    checked = verify(path)
    assert checked.intact
    with Logbook.read(path) as book:
        kept = {entry.record.uid for entry in book.entries() if hasattr(entry.record, "uid")}
        (begun,) = jobs_in(book)
        job = kept_job(book, begun.uid)
    assert set(filter(None, acknowledged)) <= kept
    engine = engine_at(json.loads(world)["address"])
    stands = standing(STORY.sheet, begun, job.records)
    fitter = Fitter(STORY, engine, EngineHand(engine))
    assert Outcome(STORY, job, stands, engine, fitter).problems() == []

    assert in_short(report(path)) == in_short(report(whole[1]))


def is_ended(path):
    """Whether the only job in a logbook was ended, if there is one yet."""
    with Logbook.read(path) as book:
        return any(entry.record.kind == "job end" for entry in book.entries())


def in_short(made):
    """What a report says of each target, to the hundredth of a millimetre that is common to all."""
    return made.outcome.status, [
        (step.name, each.name, each.state, round(each.as_found.deviation.exact, 2))
        for step in made.steps
        for each in step.targets
    ]

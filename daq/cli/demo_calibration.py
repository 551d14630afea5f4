"""The demo's calibration: a simulated person calibrates a gauge that errs, with real bytes.

Everything between the hand and the logbook is real: bytes on a real port, the station, the settler,
the calibration and its records. Time may run faster for all of it alike.
"""

import importlib.util
import math
import sys
import time
from collections.abc import Callable
from contextlib import ExitStack
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from daq.calibration.fleet import fleet_of
from daq.calibration.guided import Order, Standing
from daq.calibration.kept import KeptCalibration
from daq.cli.calibrate_opening import (
    Wanted,
    begin_calibration,
    certificate_numbers,
    due_by_fleet,
    gauge_at,
    open_calibration,
)
from daq.cli.demo_calibrator import Calibrator, WorkedRig
from daq.cli.demo_job import Pace
from daq.cli.demo_lab import LABEL, STANDARD, Lab, demo_lab
from daq.cli.job_opening import await_ports
from daq.cli.options import print_json, program, station_name
from daq.logbook import Logbook, verify
from daq.measure.capture import Bench as Place
from daq.measure.station import Station
from daq.screen.calibration_run import Asked, CalibrationRun, Command
from daq.spec import rule_from
from simulated_devices import Bench
from simulated_devices.calibration_hand import RigHand

if TYPE_CHECKING:
    from daq.calibration.plan import PreparedPlan
    from daq.logbook.calibration import CalibrationResult
    from daq.screen.calibration_view import CalibrationView

MOST_S = 1500.0
"""Seconds of the calibration's time after which nobody waits for its end any longer."""

IN_U = 1.5
"""An error that was found has to be within so many expanded uncertainties (k near 2) of the truth;
of a hundred that are stated for 95 % one is further off than three standard uncertainties."""


@dataclass(frozen=True, slots=True)
class Watching:
    """Who watches: what is shown and told, what a person asks for, whether to stop."""

    show: "Callable[[CalibrationView, float], object]" = lambda _view, _now_s: None
    told: Callable[[Asked], object] = lambda _: None
    commands: Callable[[], list[Command]] = list
    stop: Callable[[], bool] = lambda: False


@dataclass(frozen=True, slots=True)
class Outcome:
    """A calibration that was worked through, or stopped."""

    lab: Lab
    kept: KeptCalibration
    stands: Standing
    person: Calibrator

    def problems(self) -> list[str]:
        """What is not as it was to be expected, one a line; nothing if all is well."""
        ended = self.stands.ended
        if ended is None:
            return [f"it was stopped with {len(self.stands.current.points)} points taken"]
        words = (ended.as_found, ended.as_left)
        problems = [] if words == ("fail", "pass") else [f"as found and as left are {words}"]
        for run in (self.stands.as_found, self.stands.as_left):
            if run is not None and run.result is not None:
                problems += off_truth(self.lab, run.prepared, run.result)
        return problems

    def caught(self) -> dict[str, int]:
        """How often each kind of mistake was caught, by what the program said of it."""
        said = self.person.caught
        return {
            "points that were passed and come back to": sum("past" in each for each in said),
            "blocks that were not those asked for": sum("looks like" in each for each in said),
            "units that were not the gauge's": sum("display changed" in each for each in said),
            "repeats at which nothing was moved": sum(
                "not seen to move" in each or "has not left" in each for each in said
            ),
            "batteries that were low": sum("battery" in each for each in said),
        }


def off_truth(lab: Lab, plan: "PreparedPlan", result: "CalibrationResult") -> list[str]:
    """The errors that are further from the true ones than can be, one a line, from the first's on.

    A zero key takes one reading for zero, flicker and all. How far it is off is in every error, and
    is no mistake of any; so they are compared from the point at zero on, and both may be off.
    """
    rig = lab.rig(0)
    rig.adjust(lab.found if result.run == "as found" else lab.adjusted)
    first, problems = result.points[0], []
    for each in result.points:
        pieces = [part.nominal_mm for part in plan.stacks[each.nominal_mm].pieces]
        true_mm = rig.error_mm(pieces, is_down=each.direction == "down")
        off_mm = float(each.error_mm - first.error_mm) - true_mm
        if abs(off_mm) > IN_U * math.hypot(each.expanded_mm, first.expanded_mm):
            at = f"{each.nominal_mm} mm {each.direction} {result.run}"
            problems.append(f"{at}: {off_mm:+.5f} mm from the truth")
    return problems


def run_lab(
    path: Path, lab: Lab, watching: Watching, *, seed: int = 1, speed: float = 1.0
) -> Outcome:
    """Put a lab's gauge on a bench and let a person calibrate it from the beginning.

    Args:
        path: the logbook; it is begun if there is none.
        lab: what is calibrated.
        watching: who is told.
        seed: of the gauge's noise and the hand's times.
        speed: seconds of the gauge's and the program's time in one second of real time.

    Raises:
        BenchError: the port could not be made.
        LogbookError: something could not be kept.
    """
    pace = Pace(speed)
    rig = lab.rig(seed, pace.now_s)
    hand = RigHand(rig, lab.slips, seed=seed)
    with Bench({LABEL: (rig.gauge, None)}, "tcp" if sys.platform == "win32" else "pty") as bench:
        return work_on(path, lab, rig, hand, bench.ports[LABEL], pace, watching)


def work_on(
    path: Path,
    lab: Lab,
    rig: WorkedRig,
    hand: RigHand,
    port: str,
    pace: Pace,
    watching: Watching,
) -> Outcome:
    """Let a person calibrate until it ends, or until whoever watches stops it.

    A calibration in the logbook that was not ended goes on where it stands.

    Args:
        path: the logbook; it is begun if there is none, and the register is entered.
        lab: what is calibrated.
        rig: what is worked on; its gauge runs.
        hand: how well.
        port: where the gauge is read.
        pace: the time that the gauge goes by.
        watching: who is told.

    Raises:
        LogbookError: something could not be kept.
    """
    person = Calibrator(rig, hand, lab.adjusted, lab.temperature_c, lab.operator)

    def told(asked: Asked) -> None:
        watching.told(asked)
        person.told(asked)

    def show(view: "CalibrationView", now_s: float) -> None:
        person.sees(view, now_s)
        watching.show(view, now_s)
        pace.seen()

    with ExitStack() as stack:
        logbook = stack.enter_context(Logbook.open(path))
        kept = _opened(logbook, lab)
        entry = kept.gauge
        station = stack.enter_context(
            Station(
                [gauge_at(entry, port)],
                logbook=logbook,
                bench=Place(station_name(), lab.operator),
                clock=pace.now_s,
            )
        )
        await_ports(station, [entry.label])
        run = CalibrationRun(
            station,
            logbook,
            kept,
            lab.operator,
            show,
            lambda: [*watching.commands(), *person.commands()],
            due_by_fleet(fleet_of(logbook), entry.label),
            certificate_numbers(logbook),
            told,
            watching.stop,
        )
        stands = run.run()
    return Outcome(lab, kept, stands, person)


def _opened(logbook: Logbook, lab: Lab) -> KeptCalibration:
    """The calibration that is open; a new one, by the register that is entered for it."""
    there = open_calibration(logbook, LABEL)
    if there is not None:
        return there
    if not any(logbook.entries(kind="gauge")):
        logbook.append_many(lab.entries(datetime.now(UTC)))
    order = Order(rule=rule_from("simple"), station=station_name(), place="Invented laboratory")
    wanted = Wanted(LABEL, STANDARD, None, lab.the_plan)
    return begin_calibration(logbook, wanted, fleet_of(logbook), order, lab.operator)


def run(path: Path, live: bool, speed: float, seed: int, as_json: bool) -> int:
    """Calibrate a gauge that is out of its limits; the exit status of the command.

    Args:
        path: the logbook; the certificate goes beside it.
        live: on the live screen.
        speed: how many times faster than real.
        seed: of the gauge and the hand.
        as_json: print JSON.
    """
    lab = demo_lab(datetime.now(UTC).date())
    with ExitStack() as stack:
        watching = _watching(stack, live, speed, as_json)
        outcome = run_lab(path, lab, watching, seed=seed, speed=speed)
    checked = verify(path)
    files = _certificate(path, outcome) if outcome.stands.ended and checked.intact else []
    problems, caught = outcome.problems(), outcome.caught()
    ended = outcome.stands.ended
    if as_json:
        print_json(
            captured=len(outcome.kept.captures),
            as_found=ended.as_found if ended else None,
            as_left=ended.as_left if ended else None,
            caught=caught,
            problems=problems,
            records=checked.records,
            intact=checked.intact,
            logbook=str(path),
            certificate=[str(each) for each in files],
        )
    else:
        _say_goodbye(outcome, files)
        state = "intact" if checked.intact else "NOT intact"
        click.echo(f"The logbook {path} is {state}: {checked.records} records.")
        click.echo(f"  {program()} log verify {path}")
    return 0 if checked.intact and all(caught.values()) and not problems else 3


def _watching(stack: ExitStack, live: bool, speed: float, as_json: bool) -> Watching:
    """What is seen of it: the live screen, or a line now and then."""

    from daq.cli.calibrate_commands import AtTerminal, plain_tasks
    from daq.cli.taking_part import is_at_terminal

    end_s = time.monotonic() + MOST_S / speed

    def stop() -> bool:
        return time.monotonic() > end_s

    if as_json:
        return Watching(stop=stop)
    if not live:
        click.echo(
            f"A simulated person calibrates an invented gauge, {speed:g} times as fast as real."
        )
        return Watching(told=_tell, stop=stop)
    if not is_at_terminal():
        return Watching(show=plain_tasks())
    person = AtTerminal("demo")
    stack.callback(person.leave)
    person.enter()
    # No single keys but q: the simulated hand works, the person looks on.
    return Watching(
        show=lambda view, _: person.show(view, time.monotonic()),
        commands=lambda: [each for each in person.commands() if each.kind == "quit"],
    )


def _tell(asked: Asked) -> None:
    """Tell of each run as it comes to its end."""
    task = asked.task
    if task.kind in ("adjusted or not", "end"):
        click.echo(f"{task.title}: {task.words}")
        for each in task.more:
            click.echo(f"    {each}")


def _certificate(path: Path, outcome: Outcome) -> list[Path]:
    """Make the certificate beside the logbook; the files."""
    from daq.calibration.kept import kept_calibration
    from daq.report.certificate import Typed, certificate_of, proof_of
    from daq.report.certificate.files import files_for
    from daq.report.files import write_new

    with Logbook.read(path) as book:
        kept = kept_calibration(book, outcome.kept.begun.uid)
        assert kept is not None  # it was just done
        zone = kept.begun.at.astimezone().tzinfo
        assert zone is not None  # astimezone gives one
        model = certificate_of(kept, proof_of(kept, book), Typed(), zone)
    formats = ["html", "csv"]
    if importlib.util.find_spec("typst") is not None:  # it comes with restpoint[pdf]
        formats.append("pdf")
    contents = files_for(model, formats, path.parent)
    write_new(contents)
    return [*contents]


def _say_goodbye(outcome: Outcome, files: list[Path]) -> None:
    click.echo("")
    ended = outcome.stands.ended
    if ended is not None:
        click.echo(f"As found {ended.as_found}, as left {ended.as_left}; due on {ended.due}.")
        click.echo(f"{len(outcome.kept.captures)} values captured. Caught on the way:")
        for what, count in outcome.caught().items():
            click.echo(f"  {count:2} {what}")
    for problem in outcome.problems():
        click.echo(f"NOT as expected: {problem}")
    for file in files:
        click.echo(f"The certificate: {file}")

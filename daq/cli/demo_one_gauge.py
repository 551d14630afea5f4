"""The demo with one gauge at a time: four lengths under the eye of the live screen."""

import sys
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from daq.cli.options import print_json, program

if TYPE_CHECKING:
    from daq.logbook import Logbook
    from simulated_devices import Bench

CREW = "R. Vale"
"""An invented fitter; the figures below are invented too, and say so in their source."""

SOURCE = "invented figures of the demo, no engine's"


@dataclass(frozen=True, slots=True)
class Task:
    """One length of the demo: which gauge on which cylinder, and what it should be."""

    gauge: str
    profile: str
    name: str
    nominal: str
    limits: str
    thread: str
    pitch_mm: float
    start_mm: float
    aim_mm: float


TASKS = (
    Task("height-gauge", "decimal-line", "timing height, cylinder 1", "76.20 mm", "± 0.02 mm",
         "M10x1", 1.0, 76.34, 76.2),
    Task("height-gauge", "decimal-line", "timing height, cylinder 2", "76.20 mm", "± 0.02 mm",
         "M10x1", 1.0, 76.11, 76.2),
    Task("rack-gauge", "marked-crc", "rack reference, cylinder 1", "15.50 mm", "± 0.01 mm",
         "M6x0.75", 0.75, 15.42, 15.5),
    Task("stop-gauge", "modbus-registers", "fuel stop travel", "9.30 mm", "+0.05 mm -0.00 mm",
         "M8x1.25", 1.25, 9.45, 9.325),
)  # fmt: skip


def run(path: Path, live: bool, seed: int, as_json: bool) -> int:
    """Measure, adjust and capture four lengths; the exit status of the command.

    Args:
        path: the logbook.
        live: slowly, for a look.
        seed: of the simulated gauges and hands.
        as_json: print JSON.
    """
    captured = _measure(path, live, seed, as_json)
    from daq.logbook import verify

    report = verify(path)
    whole = not report.problems and captured == len(TASKS)
    if as_json:
        print_json(
            captured=captured, records=report.records, intact=not report.problems, logbook=str(path)
        )
    else:
        _say_goodbye(path, captured, report.records, not report.problems, report.last_hash or "")
    return 0 if whole else 3


def _measure(path: Path, live: bool, seed: int, as_json: bool) -> int:
    """All tasks in order on one bench; how many lengths were captured."""
    from daq.logbook import Logbook

    with ExitStack() as stack:
        logbook = stack.enter_context(Logbook.open(path))
        bench = stack.enter_context(_bench(seed, live))
        show, commands = _display(stack, as_json)
        return sum(_one_task(task, live, bench, logbook, show, commands) for task in TASKS)


def _bench(seed: int, live: bool) -> "Bench":
    from drivers.profiles import load_profile
    from simulated_devices import Bench, Hand, SimulatedGauge
    from simulated_devices.motion import Still

    gauges: dict[str, tuple[SimulatedGauge, None]] = {}
    for number, task in enumerate(TASKS):
        if task.gauge not in gauges:
            hand = Hand(
                task.aim_mm,
                task.pitch_mm,
                look_s=2.5 if live else 0.9,
                turns_s=0.08 if live else 0.3,
                good_enough_mm=0.0015,
                seed=seed + number,
            )
            hand.doing = "done"
            gauges[task.gauge] = (
                SimulatedGauge(
                    load_profile(task.profile),
                    Still(task.start_mm),
                    hand=hand,
                    noise_mm=0.0003,
                    seed=seed + number,
                ),
                None,
            )
    return Bench(dict(gauges), "tcp" if sys.platform == "win32" else "pty")


def _display(stack: ExitStack, as_json: bool) -> tuple[Any, Any]:
    from daq.cli.at_bench import display

    shown = display(stack, as_json, shows_captures=True)
    return shown.show, shown.commands


def _one_task(
    task: Task, live: bool, bench: "Bench", logbook: "Logbook", show: Any, commands: Any
) -> int:
    """Measure, adjust and capture one length; 1 if it was captured."""
    from daq.cli.options import station_name
    from daq.measure.capture import Bench as Place
    from daq.measure.gauges import Gauge
    from daq.measure.station import Station
    from daq.screen.bench import BenchRun
    from daq.spec import Adjuster, SimpleAcceptance, Spec
    from drivers.profiles import load_profile

    spec = Spec.of(task.name, nominal=task.nominal, limits=task.limits, source=SOURCE)
    gauge = Gauge(task.gauge, load_profile(task.profile), bench.ports[task.gauge])
    place = Place(station_name(), CREW)
    end_s = time.monotonic() + 25.0
    with (
        Station([gauge], spec, SimpleAcceptance(), logbook, place) as station,
        _set_up(bench, task) as hand_is_done,
    ):
        news = BenchRun(
            gauge.label,
            show,
            commands,
            when="in limits",
            ready=hand_is_done,
            count=1,
            adjuster=Adjuster.of(thread=task.thread, clockwise="raises"),
            stop=lambda: time.monotonic() >= end_s,
            linger_s=1.5 if live else 0.0,
        ).run(station)
    return news.captured


@contextmanager
def _set_up(bench: "Bench", task: Task) -> Iterator[Any]:
    """The part is put in, off by something, and the hand begins; asks whether it has finished."""
    gauge = bench.gauge(task.gauge)
    hand = gauge.hand
    assert hand is not None
    with bench.still():
        hand.moved_mm = task.start_mm - TASKS[[t.gauge for t in TASKS].index(task.gauge)].start_mm
        hand.go_on(task.aim_mm)
    yield lambda: hand.doing == "done"


def _say_goodbye(path: Path, captured: int, records: int, intact: bool, last_hash: str) -> None:
    click.echo("")
    click.echo(f"{captured} of {len(TASKS)} lengths captured on simulated gauges.")
    state = "intact" if intact else "NOT intact"
    click.echo(f"The logbook {path} is {state}: {records} records, last hash {last_hash[:16]}…")
    click.echo("Look at it:")
    for line in (
        f"log show {path}",
        f"log verify {path}",
        f"log export {path} captures.csv",
        "demo --one-gauge --live  (slowly, on a terminal)",
        "demo                     (a whole job)",
        "simulate adjusting       (then, in another window, what it prints)",
    ):
        click.echo(f"  {program()} {line}")

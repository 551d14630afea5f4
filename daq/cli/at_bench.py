"""What watch, capture and the bench page share: gauges, a specification, screens or lines."""

import sys
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

import click

from daq.cli.bench_lines import JsonLines, PlainLines, print_capture, show_nothing
from daq.cli.options import adjuster_from, gauge_from, station_name, wanted_from
from daq.cli.register_status import asking
from daq.cli.taking_part import Part, together
from daq.logbook import Logbook
from daq.measure.capture import Bench
from daq.measure.station import Station
from daq.screen.allowing import Allowing
from daq.screen.bench import BenchRun, Command, When
from daq.screen.choosing import Choosing
from daq.screen.view import BenchView
from drivers.reader import Happening, traced
from drivers.trace import write_raw

if TYPE_CHECKING:
    from daq.measure.gauges import Gauge

BenchPart = Part[BenchView, Command, object]
Beside = Callable[[ExitStack, Choosing], BenchPart]
"""Takes part beside whoever sits at the terminal; made before the terminal is drawn on."""


def run_bench(
    gauge_texts: Sequence[str],
    options: dict[str, Any],
    *,
    when: When,
    logbook: Logbook | None,
    count: int | None,
    operator: str = "",
    beside: Beside | None = None,
    seen: Callable[[BenchPart], BenchPart] = lambda part: part,
) -> int:
    """Run the bench until its count, its time or its user ends it. One gauge at a time is shown.

    ``beside`` makes what takes part beside the terminal; ``seen`` is what the terminal sees of it.

    Where nobody is there to be asked, it ends when the register says that the gauge may not be used
    and no reason was given for using it all the same.

    Returns:
        The exit status: 3 if a number of captures was asked for and not reached, or if nothing
        could be captured with the gauge that was shown last.

    Raises:
        RestpointError: what the user asked for cannot be had; the message says why.
    """
    wanted = wanted_from(options)
    gauges = [gauge_from(text, options["gauges_file"]) for text in gauge_texts]
    choosing = Choosing(_labels(gauges))
    allowing = _allowing(choosing, options, logbook)
    with ExitStack() as stack:
        own = [beside(stack, choosing)] if beside is not None else []
        as_json = options["as_json"]
        part = together(seen(display(stack, as_json, shows_captures=when != "never")), *own)
        record = _recorder(stack, options["trace_file"])
        bench = Bench(station_name(), operator)
        spec, rule = wanted.spec, wanted.rule
        station = stack.enter_context(Station(gauges, spec, rule, logbook, bench, record=record))
        work = _Work(options, when, count, part, choosing, allowing)
        work.run(station)
    if logbook is not None and not as_json:
        click.echo(f"{work.captured} captured in {logbook.path}.")
    if when != "never" and _is_refused(allowing[choosing.label], choosing.label):
        return 3
    return 3 if count is not None and work.captured < count else 0


def _labels(gauges: "Sequence[Gauge]") -> tuple[str, ...]:
    """The labels of the gauges.

    Raises:
        click.UsageError: one gauge is named twice.
    """
    labels = tuple(gauge.label for gauge in gauges)
    for label in labels:
        if labels.count(label) > 1:
            raise click.UsageError(f"{label} is named twice. Name each gauge once.")
    return labels


def _allowing(
    choosing: Choosing, options: dict[str, Any], logbook: Logbook | None
) -> dict[str, Allowing]:
    """By label, what the register says of each gauge."""
    although = options.get("although") or ""
    return {
        label: Allowing(asking(label, options["register_file"], logbook), although)
        for label in choosing.labels
    }


@dataclass(slots=True)
class _Work:
    """One run after the other on the same station: the gauge that was chosen is shown."""

    options: dict[str, Any]
    when: When
    count: int | None
    part: BenchPart
    choosing: Choosing
    allowing: dict[str, Allowing]
    is_over: bool = False
    runs: dict[str, BenchRun] = field(default_factory=dict)
    _end_s: float = float("inf")

    def __post_init__(self) -> None:
        for_s = self.options["for_s"]
        self._end_s = float("inf") if for_s is None else time.monotonic() + for_s

    def run(self, station: Station) -> None:
        """Show the gauge that is chosen, until somebody has had enough."""
        while not self.is_over:
            label = self.choosing.label
            run = self.runs.setdefault(label, self._run(label))
            if self.count is not None:
                run.count = self.count - (self.captured - run.news.captured)
            run.run(station)
            self.is_over = self.is_over or label == self.choosing.label

    @property
    def captured(self) -> int:
        """How many values were captured, with all gauges."""
        return sum(run.news.captured for run in self.runs.values())

    def _run(self, label: str) -> BenchRun:
        as_json = self.options["as_json"]
        return BenchRun(
            label,
            self._show,
            self._commands,
            when=self.when,
            adjuster=adjuster_from(self.options),
            on_capture=print_capture if as_json else lambda *_: None,
            stop=lambda: self._stops(label),
            linger_s=1.0 if sys.stdout.isatty() else 0.0,
            allowing=self.allowing[label],
            due=self.part.due,
        )

    def _stops(self, label: str) -> bool:
        if time.monotonic() >= self._end_s:
            self.is_over = True
        return self.is_over or self.choosing.label != label or self._is_in_vain(label)

    def _is_in_vain(self, label: str) -> bool:
        """Whether nothing is captured until somebody confirms, and nobody is there to do it."""
        nobody = self.part.commands is tuple and self.when != "never"
        return nobody and self.allowing[label].waits

    def _show(self, view: BenchView, now_s: float) -> None:
        if len(self.choosing.labels) > 1 and not view.doubt:
            view = replace(view, keys=f"n next gauge  {view.keys}")
        self.part.show(view, now_s)

    def _commands(self) -> Iterator[Command]:
        for command in self.part.commands():
            if command == "no":
                self.choosing.next()
            else:
                self.is_over = self.is_over or command == "quit"
                yield command


def _is_refused(allowing: Allowing, label: str) -> bool:
    """Say how the gauge stands, and whether that is why nothing is captured with it."""
    status = allowing.status
    if status is not None and status.standing != "in date":
        click.echo(status.words, err=True)
    if allowing.waits:
        click.echo(f"Nothing is captured with {label}, unless: --although REASON.", err=True)
    return allowing.waits


def display(stack: ExitStack, as_json: bool, shows_captures: bool = False) -> BenchPart:
    """How views are shown, and where a person's commands come from.

    Args:
        stack: closes the screen and gives the keyboard back.
        as_json: print objects instead.
        shows_captures: with ``as_json``, print captures alone and not every change.
    """
    from rich.console import Console

    from daq.screen.terminal import Screen, can_draw

    console = Console()
    if as_json or not can_draw(console):
        return Part(_plain(as_json, shows_captures))
    from daq.screen.keys import Keys

    keys = stack.enter_context(Keys())
    screen = stack.enter_context(Screen(console))
    return Part(screen.show, lambda: keys.pressed(time.monotonic()), due=screen.due)


def _plain(as_json: bool, shows_captures: bool) -> Callable[[BenchView, float], object]:
    """A display for an output that is no terminal."""
    if not as_json:
        return PlainLines(sys.stdout)
    return show_nothing if shows_captures else JsonLines()


def _recorder(stack: ExitStack, path: Any) -> Any:
    """Where arrivals are kept as a raw trace; None if they are not."""
    if path is None:
        return None
    file = stack.enter_context(path.open("w", encoding="utf-8", newline=""))
    write_raw(file, ())

    def record(happening: Happening) -> None:
        write_raw(file, [traced(happening)], header=False)

    return record

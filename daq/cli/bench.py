"""What watch and capture share: a gauge, a specification, and a screen or plain lines."""

import sys
import time
from contextlib import ExitStack
from typing import IO, Any

import click

from daq.cli.options import adjuster_from, gauge_from, print_json, station_name, wanted_from
from daq.cli.register_status import asking
from daq.logbook import Entry, Logbook
from daq.measure.capture import Bench
from daq.measure.events import Captured
from daq.measure.station import Station
from daq.screen.allowing import Allowing
from daq.screen.bench import BenchRun, When
from daq.screen.view import BenchView
from daq.screen.words import plain_line
from drivers.reader import Happening, traced
from drivers.trace import write_raw


def run_bench(
    gauge_text: str,
    options: dict[str, Any],
    *,
    when: When,
    logbook: Logbook | None,
    count: int | None,
    operator: str = "",
) -> int:
    """Run the bench on one gauge until its count, its time or its user ends it.

    Where nobody is there to be asked, it ends when the register says that the gauge may not be used
    and no reason was given for using it all the same.

    Returns:
        The exit status: 3 if a number of captures was asked for and not reached, or if nothing
        could be captured with this gauge.

    Raises:
        RestpointError: what the user asked for cannot be had; the message says why.
    """
    wanted, gauge = wanted_from(options), gauge_from(gauge_text, options["gauges_file"])
    end_s = None if options["for_s"] is None else time.monotonic() + options["for_s"]
    ask = asking(gauge.label, options["register_file"], logbook)
    allowing = Allowing(ask, options.get("although") or "")
    with ExitStack() as stack:
        show, commands = display(stack, options["as_json"], shows_captures=when != "never")
        is_alone = commands is tuple and when != "never"
        record = _recorder(stack, options["trace_file"])
        station = stack.enter_context(
            Station(
                [gauge],
                wanted.spec,
                wanted.rule,
                logbook,
                Bench(station_name(), operator),
                record=record,
            )
        )
        run = BenchRun(
            gauge.label,
            show,
            commands,
            when=when,
            count=count,
            adjuster=adjuster_from(options),
            on_capture=_print_capture if options["as_json"] else lambda *_: None,
            stop=lambda: (
                (is_alone and allowing.waits) or (end_s is not None and time.monotonic() >= end_s)
            ),
            linger_s=1.0 if sys.stdout.isatty() else 0.0,
            allowing=allowing,
        )
        news = run.run(station)
    if logbook is not None and not options["as_json"]:
        click.echo(f"{news.captured} captured in {logbook.path}.")
    if when != "never" and _is_refused(allowing, gauge.label):
        return 3
    return 3 if count is not None and news.captured < count else 0


def _is_refused(allowing: Allowing, label: str) -> bool:
    """Say how the gauge stands, and whether that is why nothing is captured with it."""
    status = allowing.status
    if status is not None and status.standing != "in date":
        click.echo(status.words, err=True)
    if allowing.waits:
        click.echo(f"Nothing is captured with {label}, unless: --although REASON.", err=True)
    return allowing.waits


def display(stack: ExitStack, as_json: bool, shows_captures: bool = False) -> tuple[Any, Any]:
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
        return _plain(as_json, shows_captures), tuple
    from daq.screen.keys import Keys

    keys = stack.enter_context(Keys())
    screen = stack.enter_context(Screen(console))
    return screen.show, lambda: keys.pressed(time.monotonic())


class JsonLines:
    """Prints an object whenever the length or what is said of it has changed."""

    def __init__(self) -> None:
        self._said: tuple[object, ...] = ()

    def __call__(self, view: BenchView, now_s: float) -> None:
        """Print ``view`` if there is news in it; ``t_s`` is on the clock of the readings."""
        shown_mm = view.shown_mm
        now = (
            shown_mm,
            view.link_state,
            view.is_fresh,
            view.motion,
            view.outcome,
            view.notice,
            view.standing,
        )
        if now == self._said:
            return
        self._said = now
        print_json(
            t_s=round(now_s, 6),
            gauge=view.gauge_label,
            link=view.link_state if view.is_fresh or view.link_state != "live" else "no signal",
            length_mm=None if shown_mm is None else float(view.length_mm or 0),
            deviation_mm=None if shown_mm is None or view.nominal_mm is None else float(shown_mm),
            motion=view.motion if view.is_fresh else None,
            outcome=view.outcome if view.is_fresh else None,
            u_mm=view.u_mm if view.is_fresh else None,
            guidance=view.guide_words if view.is_fresh else "",
            notice=view.notice,
            calibration=view.standing,
        )
        sys.stdout.flush()


def _plain(as_json: bool, shows_captures: bool) -> Any:
    """A display for an output that is no terminal."""
    if not as_json:
        return PlainLines(sys.stdout)
    return _show_nothing if shows_captures else JsonLines()


def _show_nothing(_view: BenchView, _now_s: float) -> None:
    """Captures are printed as they are kept; nothing else."""


class PlainLines:
    """Prints a line whenever what it says has changed in more than the last digits."""

    def __init__(self, out: IO[str]) -> None:
        self._out = out
        self._said: tuple[object, ...] = ()

    def __call__(self, view: BenchView, _now_s: float) -> None:
        """Print ``view`` if there is news in it."""
        now = (
            view.is_fresh,
            view.link_state,
            view.motion,
            view.outcome,
            view.captured,
            view.notice,
            view.standing,
        )
        if now != self._said:
            self._said = now
            print(plain_line(view), file=self._out, flush=True)


def _recorder(stack: ExitStack, path: Any) -> Any:
    """Where arrivals are kept as a raw trace; None if they are not."""
    if path is None:
        return None
    file = stack.enter_context(path.open("w", encoding="utf-8", newline=""))
    write_raw(file, ())

    def record(happening: Happening) -> None:
        write_raw(file, [traced(happening)], header=False)

    return record


def _print_capture(captured: Captured, entry: Entry | None) -> None:
    rest = captured.rest
    print_json(
        sequence=entry.sequence if entry else None,
        hash=entry.hash if entry else None,
        value_mm=rest.value_mm,
        u_mm=rest.u_mm,
        n=rest.n,
        outcome=rest.verdict.outcome.value if rest.verdict else None,
        trigger=captured.trigger,
    )
    sys.stdout.flush()

"""Views of the bench as lines: plain text, or an object a line."""

import sys
from typing import IO

from daq.cli.options import print_json
from daq.logbook import Entry
from daq.measure.events import Captured
from daq.screen.view import BenchView
from daq.screen.words import plain_line


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


def show_nothing(_view: BenchView, _now_s: float) -> None:
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


def print_capture(captured: Captured, entry: Entry | None) -> None:
    """Print a capture as an object."""
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

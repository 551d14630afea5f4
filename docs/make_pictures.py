"""Draws ``docs/pictures/`` with the program itself: a session is fed, its screen is drawn.

The plot of a trace is what ``restpoint replay --plot`` makes of readings that are made here.
"""

import math
import sys
import tempfile
from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path

from click.testing import CliRunner

from daq.cli import restpoint
from daq.measure.session import Session
from daq.screen.pictures import picture
from daq.screen.view import BenchView
from daq.screen.watching import News, view_of
from daq.spec import Adjuster, SimpleAcceptance, Spec
from drivers.profiles import load_profile
from drivers.reading import Shown

FOLDER = Path(__file__).parent / "pictures"
STEP_S = 0.1
SPEC = Spec.of(
    "timing height, cylinder 3",
    nominal="76.20 mm",
    limits="± 0.02 mm",
    source="invented figures, no engine's",
)
KEYS = "space capture  q quit"
ADJUSTER = Adjuster.of(thread="M10x1.5", clockwise="raises")


def view_after(numbers: list[str], news: News) -> BenchView:
    """The screen after a gauge has shown these numbers, ten a second."""
    profile = load_profile("decimal-line")
    session = Session(profile, SPEC, SimpleAcceptance())
    t_s = 0.0
    session.receive(b"\r\n", t_s)
    for number in numbers:
        t_s += STEP_S
        session.receive(profile.encode(Shown(Decimal(number))), t_s)
    return view_of(session, "DI-07", "/dev/ttyUSB0", t_s + 0.04, news, ADJUSTER, KEYS)


def clicks() -> Iterator[tuple[float, float]]:
    """Times and lengths of a screw turned three times, a little too far at first; invented."""
    begins_s, from_mm = 0.0, 76.02
    frames = 0
    for to_mm, for_s in ((76.05, 5.0), (76.26, 6.0), (76.204, 7.0)):
        for frame in range(round(for_s / STEP_S)):
            t_s = frame * STEP_S
            approach_mm = (from_mm - to_mm) * math.exp(-t_s / 0.25)
            # The last digit flickers in an order that is always the same.
            flicker_mm = 0.0008 * math.sin(7.3 * frames) * math.cos(2.1 * frames)
            frames += 1
            yield begins_s + t_s, to_mm + approach_mm + flicker_mm
        begins_s, from_mm = begins_s + for_s, to_mm


def replayed() -> str:
    """The plot that ``restpoint replay`` draws of the clicks, one wrong frame among them."""
    rows = [f"{t_s:.1f},{length_mm:.3f}" for t_s, length_mm in clicks()]
    rows[140] = "14.0,7.620"
    limits = ["--nominal", "76.20 mm", "--limits", "± 0.02 mm", "--source", SPEC.source]
    with tempfile.TemporaryDirectory() as folder:
        trace, plot = Path(folder) / "three-turns.csv", Path(folder) / "plot.svg"
        trace.write_text("\n".join(["t_s,value", *rows, ""]), "utf-8")
        words = ["replay", str(trace), "--plot", str(plot), "--name", SPEC.name, *limits]
        CliRunner().invoke(restpoint, words, catch_exceptions=False, standalone_mode=False)
        return plot.read_text("utf-8")


def pictures() -> dict[str, str]:
    """Each picture by its file's name."""
    turning = [f"{76.0 + 0.002 * step:.3f}" for step in range(60)]
    resting = ["76.203", "76.203", "76.204", "76.203"] * 20
    captured = News(captured=2, last_capture="+0.0013 mm off, U = 0.0007 mm: in")
    return {
        "live.svg": picture(view_after(turning, captured), 80, 24),
        "at-rest.svg": picture(view_after(resting, captured), 80, 24),
        "replay-plot.svg": replayed(),
    }


if __name__ == "__main__":
    FOLDER.mkdir(exist_ok=True)
    for name, svg in pictures().items():
        (FOLDER / name).write_text(svg, "utf-8")
        print(f"{FOLDER.name}/{name} drawn", file=sys.stderr)

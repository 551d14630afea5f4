"""Draws ``docs/pictures/`` with the program itself: a session is fed, its screen is drawn."""

import sys
from decimal import Decimal
from pathlib import Path

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


def pictures() -> dict[str, str]:
    """Each picture by its file's name."""
    turning = [f"{76.0 + 0.002 * step:.3f}" for step in range(60)]
    resting = ["76.203", "76.203", "76.204", "76.203"] * 20
    captured = News(captured=2, last_capture="+0.0013 mm off, U = 0.0007 mm: in")
    return {
        "live.svg": picture(view_after(turning, captured), 80, 24),
        "at-rest.svg": picture(view_after(resting, captured), 80, 24),
    }


if __name__ == "__main__":
    FOLDER.mkdir(exist_ok=True)
    for name, svg in pictures().items():
        (FOLDER / name).write_text(svg, "utf-8")
        print(f"{FOLDER.name}/{name} drawn", file=sys.stderr)

"""The comparison as Markdown: on the terminal, and between two marks in `docs/settling.md`."""

import re
from pathlib import Path

import numpy as np

from .compare import FAST_HZ, OURS
from .families import FAMILIES
from .table import COLUMNS, heading, line, summary

BEGINS, ENDS = "<!-- settling table: begins -->", "<!-- settling table: ends -->"
OVERALL = (
    *COLUMNS[:1], ("false %", "{:.1f}"), ("never resting", "{:.1f}"), *COLUMNS[2:-1],
    (f"µs to {FAST_HZ} Hz", "{:.1f}"), ("at 1 kHz", "{:.1f}"),
)  # fmt: skip
LEGEND = """\
Missed: required rests (3.5 s and longer) that were not reported before the next move. False: traces
with at least one rest reported where there was none; in a column of its own for traces that never
come to rest. Delay: from the true rest to the first report, median and 95th percentile. Error: root
mean square, over that of an oracle that knows the true instant of rest and averages every good
reading since; of the first report of a rest and of the last. Covers: reports within 2 u of the
truth. Leaves: from the part having moved by one tolerance until the rest is given up, median. Lost:
rests given up with no cause, per minute at rest. µs: processor time a reading, on the machine that
ran it."""
PICTURES = {
    "settling-delay-false.svg": "Delay and false rests of the five settlers",
    "settling-coverage.svg": "How often the 95 % interval holds the truth, by family",
    "settling-hard-families.svg": "A trace of each hard family, and what this settler said of it",
}


def overall(scores) -> str:
    """A row for each settler: traces that come to rest, those that never do, and the cost."""
    rows = [heading("over all", OVERALL)]
    for name, mine in scores.items():
        slow = [s.cost_us for s in mine if s.hz <= FAST_HZ]
        fast = [s.cost_us for s in mine if s.hz > FAST_HZ]
        resting = summary([s for s in mine if not s.never_rests])
        never = summary([s for s in mine if s.never_rests])
        costs = [float(np.mean(some)) if some else np.nan for some in (slow, fast)]
        figures = [*resting[:2], never.false_percent, *resting[2:-1], *costs]
        rows.append(line(f"**{name}**" if name == OURS else name, figures, OVERALL))
    return "\n".join(rows)


def by_family(name, mine) -> str:
    """One settler: a row for each family."""
    columns = COLUMNS[:-1]
    rows = [heading(name, columns)]
    for family in FAMILIES:
        figures = summary([s for s in mine if s.family == family])
        rows.append(line(family, figures[:-1], columns))
    return "\n".join(rows)


def by_rate(name, mine) -> str:
    """One settler: a row for each rate and display, over traces that come to rest."""
    rows = [heading(name)]
    for hz in sorted({s.hz for s in mine}):
        for coarse in (True, False):
            some = [s for s in mine if (s.hz, s.coarse, s.never_rests) == (hz, coarse, False)]
            rows.append(line(f"{hz} Hz, {'coarse' if coarse else 'fine'}", summary(some)))
    return "\n".join(rows)


def side_by_side(scores) -> str:
    """Missed and false of every settler: a row for each family."""
    rows = ["| missed % / false % | " + " | ".join(scores) + " |", "|---|" + "---|" * len(scores)]
    for family in FAMILIES:
        cells = []
        for mine in scores.values():
            s = summary([score for score in mine if score.family == family])
            missed = f"{s.missed_percent:.1f}" if np.isfinite(s.missed_percent) else "–"
            cells.append(f"{missed} / {s.false_percent:.1f}")
        rows.append(f"| {family} | " + " | ".join(cells) + " |")
    return "\n".join(rows)


def section(scores, asked) -> str:
    """All of it for the documentation; ``asked`` is the command that made it."""
    ours = scores[OURS]
    pictures = [f"![{title}](pictures/{name})" for name, title in PICTURES.items()]
    parts = [
        f"Made by `{asked}`:\n{len(ours)} traces of {len(FAMILIES)} families, on a coarse display "
        "(its step one tolerance) and\non a fine one (a hundredth). Lengths are in tolerances.",
        overall(scores), LEGEND, pictures[0],
        by_family(f"{OURS}, by family", ours), pictures[1],
        by_rate(f"{OURS}, by rate and display", ours),
        side_by_side(scores), pictures[2],
    ]  # fmt: skip
    return "\n\n".join(parts)


def marked_page(page: Path) -> str:
    """The text of ``page``, which has each mark once.

    Raises:
        SystemExit: it has not, or cannot be read.
    """
    try:
        text = page.read_text("utf-8")
    except OSError as error:
        raise SystemExit(f"{page} cannot be read: {error.strerror}.") from error
    if text.count(BEGINS) != 1 or text.count(ENDS) != 1:
        raise SystemExit(f"{page} needs the lines {BEGINS} and {ENDS} once each.")
    return text


def write_between_marks(page: Path, text: str) -> None:
    """Put ``text`` between the marks of ``page``; see ``marked_page``."""
    between = re.compile(f"{re.escape(BEGINS)}.*{re.escape(ENDS)}", re.S)
    new = between.sub(lambda _: f"{BEGINS}\n{text}\n{ENDS}", marked_page(page))
    page.write_text(new, "utf-8")

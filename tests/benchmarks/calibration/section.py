"""The figures as Markdown: on the terminal, and between two marks in `docs/uncertainty.md`."""

import re
from pathlib import Path

from .coverage import POINTS

BEGINS, ENDS = "<!-- calibration table: begins -->", "<!-- calibration table: ends -->"


def coverage_table(found) -> str:
    """Covered in per cent, and in brackets the mean of value minus truth in U, by kind of gauge."""
    names = next(iter(found.values())).keys()
    rows = [
        "| covered in % (off, in U) | " + " | ".join(found) + " |",
        "|---" * (len(found) + 1) + "|",
    ]
    for name in names:
        cells = [f"{each[name].percent:.1f} ({each[name].bias:+.2f})" for each in found.values()]
        rows.append(f"| {name} | " + " | ".join(cells) + " |")
    return "\n".join(rows)


def kinds_table(kinds) -> str:
    """What the kinds of gauge are."""
    rows = ["| gauge, in µm | step | scatter s | over the range | wave | back | u of a block |",
            "|---" * 7 + "|"]  # fmt: skip
    for kind in kinds:
        figures = (
            kind.step_mm, kind.s_mm, kind.curve_mm, kind.wave_mm, kind.back_mm, kind.u_block_mm
        )  # fmt: skip
        rows.append(f"| {kind.name} | " + " | ".join(f"{1000 * f:g}" for f in figures) + " |")
    return "\n".join(rows)


def fleet_table(judged) -> str:
    """Wrong decisions seen and computed, by rule."""
    rows = [
        "| rule | gauges | accepted wrongly | computed | rejected wrongly | computed |",
        "|---|---|---|---|---|---|",
    ]
    for rule, each in judged.items():
        shares = (
            each.accepted_wrongly, each.computed.consumer,
            each.rejected_wrongly, each.computed.producer,
        )  # fmt: skip
        cells = " | ".join(f"{100 * share:.2f} %" for share in shares)
        rows.append(f"| {rule} | {each.gauges:,} | {cells} |".replace(",", " "))
    return "\n".join(rows)


def section(kinds, found, judged, asked) -> str:
    """All of it for the documentation; ``asked`` is the command that made it."""
    (first, *_) = found.values()
    calibrations = next(c.of for name, c in first.items() if name != POINTS)
    count = f"{calibrations:,}".replace(",", " ")
    return "\n\n".join(
        [
            f"Made by `{asked}`: {count} calibrations of each kind, each of another gauge.",
            kinds_table(kinds),
            coverage_table(found),
            fleet_table(judged),
        ]
    )


def write_between_marks(page: Path, text: str) -> None:
    """Put ``text`` between the marks of ``page``.

    Raises:
        SystemExit: the page has not each mark once.
    """
    old = page.read_text("utf-8")
    if old.count(BEGINS) != 1 or old.count(ENDS) != 1:
        raise SystemExit(f"{page} needs the lines {BEGINS} and {ENDS} once each.")
    between = re.compile(f"{re.escape(BEGINS)}.*{re.escape(ENDS)}", re.S)
    page.write_text(between.sub(lambda _: f"{BEGINS}\n{text}\n{ENDS}", old), "utf-8")

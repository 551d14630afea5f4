"""Rows of the log that a report shows: where findings stand, the rows they cite, error curves."""

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from daq.audit.layout import TABLES
from daq.report.audit.facts import CurveFacts, Excerpt
from daq.report.audit.words import moment

if TYPE_CHECKING:
    from daq.audit.engine import Evidence
    from daq.audit.intake import LogSource
    from daq.audit.intake.places import Stretch

SHOWN = {
    "points": (
        "seq",
        "at_us",
        "found",
        "way",
        "nominal_nm",
        "reference_nm",
        "indicated_nm",
        "operator",
    ),
    "captures": ("seq", "at_us", "job", "feature", "value_nm", "lower_nm", "upper_nm", "operator"),
}
"""By table: what is shown of a row, as far as the log has it."""

Place = tuple[str, int | None, int | None]
"""File, first and last line."""


def places_of(source: "LogSource", findings: "Sequence[Evidence]") -> list[Place]:
    """Where the rows of each finding stand; empty where it is about no rows."""
    from daq.audit.engine import places_of as all_places

    return [_place(each) for each in all_places(source, findings)]


def _place(stretches: "Sequence[Stretch]") -> Place:
    if not stretches:
        return "", None, None
    first, last = stretches[0], stretches[-1]
    if len(stretches) == 1:
        return first.file, first.first, first.last
    return f"{first.file}: {first.first} to {last.file}: {last.last}", None, None


def excerpts_of(
    source: "LogSource", cited: "Sequence[Evidence]", most_rows: int
) -> dict[int, Excerpt]:
    """The first rows that findings cite, by the finding's place; one read of each table."""
    found: dict[int, Excerpt] = {}
    for table in SHOWN:
        wanted = [
            (place, each)
            for place, each in enumerate(cited)
            if each.about == table and each.gauge and each.seq_lo is not None
        ]
        if wanted and source.columns(table):
            found |= _excerpts(source, table, wanted, most_rows)
    return found


def _excerpts(
    source: "LogSource", table: str, wanted: "Sequence[tuple[int, Evidence]]", most_rows: int
) -> dict[int, Excerpt]:
    from daq.audit.intake.quoting import literal

    columns = [name for name in SHOWN[table] if name in source.columns(table)]
    spans = ", ".join(
        f"({place}, {literal(each.gauge)}, {each.seq_lo}, "
        f"{each.seq_lo if each.seq_hi is None else each.seq_hi})"
        for place, each in wanted
    )
    gauges = ", ".join(sorted({literal(each.gauge) for _, each in wanted}))
    chosen = ", ".join(f"r.{name}" for name in columns)
    query = (
        f"SELECT place, {chosen}, n FROM (SELECT w.place, {chosen}, "
        "row_number() OVER (PARTITION BY w.place ORDER BY r.seq) AS nth, "
        "count(*) OVER (PARTITION BY w.place) AS n "
        f"FROM (SELECT * FROM ({source.select(table)}) WHERE gauge IN ({gauges})) AS r "
        f"JOIN (VALUES {spans}) AS w(place, gauge, low, high) "
        "ON r.gauge = w.gauge AND r.seq BETWEEN w.low AND w.high) AS r "
        f"WHERE nth <= {most_rows} ORDER BY place, r.seq"
    )
    rows: dict[int, list[tuple[str, ...]]] = {}
    sizes: dict[int, int] = {}
    for place, *cells, size in source.connection.execute(query).fetchall():
        texts = (cell_text(name, value) for name, value in zip(columns, cells, strict=True))
        rows.setdefault(place, []).append(tuple(texts))
        sizes[place] = size
    heads = tuple(map(_head, columns))
    return {place: Excerpt(heads, tuple(each), sizes[place]) for place, each in rows.items()}


def _head(name: str) -> str:
    words = {"at_us": "at (UTC)", "way": "", "found": ""}.get(name)
    if words is not None:
        return words
    return f"{name.removesuffix('_nm')}, mm" if name.endswith("_nm") else name


def cell_text(name: str, value: Any) -> str:
    """A value of the log as it is read: times in UTC, lengths in millimetres, every digit."""
    if value is None:
        return ""
    if name.endswith("_us"):
        at = moment(value)
        return str(value) if at is None else f"{at:%Y-%m-%d %H:%M:%S}"
    if name.endswith("_nm"):
        whole, part = divmod(abs(int(value)), 1_000_000)
        sign = "−" if value < 0 else ""
        return f"{sign}{whole}.{f'{part:06}'.rstrip('0').ljust(3, '0')}"
    return str(value)


def curves_of(source: "LogSource", gauges: Sequence[str]) -> dict[str, list[CurveFacts]]:
    """The errors of every run of these gauges, by gauge, in their order; one read of the points."""
    if not gauges or not source.columns("points"):
        return {}
    from daq.audit.intake.quoting import literal

    found = "found" if "found" in source.columns("points") else "'' AS found"
    names = ", ".join(map(literal, gauges))
    query = (
        f"SELECT gauge, run, {found}, at_us, nominal_nm, indicated_nm - reference_nm AS error_nm "
        f"FROM ({source.select('points')}) WHERE gauge IN ({names}) ORDER BY gauge, seq"
    )
    curves: dict[str, list[CurveFacts]] = {}
    rows = source.connection.execute(query).fetchall()
    for gauge, curve in _runs(rows):
        curves.setdefault(gauge, []).append(curve)
    return curves


def _runs(rows: Sequence[tuple[Any, ...]]) -> Iterator[tuple[str, CurveFacts]]:
    """Rows of one run, as found or as left, together."""
    start = 0
    for at in range(1, len(rows) + 1):
        if at == len(rows) or rows[at][:3] != rows[start][:3]:
            gauge, run, found, at_us = rows[start][:4]
            nominal, error = (
                np.array([row[place] for row in rows[start:at]], dtype=np.int64) for place in (4, 5)
            )
            words = TABLES["points"].column("found").words
            yield gauge, CurveFacts(run, found if found in words else "", at_us, nominal, error)
            start = at

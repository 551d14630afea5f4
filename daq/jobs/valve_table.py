"""The engine maker's table of what to set at which position, and the check that it can be right.

The table is taken as it is; it is not worked out. What is checked is what a slip of the pen breaks:
each valve exactly once, and none while it is open.
"""

import difflib
from collections.abc import Iterator, Sequence
from decimal import Decimal
from fractions import Fraction
from typing import Annotated, Literal

from pydantic import Field

from daq.jobs.names import KINDS, Cylinder, Degrees, Item, Kind, Places, items_of
from daq.jobs.phase import PhaseModel, Position
from daq.jobs.timing import Stroke
from drivers.form import Form

VALVES: tuple[Kind, ...] = ("intake", "exhaust")


class TableRow(Form):
    """One position of the maker's table and what is set there.

    The position is ``cylinder`` at its ``dead_centre``, or ``degrees_after`` past it in running
    direction (below zero: before it). ``intake``, ``exhaust`` and ``injector`` list cylinders;
    ``1`` means every such item of cylinder 1, ``1.2`` the second one.
    """

    cylinder: Cylinder
    dead_centre: Literal["firing", "overlap"] = "firing"
    degrees_after: Annotated[Degrees, Field(gt=-360, lt=360)] = Decimal(0)
    intake: Places = ()
    exhaust: Places = ()
    injector: Places = ()

    def position(self, phases: PhaseModel) -> Position:
        """The row's position; its cylinder must be one of the engine's."""
        return phases.position(
            self.cylinder,
            overlap=self.dead_centre == "overlap",
            after_deg=Fraction(self.degrees_after),
        )

    def items(self, kind: Kind, counts: dict[Kind, int]) -> tuple[Item, ...]:
        """What the row sets of a kind, in the order written; it may name what is not there."""
        places: tuple[str, ...] = getattr(self, kind)
        found: list[Item] = []
        for place in places:
            cylinder, _, number = place.partition(".")
            if number and not (counts[kind] == 1 and number == "1"):
                found.append(Item(kind, cylinder, int(number)))
            else:
                found.extend(items_of(kind, cylinder, counts[kind]))
        return tuple(found)


def kinds_in(rows: Sequence[TableRow]) -> tuple[Kind, ...]:
    """The kinds that the table is about: all valves if it lists any, and injectors likewise."""
    valves = any(row.intake or row.exhaust for row in rows)
    injectors = any(row.injector for row in rows)
    return (VALVES if valves else ()) + (("injector",) if injectors else ())


def problems_in(
    rows: Sequence[TableRow],
    cylinders: Sequence[str],
    counts: dict[Kind, int],
    stroke: Stroke,
    phases: PhaseModel | None,
) -> Iterator[str]:
    """What cannot be right in a table: ``valve_table.row.field: what is wrong; what to do``.

    Args:
        rows: the table.
        cylinders: every cylinder of the engine.
        counts: how many of each kind a cylinder has.
        stroke: of the engine.
        phases: the phase model; None if the firing order is wrong, and then nothing is checked
            against it.
    """
    yield from _positions(rows, cylinders, stroke, phases)
    first: dict[Item, int] = {}
    for number, row in enumerate(rows, 1):
        for kind in KINDS:
            where = f"valve_table.{number}.{kind}: "
            for place in getattr(row, kind):
                if wrong := _unknown(place, kind, cylinders, counts):
                    yield where + wrong
            for item in row.items(kind, counts):
                if item.cylinder not in cylinders or (item.number or 1) > counts[kind]:
                    continue
                if item in first:
                    yield f"{where}{item} is set in row {first[item]} already; leave it in one row"
                first.setdefault(item, number)
                if phases is not None and row.cylinder in cylinders:
                    yield from _open(item, row, where, phases)
    kinds = kinds_in(rows)
    for kind in kinds:
        for cylinder in cylinders:
            for item in items_of(kind, cylinder, counts[kind]):
                if item not in first:
                    yield f"valve_table: {item} is missing; add it to the row where it is set"


def _positions(
    rows: Sequence[TableRow],
    cylinders: Sequence[str],
    stroke: Stroke,
    phases: PhaseModel | None,
) -> Iterator[str]:
    """What is wrong with where the rows are."""
    seen: dict[Fraction, int] = {}
    for number, row in enumerate(rows, 1):
        where = f"valve_table.{number}"
        if row.cylinder not in cylinders:
            yield f"{where}.cylinder: {_no_cylinder(row.cylinder, cylinders)}"
            continue
        if stroke == "two" and row.dead_centre == "overlap":
            yield f"{where}.dead_centre: a two-stroke fires at every TDC; take it out"
            continue
        if not any(getattr(row, kind) for kind in KINDS):
            yield f"{where}: nothing is set at this position; list it or take the row out"
        if phases is not None:
            position = row.position(phases)
            if position.crank_deg in seen:
                yield (
                    f"{where}.cylinder: {position} is the position of row "
                    f"{seen[position.crank_deg]} too; put both in one row"
                )
            seen.setdefault(position.crank_deg, number)


def _open(item: Item, row: TableRow, where: str, phases: PhaseModel) -> Iterator[str]:
    position = row.position(phases)
    if phases.is_open(item, position.crank_deg):
        yield (
            f"{where}{item} is open with {position}: "
            f"{phases.why_open(item, position.crank_deg)}; check the row, the firing order and "
            "the timing"
        )


def _unknown(place: str, kind: Kind, cylinders: Sequence[str], counts: dict[Kind, int]) -> str:
    """Why the engine has no such item; empty if it has."""
    cylinder, _, number = place.partition(".")
    thing = kind if kind == "injector" else f"{kind} valve"
    if cylinder not in cylinders:
        return f"{kind} {place}: {_no_cylinder(cylinder, cylinders)}"
    if not counts[kind]:
        return f"{kind} {place}: this engine has no {thing}s; take it out"
    if number and int(number) > counts[kind]:
        return f"{kind} {place}: a cylinder has only {counts[kind]} {thing}(s)"
    return ""


def _no_cylinder(name: str, cylinders: Sequence[str]) -> str:
    near = difflib.get_close_matches(name, cylinders, n=1)
    known = f"did you mean {near[0]}?" if near else f"known: {' '.join(cylinders)}"
    return f"there is no cylinder {name}; {known}"

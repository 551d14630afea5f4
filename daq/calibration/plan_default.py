"""A sensible plan where nobody has written one: from the range, the step and the standard at hand.

Ten equal steps over the range, each moved to the nearest length that the standard can make up; one
of the steps divided in five; five repeats low, in the middle and high. Common practice.
"""

from collections.abc import Iterator
from decimal import ROUND_FLOOR, ROUND_HALF_EVEN, Decimal

from daq.calibration.errors import PlanError
from daq.calibration.fields import brief_mm
from daq.calibration.forms import GaugeKind, ReferenceStandard
from daq.calibration.plan import USUAL_POINTS, USUAL_REPEATS, Plan
from daq.calibration.plan_file import plan_from_bytes
from daq.calibration.stacks import stack_for

PIECES = 5
"""So many pieces one of the steps is divided into, to see errors that repeat within it."""

_BASES = 12
"""So many of the shortest blocks are tried as what the gauge stands on at zero."""


def default_plan(
    range_mm: Decimal,
    step_mm: Decimal,
    blocks: ReferenceStandard,
    most_blocks: int = 3,
    kind: GaugeKind = "indicator",
) -> Plan:
    """A plan that a standard can make up; its ``text`` is a plan file to keep and to change.

    Args:
        range_mm: the gauge's measuring range, above 0.
        step_mm: its display step, above 0.
        blocks: a block set or a bench.
        most_blocks: how many blocks may be wrung together, 1 to 5.
        kind: what gauge it is; a depth gauge is lifted from stack to stack and has no direction.

    Raises:
        PlanError: the standard cannot make up enough lengths over this range.
    """
    if not 0 < 10 * step_mm <= range_mm:
        raise PlanError(
            f"a step of {brief_mm(step_mm)} and a range of {brief_mm(range_mm)} are no gauge's; "
            "check both"
        )
    searches = [
        _Search(range_mm, step_mm, blocks, most_blocks, base_mm) for base_mm in _bases(blocks)
    ]
    found = [(each, points) for each in searches if (points := each.points()) is not None]
    # The shortest base will do, but one on which a step can be divided is better.
    for search, points in (*(f for f in found if len(f[0].pieces(f[1])) > 2), *found):
        text = "\n".join(_lines(search, points, kind)) + "\n"
        return plan_from_bytes(text.encode(), "default plan")
    raise PlanError(
        f"{blocks.id} cannot make up ten steps over {brief_mm(range_mm)} with {most_blocks} blocks "
        "at most; take another standard, allow more blocks, or write a plan"
    )


def _bases(standard: ReferenceStandard) -> Iterator[Decimal]:
    """What the gauge may stand on at zero: the plate, or a short block; a bench's own zero."""
    nominals = sorted(each.nominal_mm for each in standard.values)
    if standard.kind == "bench":
        yield nominals[0]
    else:
        # Short travels are made up on top of the shortest block, or of two or three of its length.
        yield from dict.fromkeys([*(n * nominals[0] for n in range(4)), *nominals[:_BASES]])


class _Search:
    """Lengths near what is wanted that a standard can make up on one base."""

    def __init__(
        self,
        range_mm: Decimal,
        step_mm: Decimal,
        standard: ReferenceStandard,
        most_blocks: int,
        base_mm: Decimal,
    ) -> None:
        self.range_mm, self.step_mm, self.base_mm = range_mm, step_mm, base_mm
        self.most_blocks = most_blocks
        self._standard = standard
        self._between_mm = range_mm / USUAL_POINTS
        # Round figures are read and typed with fewer slips: 0.1 mm for a range of 10 mm.
        self._grid_mm = max(Decimal(1).scaleb(self._between_mm.adjusted() - 1), step_mm)

    def points(self) -> list[Decimal] | None:
        """The zero and ten more, ascending; None if one cannot be had."""
        points = []
        for number in range(USUAL_POINTS + 1):
            found = self._near(number * self._between_mm, self._between_mm / 3)
            if found is None:
                return None
            points.append(found)
        return points

    def pieces(self, points: list[Decimal]) -> list[Decimal]:
        """Points that divide the second step; the ends alone if no more can be had."""
        start_mm, end_mm = points[1], points[2]
        piece_mm = (end_mm - start_mm) / PIECES
        inner = [self._near(start_mm + n * piece_mm, piece_mm / 3) for n in range(1, PIECES)]
        return [start_mm, *(each for each in inner if each is not None), end_mm]

    def _near(self, wanted_mm: Decimal, within_mm: Decimal) -> Decimal | None:
        """The nearest length of the roundest grid on which there is one."""
        if wanted_mm == 0:
            return Decimal(0) if self._has(Decimal(0)) else None
        for finer in range(3):
            grid_mm = max(self._grid_mm.scaleb(-finer), self.step_mm)
            rounding = ROUND_FLOOR if wanted_mm == self.range_mm else ROUND_HALF_EVEN
            middle = int((wanted_mm / grid_mm).to_integral_value(rounding))
            for offset in range(int(within_mm / grid_mm) + 1):
                for multiple in dict.fromkeys((middle - offset, middle + offset)):
                    travel_mm = multiple * grid_mm
                    if 0 < travel_mm <= self.range_mm and self._has(travel_mm):
                        return travel_mm
        return None

    def _has(self, travel_mm: Decimal) -> bool:
        total_mm = self.base_mm + travel_mm
        return stack_for(total_mm, self._standard, self.most_blocks) is not None


def _lines(search: _Search, points: list[Decimal], kind: GaugeKind) -> Iterator[str]:
    """The plan as a file."""
    yield "[plan]"
    yield f'title = "{brief_mm(search.range_mm)} {kind}, by default"'
    yield 'revision = "default"'
    yield f'range = "{brief_mm(search.range_mm)}"'
    yield f"points = [{_listed(points)}]"
    if kind == "depth gauge":
        yield 'directions = "up"'
        yield 'approach = "lifted"'
    yield f'base = "{brief_mm(search.base_mm)}"'
    yield f"most_blocks = {search.most_blocks}"
    if len(pieces := search.pieces(points)) > 2:
        yield "\n[partial]"
        yield f'over = "{brief_mm(pieces[-1] - pieces[0])}"'
        yield f"points = [{_listed(pieces)}]"
    for point_mm in dict.fromkeys((points[1], points[len(points) // 2], points[-2])):
        yield "\n[[repeats]]"
        yield f'at = "{brief_mm(point_mm)}"'
        yield f"times = {USUAL_REPEATS}"


def _listed(lengths_mm: list[Decimal]) -> str:
    return ", ".join(f'"{brief_mm(each)}"' for each in lengths_mm)

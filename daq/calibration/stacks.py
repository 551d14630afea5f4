"""Making up a length from blocks, or setting it on a bench: which pieces, how long, how sure."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache
from itertools import combinations

from daq.calibration.errors import PlanError
from daq.calibration.fields import brief_mm
from daq.calibration.forms import CertifiedLength, ReferenceStandard

MOST_BLOCKS = 5
"""More blocks than this are not wrung together: each joint adds to what is not known."""

Pairs = dict[Decimal, list[tuple[Decimal, Decimal]]]


@dataclass(frozen=True, slots=True)
class Stack:
    """A length made up from a standard.

    ``pieces`` are blocks, longest first, or the one setting of a bench; none is the bare plate.
    """

    standard: str
    pieces: tuple[CertifiedLength, ...]
    words: str

    @property
    def nominal_mm(self) -> Decimal:
        """What it is meant to be."""
        return sum((each.nominal_mm for each in self.pieces), Decimal(0))

    @property
    def length_mm(self) -> Decimal:
        """What it is by the standard's certificate, at 20 °C."""
        return sum((each.length_mm for each in self.pieces), Decimal(0))

    def travel_from(self, base: "Stack") -> tuple[Decimal, Decimal]:
        """How much longer it is than ``base`` by the certificate, and the standard uncertainty.

        The uncertainties of the pieces add up as they stand, not by squares: blocks of one set have
        their lengths from the same comparison, and may all be wrong the same way. A piece that is
        in both drops out. The joints between blocks are not in it.
        """
        own = [each for each in self.pieces if each not in base.pieces]
        others = [each for each in base.pieces if each not in self.pieces]
        u_mm = sum((each.u_mm for each in (*own, *others)), Decimal(0))
        return self.length_mm - base.length_mm, u_mm


def stack_for(nominal_mm: Decimal, standard: ReferenceStandard, most_blocks: int) -> Stack | None:
    """The stack of the fewest blocks, or the setting, that has this length; None if there is none.

    Args:
        nominal_mm: 0 is the bare plate.
        standard: a block set or a bench. A flat has only the length 0.
        most_blocks: how many may be wrung together, 1 to 5.
    """
    if standard.kind == "flat":
        return Stack(standard.id, standard.values, "the flat") if nominal_mm == 0 else None
    if standard.kind == "bench":
        value = _setting(nominal_mm, standard.values)
        if value is None:
            return None
        return Stack(standard.id, (value,), f"{brief_mm(nominal_mm)} on the bench")
    if nominal_mm == 0:
        return Stack(standard.id, (), "the bare plate")
    found = combination(nominal_mm, _nominals(standard), most_blocks)
    if found is None:
        return None
    by_nominal = {each.nominal_mm: each for each in standard.values}
    names = " + ".join(brief_mm(each).removesuffix(" mm") for each in found)
    noun = "block" if len(found) == 1 else "blocks"
    return Stack(standard.id, tuple(by_nominal[each] for each in found), f"{noun} {names} mm")


def stack_or_refuse(nominal_mm: Decimal, standard: ReferenceStandard, most_blocks: int) -> Stack:
    """As ``stack_for``.

    Raises:
        PlanError: the length cannot be had; with the nearest that can, from two blocks at most.
    """
    stack = stack_for(nominal_mm, standard, most_blocks)
    if stack is not None:
        return stack
    wanted = brief_mm(nominal_mm)
    if standard.kind == "flat":
        raise PlanError(f"{standard.id} is a flat and has no {wanted}; take blocks or a bench")
    if standard.kind == "bench":
        low, high = (brief_mm(standard.values[end].nominal_mm) for end in (0, -1))
        raise PlanError(f"{wanted} is outside {standard.id}, which goes from {low} to {high}")
    made = {*_nominals(standard), *_pairs(_nominals(standard))}
    near = min(made, key=lambda each: (abs(each - nominal_mm), each))
    raise PlanError(
        f"{wanted} cannot be made up from {standard.id} with {most_blocks} blocks at most; allow "
        f"more blocks, or plan {brief_mm(near)} instead"
    )


def combination(
    total_mm: Decimal, nominals_mm: Sequence[Decimal], most: int
) -> tuple[Decimal, ...] | None:
    """The fewest different blocks that add up to a length exactly, longest first; None if none do.

    Args:
        total_mm: the length, above 0.
        nominals_mm: the blocks there are, each once.
        most: how many may be used, 1 to 5.
    """
    blocks = tuple(sorted(set(nominals_mm), reverse=True))
    for number in range(1, min(most, MOST_BLOCKS) + 1):
        if sum(blocks[:number]) < total_mm:
            continue  # not even the longest reach
        found = next(_of(number, total_mm, blocks), None)
        if found is not None:
            return tuple(sorted(found, reverse=True))
    return None


def _of(number: int, total: Decimal, blocks: tuple[Decimal, ...]) -> Iterator[tuple[Decimal, ...]]:
    """Every way to add up ``number`` different blocks to ``total``; some come more than once."""
    pairs = _pairs(blocks)
    if number == 1:
        yield from ((each,) for each in blocks if each == total)
    elif number == 2:
        yield from pairs.get(total, ())
    elif number == 4:
        for part, firsts in pairs.items():
            for first in firsts:
                for second in pairs.get(total - part, ()):
                    if not {*first} & {*second}:
                        yield (*first, *second)
    else:
        for block in blocks:
            for rest in _of(number - 1, total - block, blocks):
                if block not in rest:
                    yield (block, *rest)


@lru_cache(maxsize=8)
def _pairs(blocks: tuple[Decimal, ...]) -> Pairs:
    """Every two blocks by their sum."""
    pairs: Pairs = {}
    for one, other in combinations(blocks, 2):
        pairs.setdefault(one + other, []).append((one, other))
    return pairs


def _nominals(standard: ReferenceStandard) -> tuple[Decimal, ...]:
    return tuple(sorted((each.nominal_mm for each in standard.values), reverse=True))


def _setting(nominal_mm: Decimal, values: Sequence[CertifiedLength]) -> CertifiedLength | None:
    """A bench's value at any length: between two of its certificate, a straight line."""
    below = [each for each in values if each.nominal_mm <= nominal_mm]
    above = [each for each in values if each.nominal_mm >= nominal_mm]
    if not below or not above:
        return None
    low, high = below[-1], above[0]
    if low.nominal_mm == high.nominal_mm:
        return low
    share = (nominal_mm - low.nominal_mm) / (high.nominal_mm - low.nominal_mm)
    deviation_mm = low.deviation_mm + share * (high.deviation_mm - low.deviation_mm)
    # The less sure of the two neighbours speaks for what lies between.
    less_sure = max(low, high, key=lambda each: each.u_mm)
    return CertifiedLength.model_validate(
        {
            "nominal": nominal_mm,
            "length": nominal_mm + deviation_mm.quantize(Decimal("0.0000001")),
            "expanded_u": less_sure.expanded_u_mm,
            "k": less_sure.k,
        }
    )

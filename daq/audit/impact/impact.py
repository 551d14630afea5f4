"""All that gauges out of their limits touched, and what it comes to."""

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from daq.audit.impact.from_tables import (
    Judges,
    Names,
    Rows,
    captures_in,
    periods_in,
    slices_of,
)
from daq.audit.impact.periods import Period
from daq.audit.impact.touched import FLIPS, GROUPS, Touched, touched


@dataclass(frozen=True, slots=True)
class Tally:
    """How many captures of one job and feature are in each of ``GROUPS``."""

    job: str
    feature: str
    document: str
    counts: tuple[int, ...]

    @property
    def all(self) -> int:
        """All of them."""
        return sum(self.counts)


@dataclass(frozen=True, slots=True, eq=False)
class Impact:
    """What was touched, a period at a time.

    ``in_time`` is how the errors were taken. ``remarks`` are sentences on the log. ``is_whole``:
    all of it could be read; if not, there may be more than this.
    """

    touched: tuple[Touched, ...]
    in_time: bool
    remarks: tuple[str, ...] = ()
    is_whole: bool = True

    @property
    def flips(self) -> int:
        """How many verdicts turn over."""
        return self.count(FLIPS)

    def count(self, group: int) -> int:
        """How many captures are in a group of ``GROUPS``."""
        return sum(each.count(group) for each in self.touched)


def impact_of(
    points: Rows,
    captures: Rows,
    judges: Judges,
    *,
    names: Names | None = None,
    in_time: bool = False,
) -> Impact:
    """What gauges out of their limits touched, from tables of whole gauges.

    Args:
        points: the table of that name in ``daq.audit.layout``.
        captures: of the same gauges, sorted by gauge.
        judges: what says that a gauge is out.
        names: what the numbers of names stand for; without it the numbers are the names.
        in_time: as for ``touched``.
    """
    names = names or (lambda _, codes: [str(code) for code in codes.tolist()])
    texts = {name: names(name, captures[name]) for name in _NAMED if name in captures}
    periods = list(periods_in(points, judges, names))
    return impact_within(periods, captures, texts, in_time=in_time)


def impact_within(
    periods: Sequence[tuple[int, Period]],
    captures: Rows,
    texts: Mapping[str, Sequence[str]],
    *,
    in_time: bool,
) -> Impact:
    """What was touched in periods that are known.

    Args:
        periods: each with the number of its gauge.
        captures: of these gauges, sorted by gauge.
        texts: of job, feature and operator, in the order of the captures; any may be missing.
        in_time: as for ``touched``.
    """
    there = slices_of(captures["gauge"])
    found = []
    for gauge, period in periods:
        taken = captures_in(captures, there.get(gauge, slice(0, 0)), texts)
        found.append(touched(period, taken, in_time=in_time))
    return Impact(tuple(found), in_time)


_NAMED = ("job", "feature", "operator")


def tallies(each: Touched) -> Iterator[Tally]:
    """The captures of a period by job and feature, those with the most flips first."""
    taken = each.captures
    keys = zip(taken.job.tolist(), taken.feature.tolist(), taken.document.tolist(), strict=True)
    counts: dict[tuple[str, str, str], list[int]] = defaultdict(lambda: [0] * len(GROUPS))
    for key, group in zip(keys, each.group.tolist(), strict=True):
        counts[key][group] += 1
    found = [Tally(*key, tuple(count)) for key, count in counts.items()]
    return iter(sorted(found, key=lambda tally: [-count for count in tally.counts[:2]]))

"""All that gauges out of their limits touched, and what it comes to."""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from daq.audit.impact.from_tables import (
    NAMED,
    Judges,
    Names,
    Rows,
    captures_in,
    periods_in,
    slices_of,
)
from daq.audit.impact.periods import Period
from daq.audit.impact.touched import FLIPS, GROUPS, Captures, Touched, touched_in, within


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
    found = list(periods_in(points, judges, names))
    there = slices_of(captures["gauge"])
    rows = [_within(period, there.get(gauge, slice(0, 0)), captures) for gauge, period in found]
    chosen = np.concatenate([np.zeros(0, dtype=np.intp), *rows])
    taken = {name: column[chosen] for name, column in captures.items()}
    texts = {
        name: np.array(names(name, taken[name]), dtype=object) for name in NAMED if name in taken
    }
    periods = [period for _, period in found]
    counts = [each.size for each in rows]
    return impact_within(periods, captures_in(taken, texts), counts, in_time=in_time)


def _within(period: Period, rows: slice, captures: Rows) -> npt.NDArray[np.intp]:
    """Which rows of a table of captures, out of those of the gauge, lie within a period."""
    return np.arange(rows.start, rows.stop)[within(period, captures["at_us"][rows])]


def impact_within(
    periods: Sequence[Period], taken: Captures, counts: Sequence[int], *, in_time: bool
) -> Impact:
    """What was touched in periods that are known; as for ``touched_in``."""
    return Impact(tuple(touched_in(periods, taken, counts, in_time=in_time)), in_time)


def tallies(each: Touched) -> Iterator[Tally]:
    """The captures of a period by job and feature, those with the most flips first."""
    taken = each.captures
    keys = zip(taken.job.tolist(), taken.feature.tolist(), taken.document.tolist(), strict=True)
    counts: dict[tuple[str, str, str], list[int]] = defaultdict(lambda: [0] * len(GROUPS))
    for key, group in zip(keys, each.group.tolist(), strict=True):
        counts[key][group] += 1
    found = [Tally(*key, tuple(count)) for key, count in counts.items()]
    return iter(sorted(found, key=lambda tally: [-count for count in tally.counts[:2]]))

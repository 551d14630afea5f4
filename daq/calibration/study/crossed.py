"""Crossed study: every operator measures every part several times. What scatters, and how much?

Two ways to the same components: analysis of variance (random effects), and average and range. Both
take values in any one unit, and give standard deviations in it.

Sources: D. C. Montgomery, Design and Analysis of Experiments (two-factor random model); AIAG,
Measurement Systems Analysis, 4th edition (average and range, and the worked example of 10 parts,
3 operators and 3 trials that both ways are tested against).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from daq.calibration.study.errors import StudyError

POOLING_LEVEL = 0.25
"""An interaction whose F test gives a higher probability than this is pooled with repeatability.

A high level on purpose: pooling an interaction that is there hides it (common practice)."""

SPREAD = 6.0
"""A spread is so many standard deviations, 99.73 % of a normal distribution."""

_CATEGORIES = 1.41


@dataclass(frozen=True, slots=True)
class Trial:
    """One value of one part by one operator."""

    part: str
    operator: str
    trial: str
    value: float


@dataclass(frozen=True, slots=True)
class Component:
    """One source of variation."""

    name: str
    sd: float
    """Standard deviation, in the unit of the values."""
    of_variance: float | None
    """Share of the total variance. The shares of separate sources add up to 1. None: no total."""
    of_sd: float | None
    """Standard deviation over the total's. These shares do not add up. None: no total."""
    of_tolerance: float | None
    """Six standard deviations over the tolerance; None without a tolerance."""


@dataclass(frozen=True, slots=True)
class FTest:
    """One row of the analysis of variance. Without a test, ``f`` and ``p`` are None.

    ``f`` is infinite where what it is tested against does not scatter at all.
    """

    source: str
    sum_of_squares: float
    dof: int
    mean_square: float
    f: float | None
    p: float | None


@dataclass(frozen=True, slots=True)
class CrossedStudy:
    """What a crossed study comes to."""

    method: Literal["analysis of variance", "average and range"]
    parts: tuple[str, ...]
    operators: tuple[str, ...]
    trials: int
    components: tuple[Component, ...]
    distinct_categories: int | None
    """How many classes of parts can be told apart: 1.41 times the parts' standard deviation over
    the measurement's, rounded down. None where the measurement did not scatter at all."""
    table: tuple[FTest, ...]
    """The analysis of variance; empty for average and range."""
    pooled: bool | None
    """Whether the interaction is pooled with repeatability; None for average and range."""
    tolerance: float | None
    remarks: tuple[str, ...]

    def component(self, name: str) -> Component:
        """The component of this name."""
        return next(each for each in self.components if each.name == name)


@dataclass(frozen=True, slots=True)
class Grid:
    """A balanced set of values: ``cells[part][operator]`` holds the trials, in their order."""

    parts: tuple[str, ...]
    operators: tuple[str, ...]
    trials: int
    cells: tuple[tuple[tuple[float, ...], ...], ...]

    def part_mean(self, part: int) -> float:
        """Mean of all values of one part."""
        return _mean([value for cell in self.cells[part] for value in cell])

    def operator_mean(self, operator: int) -> float:
        """Mean of all values by one operator."""
        return _mean([value for row in self.cells for value in row[operator]])


def grid_of(values: Sequence[Trial]) -> Grid:
    """The values by part and operator, parts and operators in the order of their first value.

    Raises:
        StudyError: fewer than 2 parts, operators or trials; a trial is there twice; the same
            number of trials is not there for each part and operator. Each lack is named.
    """
    parts = tuple(dict.fromkeys(each.part for each in values))
    operators = tuple(dict.fromkeys(each.operator for each in values))
    names = tuple(dict.fromkeys(each.trial for each in values))
    found: dict[tuple[str, str], dict[str, float]] = {}
    problems = []
    for each in values:
        cell = found.setdefault((each.part, each.operator), {})
        if each.trial in cell:
            problems.append(
                f"part {each.part}, operator {each.operator}: trial {each.trial} is there twice; "
                "keep one of them"
            )
        cell[each.trial] = each.value
    for count, thing, why in (
        (len(parts), "part", "the variation from part to part"),
        (len(operators), "operator", "reproducibility"),
        (len(names), "trial", "repeatability"),
    ):
        if count < 2:
            problems.append(f"{count} {thing}{'' if count == 1 else 's'}: {why} needs 2 at least")
    for part in parts:
        for operator in operators:
            gone = [name for name in names if name not in found.get((part, operator), {})]
            if gone:
                problems.append(
                    f"part {part}, operator {operator}: trial {', '.join(gone)} is missing; a "
                    "crossed study needs every trial of every part by every operator"
                )
    if problems:
        raise StudyError(*problems)
    cells = tuple(
        tuple(tuple(found[part, operator][name] for name in names) for operator in operators)
        for part in parts
    )
    return Grid(parts, operators, len(names), cells)


def by_variance(
    values: Sequence[Trial], *, tolerance: float | None = None, pool: bool | None = None
) -> CrossedStudy:
    """The study by analysis of variance, all effects random.

    Args:
        values: all trials; balanced.
        tolerance: width between the limits, in the unit of the values; None for none.
        pool: whether the interaction of parts and operators is pooled with repeatability. None: if
            its F test does not stand out at ``POOLING_LEVEL``.

    Components below zero are given as zero, and a remark says so.

    Raises:
        StudyError: as ``grid_of``; or the tolerance is not above 0.
    """
    from daq.calibration.study.anova import table_of

    grid = grid_of(values)
    table, pooled = table_of(grid, pool)
    raw = _raw_variances(table, grid, pooled)
    remarks = [_pooling_words(table, pooled, pool)]
    remarks += [
        f"the variance of {name} came out below zero and is given as 0"
        for name, variance in raw.items()
        if variance < 0
    ]
    kept = {name: max(variance, 0.0) for name, variance in raw.items()}
    reproducibility = kept["operator"] + kept["interaction"]
    variances = {
        "measurement": kept["repeatability"] + reproducibility,
        "repeatability": kept["repeatability"],
        "reproducibility": reproducibility,
        "operator": kept["operator"],
    }
    if not pooled:
        variances["interaction"] = kept["interaction"]
    variances["part"] = kept["part"]
    components = _components(variances, tolerance)
    return CrossedStudy(
        "analysis of variance",
        *(grid.parts, grid.operators, grid.trials),
        components,
        *_categories(components, remarks),
        table=table,
        pooled=pooled,
        tolerance=tolerance,
        remarks=tuple(remarks),
    )


def by_range(values: Sequence[Trial], *, tolerance: float | None = None) -> CrossedStudy:
    """The study by average and range. It cannot see an interaction of parts and operators.

    Repeatability is the mean range over d2; operator and part are the ranges of their averages over
    d2* of one range, and the operators' is freed of its share of repeatability.

    Arguments and errors are those of ``by_variance``.
    """
    from daq.calibration.study.constants import chart_constants, d2_star

    grid = grid_of(values)
    p, o, r = len(grid.parts), len(grid.operators), grid.trials
    mean_range = _mean([max(cell) - min(cell) for row in grid.cells for cell in row])
    repeatability = (mean_range / chart_constants(r).d2) ** 2
    operators = [grid.operator_mean(each) for each in range(o)]
    parts = [grid.part_mean(each) for each in range(p)]
    raw = ((max(operators) - min(operators)) / d2_star(1, o)) ** 2 - repeatability / (p * r)
    remarks = ["average and range: an interaction of part and operator is not seen"]
    if raw < 0:
        remarks.append("the variance of operator came out below zero and is given as 0")
    operator = max(raw, 0.0)
    variances = {
        "measurement": repeatability + operator,
        "repeatability": repeatability,
        "reproducibility": operator,
        "part": ((max(parts) - min(parts)) / d2_star(1, p)) ** 2,
    }
    components = _components(variances, tolerance)
    return CrossedStudy(
        "average and range",
        *(grid.parts, grid.operators, grid.trials),
        components,
        *_categories(components, remarks),
        table=(),
        pooled=None,
        tolerance=tolerance,
        remarks=tuple(remarks),
    )


def _raw_variances(table: Sequence[FTest], grid: Grid, pooled: bool) -> dict[str, float]:
    """The variances from their expected mean squares; some may come out below zero."""
    p, o, r = len(grid.parts), len(grid.operators), grid.trials
    mean_square = {row.source: row.mean_square for row in table}
    repeatability = mean_square["repeatability"]
    between = repeatability if pooled else mean_square["interaction"]
    return {
        "repeatability": repeatability,
        "operator": (mean_square["operator"] - between) / (p * r),
        "interaction": 0.0 if pooled else (between - repeatability) / r,
        "part": (mean_square["part"] - between) / (o * r),
    }


def _components(variances: dict[str, float], tolerance: float | None) -> tuple[Component, ...]:
    if tolerance is not None and not tolerance > 0:
        raise StudyError(f"a tolerance of {tolerance} is none; it must be above 0")
    total = variances["measurement"] + variances["part"]
    return tuple(
        Component(
            name,
            math.sqrt(variance),
            variance / total if total else None,
            math.sqrt(variance / total) if total else None,
            None if tolerance is None else SPREAD * math.sqrt(variance) / tolerance,
        )
        for name, variance in {**variances, "total": total}.items()
    )


def _categories(components: Sequence[Component], remarks: list[str]) -> tuple[int | None]:
    """How many classes can be told apart; what to know about it is added to ``remarks``."""
    sd = {each.name: each.sd for each in components}
    if sd["measurement"] == 0.0:
        remarks.append(
            "the measurement did not scatter at all: the display step is too coarse for this study"
        )
        return (None,)
    return (math.floor(_CATEGORIES * sd["part"] / sd["measurement"]),)


def _pooling_words(table: Sequence[FTest], pooled: bool, asked: bool | None) -> str:
    p = next(row.p for row in table if row.source == "interaction")
    done = "pooled with repeatability" if pooled else "kept as a component"
    if p is None:
        return f"interaction {done}: nothing scatters that it could be tested against"
    if asked is not None:
        return f"interaction {done}, as asked (F test: p = {p:.3f})"
    sign = "above" if pooled else "not above"
    return f"interaction {done}: its F test gives p = {p:.3f}, {sign} {POOLING_LEVEL:g}"


def _mean(values: Sequence[float]) -> float:
    return math.fsum(values) / len(values)

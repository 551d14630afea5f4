"""The analysis of variance of a balanced two-factor study with random effects.

Source: D. C. Montgomery, Design and Analysis of Experiments: parts and operators are tested against
their interaction, the interaction against repeatability; where the interaction is pooled, all
against repeatability.
"""

import math
from typing import TYPE_CHECKING

from daq.calibration.study.crossed import POOLING_LEVEL, FTest, Grid
from daq.calibration.study.numerics import f_upper_tail

if TYPE_CHECKING:
    from collections.abc import Iterable

_DUST = 1e-14


def table_of(grid: Grid, pool: bool | None) -> tuple[tuple[FTest, ...], bool]:
    """The rows part, operator, interaction, repeatability, total; and whether it is pooled.

    The row of the interaction is there in any case, with its F test against the repeatability
    proper. Where it is pooled, the row of repeatability holds both.

    Args:
        grid: the values, balanced.
        pool: as for ``daq.calibration.study.crossed.by_variance``.
    """
    p, o, r = len(grid.parts), len(grid.operators), grid.trials
    part_means = [grid.part_mean(each) for each in range(p)]
    operator_means = [grid.operator_mean(each) for each in range(o)]
    mean = math.fsum(part_means) / p
    # Sums of squares below this are the float's own dust: the values do not differ.
    size = max(abs(value) for row in grid.cells for cell in row for value in cell)
    dust = p * o * r * (_DUST * size) ** 2
    cell_means = [[math.fsum(cell) / r for cell in row] for row in grid.cells]
    ss_part = o * r * _squares((each - mean for each in part_means), dust)
    ss_operator = p * r * _squares((each - mean for each in operator_means), dust)
    each_cell = [(i, j) for i in range(p) for j in range(o)]
    ss_between = r * _squares(
        (cell_means[i][j] - part_means[i] - operator_means[j] + mean for i, j in each_cell), dust
    )
    ss_within = _squares(
        (value - cell_means[i][j] for i, j in each_cell for value in grid.cells[i][j]), dust
    )
    ss_total = _squares((value - mean for i, j in each_cell for value in grid.cells[i][j]), dust)
    dof_between, dof_within = (p - 1) * (o - 1), p * o * (r - 1)
    between = _row("interaction", ss_between, dof_between, (ss_within, dof_within))
    pooled = (between.p is None or between.p > POOLING_LEVEL) if pool is None else pool
    below = (ss_within, dof_within)
    if pooled:
        below = (ss_within + ss_between, dof_within + dof_between)
    against = below if pooled else (ss_between, dof_between)
    rows = (
        _row("part", ss_part, p - 1, against),
        _row("operator", ss_operator, o - 1, against),
        between,
        FTest("repeatability", *below, below[0] / below[1], None, None),
        FTest("total", ss_total, p * o * r - 1, ss_total / (p * o * r - 1), None, None),
    )
    return rows, pooled


def _row(source: str, squares: float, dof: int, against: tuple[float, int]) -> FTest:
    mean_square, other = squares / dof, against[0] / against[1]
    if other == 0.0:
        # Nothing against nothing is no test; something against nothing stands out beyond all.
        return FTest(
            source, squares, dof, mean_square, *((math.inf, 0.0) if squares else (None, None))
        )
    f = mean_square / other
    return FTest(source, squares, dof, mean_square, f, f_upper_tail(f, dof, against[1]))


def _squares(values: "Iterable[float]", dust: float) -> float:
    total = math.fsum(value * value for value in values)
    return total if total > dust else 0.0

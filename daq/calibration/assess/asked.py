"""What an assessment is asked with, and what it gives back."""

from dataclasses import dataclass
from decimal import Decimal

from daq.calibration.assess.scatter import Scatter
from daq.calibration.budget import Budget, Coverage
from daq.calibration.correction import CorrectionTable
from daq.calibration.decision import Decision, Word
from daq.calibration.monte_carlo import Check
from daq.calibration.points import Point, Run
from daq.calibration.results import Characteristic
from daq.spec.rules import DecisionRule

WORST_FIRST = (
    Word.FAIL,
    Word.CONDITIONAL_FAIL,
    Word.NOT_JUDGED,
    Word.CONDITIONAL_PASS,
    Word.PASS,
)
"""The words from the worst to the best: what was not judged has not passed."""


@dataclass(frozen=True, slots=True)
class Conditions:
    """``temperature_c``: of gauge and standard, in °C, the mean of the run."""

    temperature_c: Decimal


@dataclass(frozen=True, slots=True)
class How:
    """How a run is assessed.

    rule: the decision rule. level: of confidence, for every expanded uncertainty.
    largest_expanded_mm: the most that U may be for anything to be judged; None for no bound.
    with_monte_carlo: whether the budgets are held against random draws, with the ``seed``.
    """

    rule: DecisionRule
    level: float = 0.95
    largest_expanded_mm: Decimal | None = None
    with_monte_carlo: bool = False
    seed: int = 1


@dataclass(frozen=True, slots=True)
class Stated:
    """A budget with its coverage, and k and U as they are stated: k to six figures, U = k·u."""

    budget: Budget
    coverage: Coverage
    k: Decimal
    u_mm: Decimal
    expanded_mm: Decimal


@dataclass(frozen=True, slots=True)
class AssessedPoint:
    """A point, its reference as a gauge without error shows it at the run's temperature."""

    point: Point
    stated: Stated


@dataclass(frozen=True, slots=True)
class AssessedCharacteristic:
    """A characteristic with its budget and, where it has a limit, what the rule makes of it.

    bias_mm: by how much noise would make such an extreme too large on average, were the points as
    found; the budget allows for it, and it is not taken off the value. decision: None where there
    is no limit, and where nothing could be judged; ``reason`` then says why. word: None where there
    is no limit.
    """

    found: Characteristic
    stated: Stated
    bias_mm: float
    limit_mm: Decimal | None
    decision: Decision | None
    word: Word | None
    reason: str


@dataclass(frozen=True, slots=True)
class AssessedLine:
    """error = at_zero + slope · travel, with the scatter of the points about it.

    The uncertainties hold that scatter and what all points share: reference, zero, temperatures
    and tilt. They do not hold that the errors may not lie on a straight line.
    """

    at_zero_mm: float
    u_at_zero_mm: float
    slope: float
    u_slope: float
    correlation: float
    residual_s_mm: float
    dof: int


@dataclass(frozen=True, slots=True)
class Checked:
    """A budget by name, and what Monte Carlo made of it."""

    of: str
    check: Check


@dataclass(frozen=True, slots=True)
class Assessment:
    """What the points of one run come to; ``record_of`` makes a record of it.

    ``points`` are in the plan's order, ``least_sure`` is that of them with the largest U. ``word``
    is the worst word of all characteristics that have a limit.
    """

    run: Run
    word: Word
    points: tuple[AssessedPoint, ...]
    least_sure: AssessedPoint
    characteristics: tuple[AssessedCharacteristic, ...]
    scatter: Scatter
    correction: CorrectionTable | None
    line: AssessedLine | None
    monte_carlo: tuple[Checked, ...]
    remarks: tuple[str, ...]
    doubts: tuple[str, ...]

"""Propagation of distributions by Monte Carlo, and the check of a budget against it.

numpy is loaded when a run starts, not before. The same seed gives the same figures, as long as
numpy's generators stay what they are.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from daq.calibration.budget import Budget
from daq.calibration.correlation import Correlations, checked
from daq.calibration.derivatives import Model
from daq.calibration.errors import CalibrationError
from daq.calibration.inputs import Input

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Values = NDArray[np.float64]

MOST_TRIALS = 4_000_000
"""A run ends here at the latest: some 30 MB for the results, and a few seconds."""

_FEWEST_BLOCKS = 10
"""The scatter of fewer blocks is too poorly known to stop by."""


@dataclass(frozen=True, slots=True)
class Propagated:
    """What a Monte Carlo run gave, in the result's unit.

    symmetric: coverage interval with equal probability on each side. shortest: the shortest one.
    tolerance: the numerical tolerance of u that the run worked towards; settled: whether it got
    there within the trials it was allowed.
    """

    estimate: float
    u: float
    level: float
    symmetric: tuple[float, float]
    shortest: tuple[float, float]
    trials: int
    tolerance: float
    settled: bool
    seed: int


@dataclass(frozen=True, slots=True)
class Check:
    """A budget's interval y ± U held against that of a Monte Carlo run.

    d_low, d_high: how far apart their ends are. delta: how far they may be. validated: whether
    both are within it, and the run had settled. interval: the run's interval that was compared.
    """

    monte_carlo: Propagated
    interval: tuple[float, float]
    d_low: float
    d_high: float
    delta: float

    @property
    def validated(self) -> bool:
        """Whether the budget stands.

        Source: JCGM 101:2008, 8.1.
        """
        return self.monte_carlo.settled and max(self.d_low, self.d_high) <= self.delta

    @property
    def reason(self) -> str:
        """The finding as a sentence."""
        if not self.monte_carlo.settled:
            return (
                f"the Monte Carlo run had not settled after {self.monte_carlo.trials} trials, "
                "so it can confirm nothing"
            )
        verb = "agree" if self.validated else "do not agree"
        return (
            f"the ends of the two coverage intervals {verb}: apart by {self.d_low:.3g} and "
            f"{self.d_high:.3g}, allowed {self.delta:.3g}"
        )


def tolerance_of(u: float, figures: int = 2) -> float:
    """Half a unit in the last of ``figures`` significant figures of ``u``.

    Raises:
        CalibrationError: ``u`` is not above 0, or ``figures`` is not 1 or 2.

    Source: JCGM 101:2008, 7.9.2.
    """
    if not (math.isfinite(u) and u > 0) or figures not in (1, 2):
        raise CalibrationError(
            f"a tolerance needs u above 0 and one or two figures, not {u} and {figures}"
        )
    # Through the text, so that 0.0996 counts as the 0.10 it is stated as.
    exponent = int(f"{u:.{figures - 1}e}".split("e")[1]) - figures + 1
    return 0.5 * 10.0**exponent


def propagate(
    model: Model,
    inputs: Sequence[Input],
    *,
    correlations: Correlations | None = None,
    level: float = 0.95,
    seed: int = 1,
    figures: int = 2,
    trials: int | None = None,
) -> Propagated:
    """The distribution of the model's value, by random draws of its inputs.

    Args:
        model: from values by input name to results; it is called with numpy arrays.
        inputs: what it needs.
        correlations: coefficients by pair of input names.
        level: of the coverage intervals.
        seed: for the same run again.
        figures: how many significant figures of u shall be certain.
        trials: how many, or None to go on until u, the estimate and the symmetric interval are
            certain to a fifth of the tolerance that ``figures`` sets.

    Raises:
        CalibrationError: the level is not between 0.5 and 0.999, the trials are too few for it or
            more than `MOST_TRIALS`, the model gives something else than finite numbers, or the
            inputs cannot be drawn.

    Source: JCGM 101:2008, 7; 7.9 for the adaptive number of trials.
    """
    import numpy as np

    if not 0.5 <= level <= 0.999:
        raise CalibrationError(f"a level of {level} is beyond Monte Carlo; it is 0.5 to 0.999")
    block = max(10_000, math.ceil(100 / (1 - level)))
    if trials is not None and not block <= trials <= MOST_TRIALS:
        raise CalibrationError(
            f"{trials} trials do not do for this level; take {block} to {MOST_TRIALS}"
        )
    kept = checked(correlations or {}, [each.name for each in inputs])
    run = _Run(model, inputs, kept, np.random.Generator(np.random.PCG64(seed)))
    if trials is not None:
        values = run.block(trials)
        parts = np.array_split(values, _FEWEST_BLOCKS)
        settled = _is_settled([_facts(part, level) for part in parts], figures)
    else:
        values, settled = _until_settled(run, block, level, figures)
    return _described(values, level, figures, settled, seed)


def check(
    budget: Budget,
    *,
    level: float = 0.95,
    seed: int = 1,
    figures: int = 2,
    trials: int | None = None,
    shortest: bool = False,
) -> Check:
    """Hold a budget against a Monte Carlo run of the same inputs.

    A budget without a model is run as the linear sum that it is. ``figures`` sets the tolerance
    delta that the ends of the intervals may differ by; ``shortest`` compares the shortest interval
    rather than the symmetric one.

    Raises:
        CalibrationError: as `propagate` and `Budget.coverage` do.

    Source: JCGM 101:2008, 8.1.
    """
    coverage = budget.coverage(level)
    run = propagate(
        budget.model or _sum_of(budget),
        [term.input for term in budget.terms],
        correlations=budget.correlations,
        level=level,
        seed=seed,
        figures=figures,
        trials=trials,
    )
    low, high = interval = run.shortest if shortest else run.symmetric
    return Check(
        run,
        interval,
        d_low=abs(budget.estimate - coverage.expanded - low),
        d_high=abs(budget.estimate + coverage.expanded - high),
        delta=tolerance_of(budget.u, figures),
    )


def _sum_of(budget: Budget) -> Model:
    def model(values: Any) -> Any:
        total = budget.estimate
        for term in budget.terms:
            total = total + term.sensitivity * (values[term.input.name] - term.input.estimate)
        return total

    return model


class _Run:
    def __init__(
        self,
        model: Model,
        inputs: Sequence[Input],
        correlations: Correlations,
        rng: "np.random.Generator",
    ) -> None:
        self.model, self.inputs, self.correlations, self.rng = model, inputs, correlations, rng

    def block(self, trials: int) -> "Values":
        """The model's values for fresh draws."""
        import numpy as np

        from daq.calibration.draws import draw

        with np.errstate(all="ignore"):
            drawn = draw(self.inputs, self.correlations, trials, self.rng)
            values = np.asarray(self.model(drawn), dtype=np.float64)
        values = np.broadcast_to(values, (trials,))
        if not np.isfinite(values).all():
            raise CalibrationError(
                "the model gives no finite number for some values that its inputs can take; "
                "check the model and the widths of the inputs"
            )
        return values


def _until_settled(run: _Run, block: int, level: float, figures: int) -> "tuple[Values, bool]":
    """Blocks of draws until the scatter of their figures is small enough, or there are too many."""
    import numpy as np

    blocks: list[Values] = []
    facts: list[list[float]] = []
    settled = False
    while not settled and (len(blocks) + 1) * block <= MOST_TRIALS:
        blocks.append(run.block(block))
        facts.append(_facts(blocks[-1], level))
        settled = _is_settled(facts, figures)
    return np.concatenate(blocks), settled


def _facts(values: "Values", level: float) -> list[float]:
    return [float(values.mean()), float(values.std(ddof=1)), *_symmetric(values, level)]


def _is_settled(facts: list[list[float]], figures: int) -> bool:
    """Source: JCGM 101:2008, 7.9.4, with a fifth of the tolerance as 8.2 asks of a check."""
    import numpy as np

    if len(facts) < _FEWEST_BLOCKS:
        return False
    u = float(np.sqrt(np.mean([row[1] ** 2 for row in facts])))
    if u == 0:
        return True
    scatter = np.std(facts, axis=0, ddof=1) / math.sqrt(len(facts))
    return bool((2 * scatter <= tolerance_of(u, figures) / 5).all())


def _described(
    values: "Values", level: float, figures: int, settled: bool, seed: int
) -> Propagated:
    u = float(values.std(ddof=1))
    return Propagated(
        estimate=float(values.mean()),
        u=u,
        level=level,
        symmetric=_symmetric(values, level),
        shortest=_shortest(values, level),
        trials=len(values),
        tolerance=tolerance_of(u, figures) if u > 0 else 0.0,
        settled=settled,
        seed=seed,
    )


def _symmetric(values: "Values", level: float) -> tuple[float, float]:
    """Source: JCGM 101:2008, 7.7.2: as many values beyond one end as beyond the other."""
    import numpy as np

    trials, inside = len(values), math.floor(level * len(values) + 0.5)
    first = (trials - inside + 1) // 2 - 1
    ends = (first, min(first + inside, trials - 1))
    found = np.partition(values, ends)
    return float(found[ends[0]]), float(found[ends[1]])


def _shortest(values: "Values", level: float) -> tuple[float, float]:
    """Source: JCGM 101:2008, 7.7.4."""
    import numpy as np

    found = np.sort(values)
    inside = math.floor(level * len(values) + 0.5)
    widths = found[inside:] - found[:-inside]
    first = int(widths.argmin())
    return float(found[first]), float(found[first + inside])

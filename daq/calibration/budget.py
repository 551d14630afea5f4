"""The uncertainty budget of one result: what it is made of, u, degrees of freedom, k and U.

Figures are floats in the units their inputs name; the result's unit is the budget's. Nothing is
rounded here: `daq.calibration.rounding` does that, once, for the certificate.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from types import MappingProxyType

from daq.calibration.correlation import Correlations, checked
from daq.calibration.derivatives import Model, second_order, sensitivity, value_at
from daq.calibration.errors import CalibrationError
from daq.calibration.inputs import Distribution, Input
from daq.calibration.student import student_k

_DUST = 1e-9
"""Relative: ν of one input with 9 degrees of freedom comes out as 9 ± rounding, and means 9."""

_MOST_DUST = 1e-6


@dataclass(frozen=True, slots=True)
class Term:
    """An input with its sensitivity: how much the result changes when the input changes by one.

    Raises:
        CalibrationError: the sensitivity is not finite.
    """

    input: Input
    sensitivity: float = 1.0

    def __post_init__(self) -> None:
        if not math.isfinite(self.sensitivity):
            raise CalibrationError(
                f"the sensitivity to '{self.input.name}' is {self.sensitivity}, not a number"
            )

    @property
    def contribution(self) -> float:
        """c·u, signed, in the result's unit."""
        return self.sensitivity * self.input.u


@dataclass(frozen=True, slots=True)
class Row:
    """One line of the budget table. ``contribution`` is |c|·u; ``share`` is of u², 1 in total."""

    name: str
    estimate: float
    unit: str
    distribution: Distribution | None
    basis: str
    stated: float
    divisor: float
    u: float
    dof: float
    sensitivity: float
    contribution: float
    share: float


@dataclass(frozen=True, slots=True)
class Coverage:
    """The expanded uncertainty for one level of confidence, and what it came from.

    ``k`` and ``expanded`` rest on ``dof``, the effective degrees of freedom cut down to a whole
    number: this is what is stated. ``k_exact`` and ``expanded_exact`` rest on ``dof_exact``.
    """

    level: float
    u: float
    dof_exact: float
    dof: float
    k: float
    expanded: float
    k_exact: float
    expanded_exact: float


@dataclass(frozen=True, slots=True)
class Budget:
    """An uncertainty budget after JCGM 100. `linear` and `of_model` make one.

    correlations: coefficients by pair of names. second_order: terms of u² of next higher order by
    pair of names, or None where they are left out. model: the function behind it, if there is one.

    Raises:
        CalibrationError: no inputs, a name twice, impossible correlations, or correlations
            together with second-order terms, which hold for independent inputs only.
    """

    measurand: str
    estimate: float
    terms: tuple[Term, ...]
    unit: str = ""
    correlations: Correlations = field(default_factory=dict)
    second_order: Mapping[tuple[str, str], float] | None = None
    model: Model | None = field(default=None, compare=False)

    def __post_init__(self) -> None:
        names = [term.input.name for term in self.terms]
        if not names:
            raise CalibrationError(f"the budget of '{self.measurand}' has no inputs")
        for name in names:
            if names.count(name) > 1:
                raise CalibrationError(f"the budget of '{self.measurand}' has '{name}' twice")
        if not math.isfinite(self.estimate):
            raise CalibrationError(f"'{self.measurand}' is {self.estimate}; it must be a number")
        kept = checked(self.correlations, names)
        if kept and self.second_order is not None:
            raise CalibrationError(
                "second-order terms hold for independent inputs only; leave them out, "
                "or check the result by Monte Carlo"
            )
        object.__setattr__(self, "correlations", MappingProxyType(kept))

    @property
    def u_linear(self) -> float:
        """Combined standard uncertainty of first order.

        Source: JCGM 100:2008, equations (10) and (16).
        """
        parts = {term.input.name: term.contribution for term in self.terms}
        plain = math.hypot(*parts.values())
        if not self.correlations or plain == 0:
            return plain
        # Scaled by the plain sum, so that small lengths do not underflow when they are squared.
        crossed = 2 * math.fsum(
            r * (parts[a] / plain) * (parts[b] / plain) for (a, b), r in self.correlations.items()
        )
        return plain * math.sqrt(max(0.0, 1 + crossed))

    @property
    def u(self) -> float:
        """Combined standard uncertainty, with the second-order terms if they were asked for.

        Raises:
            CalibrationError: the second-order terms take away more than there is.
        """
        if self.second_order is None:
            return self.u_linear
        variance = math.fsum([self.u_linear**2, *self.second_order.values()])
        if variance < 0:
            raise CalibrationError(
                "the second-order terms exceed u² itself: the model is too curved for a budget; "
                "use Monte Carlo"
            )
        return math.sqrt(variance)

    @property
    def dof_exact(self) -> float:
        """Effective degrees of freedom, not cut down; infinite if every input's are.

        They rest on the first order alone: second-order terms would only make them more.

        Raises:
            CalibrationError: a correlated input has finite degrees of freedom, which the formula
                does not cover.

        Source: JCGM 100:2008, G.4.1, equation (G.2b), of Welch and Satterthwaite.
        """
        together = {name for pair in self.correlations for name in pair}
        for term in self.terms:
            if term.input.name in together and math.isfinite(term.input.dof):
                raise CalibrationError(
                    f"'{term.input.name}' is correlated and has {term.input.dof:g} degrees of "
                    "freedom; the formula of Welch and Satterthwaite is for independent inputs. "
                    "Make the correlated inputs one input with its own degrees of freedom"
                )
        u = self.u_linear
        if u == 0:
            return math.inf
        total = math.fsum((term.contribution / u) ** 4 / term.input.dof for term in self.terms)
        return 1 / total if total > 0 else math.inf

    @property
    def dof(self) -> float:
        """Effective degrees of freedom, cut down to a whole number, or infinite.

        Source: JCGM 100:2008, G.4.1: the next lower integer.
        """
        exact = self.dof_exact
        if math.isinf(exact):
            return exact
        return float(math.floor(exact + min(_DUST * exact, _MOST_DUST)))

    def coverage(self, level: float = 0.95) -> Coverage:
        """k from Student's t for ``level``, and U = k·u.

        Raises:
            CalibrationError: ``level`` is not between 0 and 1, or there is less than one effective
                degree of freedom.

        Source: JCGM 100:2008, G.3.2 and G.6.4.
        """
        exact, whole, u = self.dof_exact, self.dof, self.u
        if whole < 1:
            raise CalibrationError(
                f"'{self.measurand}' has {exact:.2g} effective degrees of freedom, less than one: "
                "no coverage factor can be stated. Take more readings"
            )
        k, k_exact = student_k(level, whole), student_k(level, exact)
        return Coverage(level, u, exact, whole, k, k * u, k_exact, k_exact * u)

    def table(self) -> tuple[Row, ...]:
        """The budget as rows: one for each input, then one for all second-order terms, if any.

        With correlations a share is c_i u_i Σ r_ij c_j u_j / u²; it may be below zero.
        """
        u = self.u
        rows = [self._row(term, u) for term in self.terms]
        if self.second_order is not None:
            extra = math.fsum(self.second_order.values())
            size = math.copysign(math.sqrt(abs(extra)), extra)
            rows.append(
                Row(
                    name="second order",
                    estimate=0.0,
                    unit=self.unit,
                    distribution=None,
                    basis="terms of next higher order together",
                    stated=size,
                    divisor=1.0,
                    u=size,
                    dof=math.inf,
                    sensitivity=1.0,
                    contribution=size,
                    share=extra / u**2 if u else 0.0,
                )
            )
        return tuple(rows)

    def _row(self, term: Term, u: float) -> Row:
        of = term.input
        together = term.contribution
        for other in self.terms:
            pair, back = (of.name, other.input.name), (other.input.name, of.name)
            r = self.correlations.get(pair, self.correlations.get(back, 0.0))
            together += r * other.contribution
        return Row(
            name=of.name,
            estimate=of.estimate,
            unit=of.unit,
            distribution=of.distribution,
            basis=of.basis,
            stated=of.stated,
            divisor=of.divisor,
            u=of.u,
            dof=of.dof,
            sensitivity=term.sensitivity,
            contribution=abs(term.contribution),
            share=(term.contribution / u) * (together / u) if u else 0.0,
        )


def linear(
    measurand: str,
    terms: Sequence[Term],
    *,
    estimate: float | None = None,
    unit: str = "",
    correlations: Correlations | None = None,
) -> Budget:
    """A budget whose sensitivities are given.

    ``estimate`` is the result; without it, the sum of each estimate times its sensitivity.

    Raises:
        CalibrationError: as `Budget` does.
    """
    if estimate is None:
        estimate = math.fsum(term.sensitivity * term.input.estimate for term in terms)
    return Budget(measurand, estimate, tuple(terms), unit, correlations or {})


def of_model(
    measurand: str,
    model: Model,
    inputs: Sequence[Input],
    *,
    unit: str = "",
    correlations: Correlations | None = None,
    sensitivities: Mapping[str, float] | None = None,
    with_second_order: bool = False,
) -> Budget:
    """A budget from a model function: its value, and its sensitivities by differences.

    Args:
        measurand: what is measured.
        model: from values by input name to the measurand's value.
        inputs: each that the model uses.
        unit: of the measurand.
        correlations: coefficients by pair of input names.
        sensitivities: those that are known better than differences give, by input name.
        with_second_order: whether to add the terms of next higher order to u².

    Raises:
        CalibrationError: as `Budget` does, or the model has no value where it is needed.
    """
    at = {each.name: each.estimate for each in inputs}
    given = dict(sensitivities or {})
    for name in given.keys() - at.keys():
        raise CalibrationError(f"a sensitivity is given for '{name}', which is no input here")
    terms = tuple(
        Term(each, given[each.name])
        if each.name in given
        else Term(each, sensitivity(model, at, each.name, each.u))
        for each in inputs
    )
    extra = second_order(model, at, {e.name: e.u for e in inputs}) if with_second_order else None
    return Budget(measurand, value_at(model, at), terms, unit, correlations or {}, extra, model)

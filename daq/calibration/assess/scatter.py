"""How far one reading scatters when a point is approached again, and what the display rounds off.

The scatter of shown values holds their rounding already, as soon as it is more than a fifth of a
display step or so. The two are not added: the larger counts, and the budget shows both.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from daq.calibration.fields import brief_mm
from daq.calibration.forms import GaugeIdentity
from daq.calibration.inputs import Input, from_limits, from_pooled, from_step
from daq.calibration.results import Repeatability


@dataclass(frozen=True, slots=True)
class Scatter:
    """How sure one reading is, noise at rest left aside.

    ``s_mm`` is the pooled standard deviation of repeated readings as shown, ``dof`` its degrees of
    freedom, both None where nothing was repeated. ``repeated`` and ``step`` are the inputs for the
    budget, of which one counts: the first if ``repeated_counts``. ``doubt`` is the reason to look
    again where the repeatability was not measured, or empty.
    """

    s_mm: float | None
    dof: int | None
    repeated: Input
    step: Input
    doubt: str = ""

    @property
    def repeated_counts(self) -> bool:
        """Whether the scatter is more than the display step accounts for."""
        return self.repeated.u > self.step.u

    @property
    def counts(self) -> Input:
        """The input that counts: the larger."""
        return self.repeated if self.repeated_counts else self.step

    @property
    def u_reading_mm(self) -> float:
        """Standard uncertainty of one reading from scatter and display step."""
        return self.counts.u


def scatter_of(repeats: Sequence[Repeatability], gauge: GaugeIdentity) -> Scatter:
    """The scatter of a run.

    s is pooled over every point that was repeated. Where nothing was repeated the readings are
    taken to lie anywhere within the permissible repeatability (within two display steps where it
    has none, or a smaller one), and a doubt says so: it was not measured.

    Source: JCGM 100:2008, 4.2.4 and H.3.6 for the pooling, F.2.2.1 for the step.
    """
    step = from_step("display step", float(gauge.step_mm), unit="mm")
    several = [each for each in repeats if each.s_mm is not None]
    dof = sum(len(each.points) - 1 for each in several)
    if dof == 0:
        return _not_measured(gauge, step)
    squares = math.fsum((len(each.points) - 1) * float(each.s_mm or 0) ** 2 for each in several)
    s_mm = math.sqrt(squares / dof)
    pooled = from_pooled("repeatability", 0.0, s_mm, n=1, dof=dof, unit="mm")
    return _said(Scatter(s_mm, dof, pooled, step), f"pooled s of {dof + len(several)} readings")


def _not_measured(gauge: GaugeIdentity, step: Input) -> Scatter:
    width_mm = max(gauge.limits.repeatability_mm or gauge.step_mm, 2 * gauge.step_mm)
    given = from_limits("repeatability", 0.0, float(width_mm) / 2, unit="mm")
    doubt = (
        "No point was repeated, so the repeatability is assumed and not measured: readings are "
        f"taken to lie within {brief_mm(width_mm)}. Repeat a point five times."
    )
    taken = f"not measured; readings taken to lie within {brief_mm(width_mm)}"
    return _said(Scatter(None, None, given, step, doubt), taken)


def _said(scatter: Scatter, basis: str) -> Scatter:
    """The same, each input saying whether it counts."""
    if scatter.repeated_counts:
        basis += "; the display step is in it"
        step = f"{scatter.step.basis}, in the repeatability already"
    else:
        basis += "; no more than the display step, which counts"
        step = scatter.step.basis
    return replace(
        scatter,
        repeated=replace(scatter.repeated, basis=basis),
        step=replace(scatter.step, basis=step),
    )

"""What each kind of study comes to, with its pictures and whether there is a signal."""

from collections.abc import Sequence
from dataclasses import dataclass

from daq.calibration.study.bias import BiasStudy
from daq.calibration.study.charts import Chart, Stability
from daq.calibration.study.crossed import CrossedStudy, Trial
from daq.calibration.study.levels import CheckStandard, LevelsStudy
from daq.calibration.study.outlier import Grubbs
from daq.calibration.study.reliability import Binomial
from daq.calibration.study.table import Table


@dataclass(frozen=True, slots=True)
class CrossedResult:
    """By analysis of variance and by average and range, in this order."""

    table: Table
    studies: tuple[CrossedStudy, CrossedStudy]
    values: tuple[Trial, ...]
    has_signal: bool = False

    def pictures(self) -> dict[str, str]:
        """The components by both ways, and every value."""
        from daq.calibration.study.plots import components_picture, operators_picture

        return {
            "components": components_picture(self.studies[0]),
            "components-by-range": components_picture(self.studies[1]),
            "parts-and-operators": operators_picture(self.values, self.table.unit),
        }


@dataclass(frozen=True, slots=True)
class BiasResult:
    """Bias at each reference, and its line."""

    table: Table
    study: BiasStudy
    has_signal: bool = False

    def pictures(self) -> dict[str, str]:
        """The bias over the reference."""
        from daq.calibration.study.plots import bias_picture

        return {"bias": bias_picture(self.study, self.table.unit)}


@dataclass(frozen=True, slots=True)
class StabilityResult:
    """Charts, the name of each point, and the outlier test; None where there is none to make."""

    table: Table
    study: Stability
    names: tuple[str, ...]
    outlier: Grubbs | None

    @property
    def has_signal(self) -> bool:
        """Whether a point breaks a rule."""
        return not self.study.is_stable

    def pictures(self) -> dict[str, str]:
        """Each chart."""
        return _chart_pictures(self.study.charts, self.names, self.table.unit)


@dataclass(frozen=True, slots=True)
class LevelsResult:
    """Repeatability, day to day, run to run."""

    table: Table
    study: LevelsStudy
    has_signal: bool = False

    def pictures(self) -> dict[str, str]:
        """The levels as bars."""
        from daq.calibration.study.plots import levels_picture

        return {"levels": levels_picture(self.study, self.table.unit)}


@dataclass(frozen=True, slots=True)
class CheckResult:
    """Limits of a check standard, and the occasions beyond them by the name of the chart."""

    table: Table
    study: CheckStandard
    charts: tuple[Chart, Chart]
    names: tuple[str, ...]

    @property
    def beyond(self) -> dict[str, list[str]]:
        """By chart: the occasions that lie beyond a limit."""
        return {c.name: [self.names[flag.index] for flag in c.flags] for c in self.charts}

    @property
    def has_signal(self) -> bool:
        """Whether any occasion does."""
        return any(self.beyond.values())

    def pictures(self) -> dict[str, str]:
        """Both charts."""
        return _chart_pictures(self.charts, self.names, self.table.unit)


@dataclass(frozen=True, slots=True)
class ReliabilityResult:
    """The share found within, with its exact interval."""

    table: Table
    seen: Binomial
    has_signal: bool = False

    def pictures(self) -> dict[str, str]:
        """There is none."""
        return {}


Result = (
    CrossedResult | BiasResult | StabilityResult | LevelsResult | CheckResult | ReliabilityResult
)
"""What any kind of study comes to."""


def _chart_pictures(charts: Sequence[Chart], names: Sequence[str], unit: str) -> dict[str, str]:
    from daq.calibration.study.chart_plot import chart_picture

    return {
        chart.name.split(",")[0].replace(" ", "-").casefold(): chart_picture(chart, names, unit)
        for chart in charts
    }

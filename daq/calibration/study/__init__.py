"""Studies of measurement: what scatters and how much, what is off, and whether it stays so.

Pure: values in, results and pictures out; no clock, no file. All lengths of one study are in one
unit, whichever; every standard deviation, limit and bias comes out in it.
"""

from daq.calibration.study.bias import (
    BiasAt,
    BiasStudy,
    Estimate,
    Line,
    Referred,
    bias_study,
    fit_line,
    mean_estimate,
)
from daq.calibration.study.charts import Chart, Stability, averages, individuals
from daq.calibration.study.constants import ChartConstants, chart_constants, d2_star
from daq.calibration.study.crossed import (
    Component,
    CrossedStudy,
    FTest,
    Trial,
    by_range,
    by_variance,
    grid_of,
)
from daq.calibration.study.errors import StudyError
from daq.calibration.study.levels import (
    CheckStandard,
    LevelsStudy,
    Occasion,
    Pooled,
    check_standard,
    levels_study,
    occasion_of,
    pooled,
)
from daq.calibration.study.memory_charts import cusum, ewma
from daq.calibration.study.outlier import Grubbs, grubbs
from daq.calibration.study.reliability import (
    Binomial,
    Proposal,
    Staircase,
    binomial_interval,
    fixed,
    for_reliability,
    scaled_interval,
    stepwise,
    trials_without_failure,
)
from daq.calibration.study.run_rules import Flag, broken_rules

__all__ = [
    "BiasAt",
    "BiasStudy",
    "Binomial",
    "Chart",
    "ChartConstants",
    "CheckStandard",
    "Component",
    "CrossedStudy",
    "Estimate",
    "FTest",
    "Flag",
    "Grubbs",
    "LevelsStudy",
    "Line",
    "Occasion",
    "Pooled",
    "Proposal",
    "Referred",
    "Stability",
    "Staircase",
    "StudyError",
    "Trial",
    "averages",
    "bias_study",
    "binomial_interval",
    "broken_rules",
    "by_range",
    "by_variance",
    "chart_constants",
    "check_standard",
    "cusum",
    "d2_star",
    "ewma",
    "fit_line",
    "fixed",
    "for_reliability",
    "grid_of",
    "grubbs",
    "individuals",
    "levels_study",
    "mean_estimate",
    "occasion_of",
    "pooled",
    "scaled_interval",
    "stepwise",
    "trials_without_failure",
]

"""What an audit works out from many rows: chances, not verdicts. Each says what it supposes."""

from daq.audit.statistics.digits import DigitTest, digit_test, even_digits, last_digit, last_digits
from daq.audit.statistics.discovery import adjusted_p, benjamini_hochberg
from daq.audit.statistics.drift import Drifts, drifts
from daq.audit.statistics.gamma import chi_square_p, chi_square_statistic, chi_square_tail
from daq.audit.statistics.run_length import (
    NELSON,
    WESTERN_ELECTRIC,
    RunRule,
    average_run_length,
    chance_of_alternation,
    chance_of_trend,
)
from daq.audit.statistics.shift import Step, run_p, step, telling_run
from daq.calibration.study.reliability import Binomial, binomial_interval, trials_without_failure

__all__ = [
    "NELSON",
    "WESTERN_ELECTRIC",
    "Binomial",
    "DigitTest",
    "Drifts",
    "RunRule",
    "Step",
    "adjusted_p",
    "average_run_length",
    "benjamini_hochberg",
    "binomial_interval",
    "chance_of_alternation",
    "chance_of_trend",
    "chi_square_p",
    "chi_square_statistic",
    "chi_square_tail",
    "digit_test",
    "drifts",
    "even_digits",
    "last_digit",
    "last_digits",
    "run_p",
    "step",
    "telling_run",
    "trials_without_failure",
]

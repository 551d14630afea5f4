"""Is it at rest, at what, and how sure: readings and times in, settled values out.

`Settler` is the heart of the instrument. It owns no clock, port or file and imports
nothing of ours.
"""

from daq.settle.settler import Rest, Settler
from daq.settle.statistics import (
    autocorrelation_factor,
    autocorrelations,
    mean_and_sd,
    quantisation_u,
    u_of_mean,
)

__all__ = [
    "Rest",
    "Settler",
    "autocorrelation_factor",
    "autocorrelations",
    "mean_and_sd",
    "quantisation_u",
    "u_of_mean",
]

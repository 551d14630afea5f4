"""Is it at rest, at what, and how sure: readings and times in, settled values out.

`Settler` is the heart of the instrument. It owns no clock, port or file and imports
nothing of ours.
"""

from daq.settle.plateaus import (
    Difference,
    Plateau,
    PlateauReader,
    bracketed,
    mean_difference,
    pairs,
)
from daq.settle.rest import Rest, State
from daq.settle.settler import Settler
from daq.settle.statistics import (
    autocorrelation_factor,
    autocorrelations,
    mean_and_sd,
    quantisation_u,
    u_of_mean,
    von_neumann_ratio,
)

__all__ = [
    "Difference",
    "Plateau",
    "PlateauReader",
    "Rest",
    "Settler",
    "State",
    "autocorrelation_factor",
    "autocorrelations",
    "bracketed",
    "mean_and_sd",
    "mean_difference",
    "pairs",
    "quantisation_u",
    "u_of_mean",
    "von_neumann_ratio",
]

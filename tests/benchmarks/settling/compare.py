"""Every settler on the same traces: ours and the four usual ones."""

from collections.abc import Iterator

from daq.settle import Settler

from .families import FAMILIES
from .rivals import RIVALS
from .scoring import Score, score
from .trace import Trace, make_trace

OURS = "this settler"
SETTLERS = {OURS: Settler, **RIVALS}
READINGS_PER_S = (10, 50, 1000)
FAST_HZ = 100
"""Above this a trace has thousands of readings; there a fifth of the seeds will do."""


def traces(seed0, seeds, rates=READINGS_PER_S, families=FAMILIES) -> Iterator[Trace]:
    """Every family at every rate, on a coarse and on a fine display, seed by seed."""
    for family in families:
        for hz in rates:
            for coarse in (True, False):
                for seed in range(seed0, seed0 + (max(1, seeds // 5) if hz > FAST_HZ else seeds)):
                    yield make_trace(family, hz, coarse, seed)


def compare(settlers, seed0, seeds, rates=READINGS_PER_S, families=FAMILIES):
    """The scores of each of ``settlers`` by name, over the same traces in the same order."""
    scores: dict[str, list[Score]] = {name: [] for name in settlers}
    for trace in traces(seed0, seeds, rates, families):
        for name, make in settlers.items():
            settler = make(trace.step_mm, trace.tolerance_mm, trace.hz)
            scores[name].append(score(settler, trace))
    return scores


def all_scores(make, seed0, seeds, rates=READINGS_PER_S) -> list[Score]:
    """The scores of one settler."""
    return compare({"": make}, seed0, seeds, rates)[""]

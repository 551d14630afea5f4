"""The table of `docs/settling.md` from fresh seeds, and its pictures."""

import argparse
import time
from pathlib import Path

from daq.settle import Settler

from .families import FAMILIES
from .plots import draw_all
from .rivals import RIVALS
from .scoring import score
from .table import heading, line, summary
from .trace import make_trace

READINGS_PER_S = (10, 50, 1000)


def all_scores(make, seed0, seeds, rates=READINGS_PER_S):
    """Scores of one settler over every family, rate and display; a fifth of the seeds at 1 kHz."""
    scores = []
    for family in FAMILIES:
        for hz in rates:
            for coarse in (True, False):
                for seed in range(seed0, seed0 + (max(1, seeds // 5) if hz > 100 else seeds)):
                    trace = make_trace(family, hz, coarse, seed)
                    scores.append(score(make(trace.step_mm, trace.tolerance_mm, hz), trace))
    return scores


def overall(name, scores):
    """Lines for settling traces, never-resting ones, and the cost at slow and fast rates."""
    resting = [s for s in scores if not s.never_rests]
    print(line(f"**{name}**, traces that come to rest", summary(resting)))
    print(line(f"{name}, never resting", summary([s for s in scores if s.never_rests])))


def main():
    parser = argparse.ArgumentParser(
        description=__doc__, prog="python -m tests.benchmarks.settling"
    )
    parser.add_argument("--seed0", type=int, default=9000, help="first seed (default 9000)")
    parser.add_argument("--seeds", type=int, default=20, help="seeds a family, rate and display")
    parser.add_argument("--quick", action="store_true", help="4 seeds, no 1 kHz")
    parser.add_argument("--plots", type=Path, help="folder to draw the pictures of the docs into")
    asked = parser.parse_args()
    if asked.plots:
        draw_all(asked.plots)
        return
    seeds = 4 if asked.quick else asked.seeds
    rates = (10, 50) if asked.quick else READINGS_PER_S
    began = time.monotonic()
    ours = all_scores(Settler, asked.seed0, seeds, rates)
    print(heading("by family"))
    for family in FAMILIES:
        print(line(family, summary([s for s in ours if s.family == family])), flush=True)
    print("\n" + heading("by rate and display"))
    for hz in rates:
        for coarse in (True, False):
            some = [s for s in ours if (s.hz, s.coarse) == (hz, coarse) and not s.never_rests]
            print(line(f"{hz} Hz, {'coarse' if coarse else 'fine'}", summary(some)))
    print("\n" + heading("over all"))
    overall("Settler", ours)
    for name, make in RIVALS.items():
        overall(name, all_scores(make, asked.seed0, seeds, rates))
    print(f"\n{len(ours)} traces, seeds from {asked.seed0}, {time.monotonic() - began:.0f} s")


if __name__ == "__main__":
    main()

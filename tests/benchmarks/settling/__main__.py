"""Our settler and four usual ones on traces with known truth, from fresh seeds.

Prints them side by side, over all and family by family; draws the pictures and writes the tables of
`docs/settling.md`.
"""

import argparse
import shlex
import sys
import time
from pathlib import Path

from .charts import draw_charts
from .compare import OURS, READINGS_PER_S, SETTLERS, all_scores, compare
from .plots import draw_traces
from .section import (
    by_family,
    by_rate,
    marked_page,
    overall,
    section,
    side_by_side,
    write_between_marks,
)

__all__ = ["all_scores", "main"]
PROGRAM = "python -m tests.benchmarks.settling"


def main():
    parser = argparse.ArgumentParser(description=__doc__, prog=PROGRAM)
    parser.add_argument("--seed0", type=int, default=9000, help="first seed (default 9000)")
    parser.add_argument("--seeds", type=int, help="seeds a family, rate and display (default 20)")
    parser.add_argument("--quick", action="store_true", help="4 seeds unless told, no 1 kHz")
    parser.add_argument("--by-family", action="store_true", help="every settler family by family")
    parser.add_argument("--plots", type=Path, metavar="DIR", help="draw the pictures into DIR")
    parser.add_argument("--write", type=Path, metavar="PAGE", help="put the tables into PAGE")
    asked = parser.parse_args()
    if asked.write:
        marked_page(asked.write)  # told now, and not after minutes
    seeds = asked.seeds or (4 if asked.quick else 20)
    rates = (10, 50) if asked.quick else READINGS_PER_S
    began_s = time.monotonic()
    scores = compare(SETTLERS, asked.seed0, seeds, rates)
    print(overall(scores))
    for name, mine in scores.items():
        if name == OURS or asked.by_family:
            print("\n" + by_family(f"{name}, by family", mine))
    print("\n" + by_rate(f"{OURS}, by rate and display", scores[OURS]))
    print("\n" + side_by_side(scores))
    if asked.plots:
        draw_charts(asked.plots, scores)
        draw_traces(asked.plots)
    if asked.write:
        command = shlex.join([*PROGRAM.split(), *sys.argv[1:]])
        write_between_marks(asked.write, section(scores, command))
    count, took_s = len(scores[OURS]), time.monotonic() - began_s
    print(f"\n{count} traces, seeds from {asked.seed0}, {took_s:.0f} s")


if __name__ == "__main__":
    main()

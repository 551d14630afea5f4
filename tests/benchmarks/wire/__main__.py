"""Prints the table of what many gauges cost, each row beside its floor in the same run.

    python -m tests.benchmarks.wire [--only NAME ...] [--plot FILE] [--folder DIR] [--quick]

The folder decides which disk is measured, and keeps the large logbook from one run to the next.
"""

import argparse
import os
import platform
import sys
from importlib.metadata import version
from pathlib import Path

from tests.benchmarks.wire.plot import costs, drawn
from tests.benchmarks.wire.rows import ROWS, Effort, line

QUICK = Effort(rounds=2, seconds=1.5, frames=100_000, records=50_000)


def main():
    asked = argparse.ArgumentParser(prog="python -m tests.benchmarks.wire")
    asked.add_argument("--only", nargs="+", choices=ROWS, default=list(ROWS), metavar="NAME")
    asked.add_argument("--repeats", type=int, default=5)
    asked.add_argument("--seconds", type=float, default=5.0, help="of each repeat at line rate")
    asked.add_argument("--records", type=int, default=10_000_000, help="of the large logbook")
    asked.add_argument("--folder", type=Path, help="on the disk that is to be measured")
    asked.add_argument("--plot", type=Path, help="an SVG of the cost against the number of gauges")
    asked.add_argument("--quick", action="store_true", help="a minute or two; rough figures")
    given = asked.parse_args()
    effort = Effort(given.repeats, given.seconds, 1_000_000, given.records, given.folder)
    if given.quick:
        effort = QUICK
    print("| # | what | reach | beside it | measured | |")
    print("|---|---|---|---|---|---|")
    for name in given.only:
        for row in ROWS[name](effort):
            mark = {True: "yes", False: "**no**", None: ""}[row.is_held]
            cells = (row.number, row.what, row.reach, row.beside, row.ours, mark)
            print(f"| {' | '.join(cells)} |", flush=True)
    print(f"\n{machine()}, {effort.rounds} repeats by turns, medians.")
    if given.plot:
        found = costs(line(), effort.seconds, min(effort.rounds, 3))
        given.plot.write_text(drawn(found), "utf-8")
        print(f"The plot: {given.plot}")


def machine():
    """What it was measured on."""
    names = ("numpy", "pyserial")
    versions = ", ".join(f"{each} {version(each)}" for each in names)
    try:
        cpu = next(
            row.partition(":")[2].strip()
            for row in Path("/proc/cpuinfo").read_text("utf-8").splitlines()
            if row.startswith("model name")
        )
    except (OSError, StopIteration):
        cpu = platform.processor() or platform.machine()
    system = f"{platform.system()} {platform.release()}"
    return f"{os.cpu_count()} cores ({cpu}), {system}, Python {sys.version.split()[0]}, {versions}"


if __name__ == "__main__":
    main()

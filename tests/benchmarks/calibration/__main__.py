"""Do stated intervals cover the truth, and do wrong decisions come as often as computed?

Prints the tables; with --write they go into the documentation.
"""

import argparse
import shlex
import sys
import time
from pathlib import Path

from .coverage import coverage
from .fleet import RULES, judge_fleet
from .gauges import FLAT, KINDS
from .section import coverage_table, fleet_table, section, write_between_marks

PROGRAM = "python -m tests.benchmarks.calibration"


def main():
    parser = argparse.ArgumentParser(description=__doc__, prog=PROGRAM)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--calibrations", type=int, default=2000, help="of each kind of gauge")
    parser.add_argument("--gauges", type=int, default=10_000, help="in the fleet, for each rule")
    parser.add_argument("--write", type=Path, metavar="PAGE", help="put the tables into PAGE")
    asked = parser.parse_args()
    began_s = time.monotonic()
    kinds = (*KINDS, FLAT)
    found = {each.name: coverage(each, asked.calibrations, asked.seed) for each in kinds}
    print(coverage_table(found), flush=True)
    judged = {name: judge_fleet(rule, asked.gauges, asked.seed) for name, rule in RULES.items()}
    print("\n" + fleet_table(judged))
    for name, each in judged.items():
        print(f"{name}: off by", *(f"{z:+.1f}" for z in each.sigmas()), "standard deviations")
    if asked.write:
        command = shlex.join([*PROGRAM.split(), *sys.argv[1:]])
        write_between_marks(asked.write, section(kinds, found, judged, command))
    print(f"{time.monotonic() - began_s:.0f} s")


if __name__ == "__main__":
    main()

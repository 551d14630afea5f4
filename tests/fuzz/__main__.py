"""Spoilt inputs for every parser: nothing but our own errors, in bounded time.

python -m tests.fuzz [--cases 100000 | --minutes 60] [--seed 1] [--only NAME ...]
"""

import argparse
import random
import sys
import tempfile
import time

from drivers.errors import RestpointError
from tests.fuzz.mutating import spoilt
from tests.fuzz.parsers import parsers

LONGEST_S = 5.0
"""An input of 200 kB at most is answered within this, on a slow machine too."""


def fuzzed(parser, cases, seed, lasts_s=float("inf")):
    """At most so many cases, for at most so long.

    Returns:
        How many were taken and refused, the slowest in seconds, and what went wrong.
    """
    dice = random.Random(f"{parser.name} {seed}")
    taken = refused = 0
    slowest_s, found = 0.0, []
    end_s = time.monotonic() + lasts_s
    for _ in range(cases):
        if time.monotonic() > end_s:
            break
        data = spoilt(dice, parser.seeds)
        began_s = time.process_time()
        try:
            parser.read(data)
            taken += 1
        except RestpointError:
            refused += 1
        except Exception as error:
            found.append((type(error).__name__, str(error)[:100], data))
        took_s = time.process_time() - began_s
        slowest_s = max(slowest_s, took_s)
        if took_s > LONGEST_S:
            found.append(("too slow", f"{took_s:.1f} s", data))
    return taken, refused, slowest_s, found


def main():
    asked = argparse.ArgumentParser(prog="python -m tests.fuzz")
    asked.add_argument("--cases", type=int, default=100_000, help="for each parser")
    asked.add_argument("--minutes", type=float, help="for all parsers together")
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--only", nargs="+", metavar="NAME")
    given = asked.parse_args()
    print("| parser | cases | taken | refused | slowest | other exceptions |")
    print("|---|---|---|---|---|---|")
    with tempfile.TemporaryDirectory() as folder:
        chosen = [each for each in parsers(folder) if not given.only or each.name in given.only]
        lasts_s, cases = float("inf"), given.cases
        if given.minutes:
            lasts_s, cases = given.minutes * 60 / len(chosen), sys.maxsize
        for parser in chosen:
            taken, refused, slowest_s, found = fuzzed(parser, cases, given.seed, lasts_s)
            tried = taken + refused + sum(kind != "too slow" for kind, _, _ in found)
            row = (f"{tried:,}", f"{taken:,}", f"{refused:,}", f"{slowest_s * 1e3:.0f} ms")
            print(f"| {parser.name} | {' | '.join(row)} | {len(found)} |", flush=True)
            kinds = {(kind, said): data for kind, said, data in found}
            for (kind, said), data in list(kinds.items())[:10]:
                print(f"    {kind}: {said}: {data[:160]!r}", flush=True)


if __name__ == "__main__":
    main()

"""The power is cut at every point of a program's work: is all there that it said is kept?

    python -m tests.faults.power_cut [--tries 8] [--kind records ...] [--every 1]

Each kind of `program` runs once under strace, which tells every write, flush and new name. At every
``--every``-th of them the power goes, ``--tries`` times: the disk then holds what was flushed and,
drawn by the seed, any part of what was not (`disk`). What it holds is looked at, opened and written
on (`judging`).
"""

import argparse
import random
import shutil
import tempfile
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path

from tests.faults.power_cut.disk import Disk
from tests.faults.power_cut.judging import judge
from tests.faults.power_cut.program import KINDS
from tests.faults.power_cut.system_calls import watched

CHANCES = (0.0, 1.0, 0.5, 0.9, 0.1)
"""That what waits gets through: nothing, all (as if only the program had died), and between."""


@dataclass
class Tally:
    """What came of the cuts of one kind."""

    points: int = 0
    cuts: int = 0
    faults: Counter = field(default_factory=Counter)


def cut_at(calls, points, folder, tries, seed=1):
    """Cut the power after so many calls, for each of ``points``, ``tries`` times each."""
    tally, disk, said = Tally(points=len(points)), Disk(), ""
    wanted = set(points)
    for number, call in enumerate(calls, 1):
        disk.reach(call)
        said += call.text if call.do == "said" else ""
        if number not in wanted:
            continue
        for attempt in range(tries):
            dice = random.Random(f"{seed} {number} {attempt}")
            _put(disk.after_cut(dice, CHANCES[attempt % len(CHANCES)]), folder, dice)
            tally.cuts += 1
            tally.faults.update(f"{fault} at call {number}" for fault in judge(folder, said))
    return tally


def points_of(calls, every, dice):
    """The calls to cut after: each where a flush or an acknowledgement is near, some others."""
    near = set()
    for number, call in enumerate(calls, 1):
        if call.do != "write":
            near.update((number - 1, number, number + 1))
    others = set(range(1, len(calls) + 1)) - near
    near &= set(range(1, len(calls) + 1))
    chosen = near | set(dice.sample(sorted(others), min(len(others), 200)))
    return sorted(number for number in chosen if number % every == 0)


def _put(files, folder, dice):
    shutil.rmtree(folder)
    folder.mkdir()
    for name, content in files.items():
        # Shared memory written in no order: after a cut it may hold anything.
        is_shared = name.endswith("-shm")
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(dice.randbytes(len(content)) if is_shared else content)


def main():
    asked = argparse.ArgumentParser(prog="python -m tests.faults.power_cut")
    asked.add_argument("--tries", type=int, default=8)
    asked.add_argument("--every", type=int, default=1)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--kind", nargs="+", choices=KINDS, default=list(KINDS))
    given = asked.parse_args()
    print("| work | system calls | cut after | cuts | told kept and lost, or half shown |")
    print("|---|---|---|---|---|")
    with tempfile.TemporaryDirectory() as base:
        for kind in given.kind:
            run, after = Path(base, kind), Path(base, f"{kind} after")
            run.mkdir()
            after.mkdir()
            calls = watched(kind, run)
            points = points_of(calls, given.every, random.Random(given.seed))
            tally = cut_at(calls, points, after, given.tries, given.seed)
            row = (len(calls), tally.points, tally.cuts, tally.faults.total())
            print(f"| {kind} | {' | '.join(f'{each:,}' for each in row)} |", flush=True)
            for fault, times in tally.faults.most_common(10):
                print(f"    {times} times: {fault}")


if __name__ == "__main__":
    main()

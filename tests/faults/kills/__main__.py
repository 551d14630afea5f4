"""Kills writers: at every system call that writes, and at random moments. Is all there they kept?

    python -m tests.faults.kills [--places 200] [--random 2000]

The kinds of work are those of `tests.faults.power_cut.program`. Where a kind makes more calls than
``--places``, those around a flush, a new name or an acknowledgement come first.
"""

import argparse
import tempfile
from pathlib import Path

from tests.daq.logbook.killing import kill_appending, kill_recording, writing
from tests.faults.kills.at_calls import calls_of, killed_at, places
from tests.faults.power_cut.program import KINDS


def at_calls(kind, most, seed, base):
    """Kills a kind of work; how many calls it makes, how often it was killed, and what is wrong."""
    whole = Path(base, kind)
    whole.mkdir()
    calls = calls_of(kind, whole)
    chosen = places(calls, most, seed)
    faults = []
    for call in chosen:
        with tempfile.TemporaryDirectory(dir=base) as folder:
            inner = Path(folder, "work")
            inner.mkdir()
            faults += [f"{call}: {fault}" for fault in killed_at(kind, call, inner)]
    return len(calls), len(chosen), faults


def main():
    asked = argparse.ArgumentParser(prog="python -m tests.faults.kills")
    asked.add_argument("--places", type=int, default=200, help="for each kind of work")
    asked.add_argument("--random", type=int, default=2000, help="kills at random moments")
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--kind", nargs="+", choices=KINDS, default=list(KINDS))
    given = asked.parse_args()
    print("| work | killed | kills | told kept and lost, or half shown |")
    print("|---|---|---|---|")
    with tempfile.TemporaryDirectory() as base:
        for kind in given.kind if given.places else ():
            calls, kills, faults = at_calls(kind, given.places, given.seed, base)
            _say(kind, f"at system calls, of {calls:,} that write", kills, faults)
        if given.random:
            with writing() as writer:
                folder = Path(base, "random")
                folder.mkdir()
                told, faults = kill_appending(writer, folder, given.random, 20, given.seed)
                _say(f"{told:,} records", "at random moments", given.random, faults)
                told, faults = kill_recording(writer, folder, given.random, given.seed)
                _say(f"{told:,} rows", "at random moments", given.random, faults)


def _say(work, how, kills, faults):
    print(f"| {work} | {how} | {kills:,} | {len(faults):,} |", flush=True)
    for fault in faults[:10]:
        print(f"    {fault}")


if __name__ == "__main__":
    main()

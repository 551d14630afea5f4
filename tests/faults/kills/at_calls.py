"""Kills a program of the power cuts on its way into a chosen system call, with strace.

What the calls before did stays: the system lives on. So this is a program that crashed or was
killed, at each place where what it leaves on the disk could be different.
"""

import random
import re
from collections import Counter

from tests.faults.power_cut.judging import judge
from tests.faults.power_cut.system_calls import run

CALLS = "write,pwrite64,ftruncate,fsync,fdatasync,unlink,rename,mkdir"
"""What changes something on the disk, or says so."""

_LINE = re.compile(r"(\d+) +(\w+)\(")


def calls_of(kind, folder):
    """All such calls of a whole run in their order: the name, and the how-manieth of its thread."""
    told = folder.with_suffix(".strace")
    status, _, errors = run(kind, folder, "-e", f"trace={CALLS}", "-o", str(told))
    assert status == 0, errors
    found = [_LINE.match(line) for line in told.read_text("latin-1").splitlines()]
    told.unlink()
    counts = Counter()
    calls = []
    for each in filter(None, found):
        counts[each.groups()] += 1
        calls.append((each[2], counts[each.groups()]))
    return calls


def places(calls, most, seed):
    """Of the calls, ``most`` at most: those where something else than a write is near first."""
    near = {
        place
        for number, (name, _) in enumerate(calls)
        if name != "pwrite64"
        for place in (number - 1, number, number + 1)
    } & set(range(len(calls)))
    dice = random.Random(seed)
    if len(near) > most:
        chosen = dice.sample(sorted(near), most)
    else:
        others = sorted(set(range(len(calls))) - near)
        chosen = near | set(dice.sample(others, min(len(others), most - len(near))))
    return [calls[number] for number in sorted(chosen)]


def killed_at(kind, call, folder):
    """Kill it on its way into a call; what is wrong with what it leaves in ``folder``."""
    told = folder.with_suffix(".strace")
    name, number = call
    inject = f"inject={name}:signal=SIGKILL:when={number}"
    options = ("-e", f"trace={name}", "-e", inject, "-o", str(told))
    status, said, errors = run(kind, folder, *options)
    told.unlink()
    if status == 0:
        return ["it was not killed"]
    if errors:
        return [f"it failed before it was killed: {errors}"]
    return judge(folder, said)

"""What the machine does to a program that captures: is any wrong value kept, any kept one lost?

    python -m tests.faults.machine [--tries 20] [--only FAULT ...]

Each try is `restpoint capture` as its user runs it, on a simulated gauge at a pseudo-terminal whose
plunger goes from place to place, while one thing happens at a random moment: a signal, a disk that
is full, slow, read-only or fails to flush (strace makes the calls of the system fail), a machine
that stands still for a while, cables that change places (`cables`). Every line it printed must be
in the logbook, the logbook intact, and every value that of a place where the plunger rested.
"""

import argparse
import json
import os
import random
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path

from daq.logbook import Logbook, verify
from drivers.profiles import load_profile
from simulated_devices import Bench, SimulatedGauge
from tests.faults.machine import cables
from tests.faults.power_cut.program import note_of
from tests.faults.power_cut.system_calls import STRACE
from tests.soak.motion import AtWork

LASTS_S = 6.0
PERIOD_S = 1.7
WITHIN_S = 40.0

SIGNALS = {"killed": "SIGKILL", "told to end": "SIGTERM", "terminal closed": "SIGHUP"}
DISKS = {
    "disk full": "pwrite64:error=ENOSPC",
    "disk read-only": "pwrite64:error=EROFS",
    "disk fails to write": "pwrite64:error=EIO",
    "disk fails to flush": "fdatasync:error=EIO",
}
FAULTS = ("none", *SIGNALS, "stands still", "slow disk", *DISKS, *cables.FAULTS)
ROOM_WRITES = 1990
"""As many writes as make room beforehand: a fault before that says nothing of records."""


@dataclass
class Tally:
    """What came of the tries of one fault."""

    tries: int = 0
    kept: int = 0
    refused: Counter = field(default_factory=Counter)
    faults: list = field(default_factory=list)


def run_try(seed, fault, tally, lasts_s=LASTS_S):
    """One try of so many seconds; what came of it is added to ``tally``."""
    dice = random.Random(f"{seed} {fault}")
    work = AtWork(seed, period_s=PERIOD_S, tau_s=0.02)
    gauge = SimulatedGauge(load_profile("fixed-fields"), work, noise_mm=0.0001, seed=seed)
    tally.tries += 1
    with tempfile.TemporaryDirectory() as folder, Bench({"gauge": (gauge, None)}) as bench:
        path = Path(folder, "a.logbook")
        command = [
            *_around(fault, path, dice), sys.executable, "-m", "daq.cli", "capture",
            f"fixed-fields@{bench.ports['gauge']}", "--logbook", str(path), "--json",
            "--for", str(lasts_s),
        ]  # fmt: skip
        with subprocess.Popen(
            command,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            cwd=Path(__file__).parents[3],
            env={**os.environ, "PYTHONDONTWRITEBYTECODE": "1"},
            text=True,
        ) as process:
            _disturb(process, fault, dice, lasts_s)
            out, errors = process.communicate(timeout=WITHIN_S)
        _judge(path, out, errors.replace(str(path), "FILE"), work, tally, f"{fault} {seed}")


def _around(fault, path, dice):
    """What the program runs under."""
    if fault == "slow disk":
        how = f"fdatasync:delay_exit={dice.randrange(50_000, 900_000)}"
        return _strace(path, "fdatasync", how)
    if fault in DISKS:
        call = DISKS[fault].partition(":")[0]
        first = dice.randrange(ROOM_WRITES, ROOM_WRITES + 12) if call == "pwrite64" else 0
        first = first or dice.randrange(1, 4)
        return _strace(path, call, f"{DISKS[fault]}:when={first}+")
    return []


def _strace(path, call, how):
    told = path.with_name("strace")
    only = ["-P", f"{path}-wal"]
    return [STRACE, "-f", "-o", str(told), *only, "-e", f"trace={call}", "-e", f"inject={how}"]


def _disturb(process, fault, dice, lasts_s):
    if fault not in SIGNALS and fault != "stands still":
        return
    time.sleep(dice.uniform(0.3, lasts_s))  # it has that long to come to any stage of its work
    if fault == "stands still":
        process.send_signal(signal.SIGSTOP)
        time.sleep(dice.uniform(0.5, 4.0))
        process.send_signal(signal.SIGCONT)
    else:
        process.send_signal(getattr(signal, SIGNALS[fault]))


def _judge(path, out, errors, work, tally, where):
    lines = [json.loads(line) for line in out.splitlines() if line.endswith("}")]
    tally.refused.update(line.partition("(")[0] for line in errors.splitlines())
    said = [line for line in lines if "hash" in line]
    tally.kept += len(said)
    if "Traceback" in errors:
        tally.faults.append(f"{where}: {errors.splitlines()[-1]}")
    if not path.exists():
        if said:
            tally.faults.append(f"{where}: the logbook is gone")
        return
    places = [work.place_mm(number) for number in range(-1, 60)]
    with Logbook.open(path) as book, Logbook.read(path) as reader:
        entries = {entry.sequence: entry for entry in reader.entries()}
        book.append(note_of(1, 10))
    for line in said:
        entry = entries.get(line["sequence"])
        if entry is None or entry.hash != line["hash"]:
            tally.faults.append(f"{where}: record {line['sequence']} is lost")
    for entry in entries.values():
        if entry.record.kind == "capture":
            value_mm, u_mm = float(entry.record.value_mm), float(entry.record.u_mm)
            if min(abs(value_mm - each) for each in places) > 0.001 + 5 * u_mm:
                tally.faults.append(f"{where}: {value_mm} mm is no place it rested at")
    tally.faults += [f"{where}: {problem}" for problem in verify(path).problems]


def main():
    asked = argparse.ArgumentParser(prog="python -m tests.faults.machine")
    asked.add_argument("--tries", type=int, default=20, help="of each fault")
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--only", nargs="+", choices=FAULTS, default=list(FAULTS), metavar="FAULT")
    given = asked.parse_args()
    print("| fault | tries | told kept | lost, wrong or not intact | what was said |")
    print("|---|---|---|---|---|")
    for fault in given.only:
        tally = Tally()
        run = cables.run_try if fault in cables.FAULTS else run_try
        for number in range(given.tries):
            run(given.seed * 1000 + number, fault, tally)
        said = "; ".join(f"{times} × {words}" for words, times in tally.refused.most_common(2))
        row = (tally.tries, tally.kept, len(tally.faults), said[:200])
        print(f"| {fault} | {' | '.join(map(str, row))} |", flush=True)
        for each in tally.faults[:10]:
            print(f"    {each}")


if __name__ == "__main__":
    main()

"""At the rate of the line: what is lost, what it costs, how long it takes. Rows W4 to W8.

The gauges' process writes frames at the times when a line of that rate would have brought them, and
notes when it began each write. A frame that a full terminal refuses is dropped, and counts as lost.
CPU is this process's, user and system, in per cent of a core.
"""

import statistics
import subprocess
import tempfile
import time
from pathlib import Path

import numpy as np

from tests.benchmarks.wire.ports import Ports, numbered, on_one_core, patient
from tests.benchmarks.wire.ways import Floor, Ours

WARM_S = 0.25
LAST_S = 0.3
"""So long after the last write frames may still come."""

LINE = {"rate": 822.857, "each": 1}
"""115 200 baud, frames of 14 bytes, one a write."""
FAST = {"rate": 6582.86, "each": 13}
"""921 600 baud; a USB adapter hands frames over in bundles."""
FASTEST = {"rate": 21428.6, "each": 22}
"""3 Mbaud."""


def paced_round(way, ports, profile, load):
    """One way under one load: CPU, frames, what was lost or wrong, and the times it took."""
    reading = way(ports, profile)
    reading.begin()
    # What a stream's first frame is held back for, and what is loaded late, is not measured.
    ports.begin(**{**load, "seconds": WARM_S})
    ports.report()
    time.sleep(LAST_S)
    reading.since_s = time.monotonic()
    began_s, began_cpu_s = time.monotonic(), time.process_time()
    ports.begin(**load)
    report = ports.report()
    cpu_s, took_s = time.process_time() - began_cpu_s, time.monotonic() - began_s
    time.sleep(LAST_S)
    reading.end()
    seen = [each for each in reading.seen if each[2] >= reading.since_s]
    delays_s = _delays_s(seen, ports, load["each"])
    came = sum(count for _, count, _ in seen)
    return {
        "cpu_percent": 100 * cpu_s / took_s,
        "frames": came,
        "lost": report["sent"] - came,
        "dropped": report["dropped"],
        "wrong": reading.wrong,
        "p50_ms": float(np.percentile(delays_s, 50)) * 1e3,
        "p99_ms": float(np.percentile(delays_s, 99)) * 1e3,
        "late_ms": report["late_s"] * 1e3,
    }


def _delays_s(seen, ports, each):
    """From the write of each frame until its value was there; what was dropped comes late."""
    count = len(ports.ours)
    at, took = [0] * count, []
    for place, frames, t_s in seen:
        turns = np.arange(at[place], at[place] + frames) // each
        writes = np.minimum(turns * count + place, len(ports.times_s) - 1)
        took.append(t_s - ports.times_s[writes])
        at[place] += frames
    return np.concatenate(took) if took else np.array([np.inf])


def compared(profile, count, load, ways=(Floor, Ours), rounds=5):
    """By way, the median figures of interleaved rounds, with the ratios to the floor."""
    profile = patient(profile)
    writes = int(count * (load["rate"] / load["each"] * load["seconds"] + 2))
    found = {way: [] for way in ways}
    with Ports(count, numbered(profile), writes) as ports, on_one_core():
        for _ in range(rounds):
            for way in ways:
                found[way].append(paced_round(way, ports, profile, load))
    return {way.name: _figures(each, found[ways[0]]) for way, each in found.items()}


def _figures(rounds, floor):
    figures = {name: statistics.median(each[name] for each in rounds) for name in rounds[0]}
    for name in ("cpu_percent", "p50_ms", "p99_ms"):
        pairs = zip(rounds, floor, strict=True)
        figures[f"{name}_ratio"] = statistics.median(ours[name] / low[name] for ours, low in pairs)
    return figures | {"lost": sum(each["lost"] for each in rounds), "wrong": rounds_wrong(rounds)}


def rounds_wrong(rounds):
    return sum(each["wrong"] for each in rounds)


C_READER = r"""
#include <fcntl.h>
#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <time.h>
#include <unistd.h>

/* Reads a terminal until told by its standard input's end; prints when how many bytes came. */
int main(int argc, char **argv) {
  static struct { double t_s; int bytes; } seen[1 << 20];
  int count = 0, port = open(argv[1], O_RDONLY | O_NOCTTY);
  char data[65536];
  struct pollfd waiting[2] = {{port, POLLIN, 0}, {0, POLLIN, 0}};
  if (argc < 2 || port < 0) return 1;
  puts("ready");
  fflush(stdout);
  while (poll(waiting, 2, -1) >= 0 && !waiting[1].revents && count < 1 << 20) {
    struct timespec now;
    ssize_t got = read(port, data, sizeof data);
    clock_gettime(CLOCK_MONOTONIC, &now);
    seen[count].t_s = now.tv_sec + now.tv_nsec / 1e9;
    seen[count++].bytes = got > 0 ? (int)got : 0;
  }
  for (int i = 0; i < count; i++) printf("%.9f %d\n", seen[i].t_s, seen[i].bytes);
  return 0;
}
"""


def one_gauge(profile, rate_hz=1000.0, seconds=3.0, rounds=5, compiler="cc"):
    """W7: the times of one gauge at 1 kHz, over those of a bare reader in C in the same run.

    Raises:
        FileNotFoundError: there is no C compiler.
    """
    profile, load = patient(profile), {"rate": rate_hz, "each": 1, "seconds": seconds}
    bare, ours = [], []
    with tempfile.TemporaryDirectory() as folder:
        source, program = Path(folder, "reader.c"), Path(folder, "reader")
        source.write_text(C_READER, "ascii")
        subprocess.run([compiler, "-O2", "-o", program, source], check=True)
        with Ports(1, numbered(profile), int(rate_hz * seconds + 2)) as ports, on_one_core():
            for _ in range(rounds):
                bare.append(_bare_round(program, ports, load))
                ours.append(paced_round(Ours, ports, profile, load))
    pairs = list(zip(ours, bare, strict=True))
    return {
        "bare_p50_us": statistics.median(each["p50_ms"] for each in bare) * 1e3,
        "bare_p99_us": statistics.median(each["p99_ms"] for each in bare) * 1e3,
        "p50_us": statistics.median(each["p50_ms"] for each in ours) * 1e3,
        "p99_us": statistics.median(each["p99_ms"] for each in ours) * 1e3,
        "p50_ratio": statistics.median(a["p50_ms"] / b["p50_ms"] for a, b in pairs),
        "p99_above_ms": statistics.median(a["p99_ms"] - b["p99_ms"] for a, b in pairs),
        "lost": sum(each["lost"] for each in ours),
        "wrong": rounds_wrong(ours),
    }


def _bare_round(program, ports, load):
    reader = subprocess.Popen(
        [program, ports.names[0]], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    )
    reader.stdout.readline()
    ports.begin(**load)
    ports.report()
    time.sleep(LAST_S)
    said, _ = reader.communicate("over\n", timeout=20)
    size, seen, held = len(ports.frames[0]), [], 0
    for row in said.splitlines():
        t_s, got = row.split()
        frames, held = divmod(held + int(got), size)
        seen.append((0, frames, float(t_s)))
    took_s = _delays_s([each for each in seen if each[1]], ports, load["each"])
    return {f"p{share}_ms": float(np.percentile(took_s, share)) * 1e3 for share in (50, 99)}

"""What durability costs against the disk itself: rows D1 (captures), D2 (traces) and L1 (logbook).

    python -m tests.benchmarks.wire.durable [FOLDER] [--records N] [--seconds S]

prints each row. The folder decides which disk is measured. Figures are medians of interleaved
rounds; a ratio is the median of the ratios within a round, never a quotient of two runs.
"""

import argparse
import os
import random
import select
import signal
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from contextlib import contextmanager
from datetime import UTC, datetime
from decimal import Decimal
from pathlib import Path

from daq.logbook import (
    Capture,
    CapturedGauge,
    CapturedReading,
    CapturedSpec,
    CapturedVerdict,
    Logbook,
    Note,
    TraceRecorder,
    new_uid,
    recorded,
    verify,
    verify_trace,
)

APPENDER = Path(__file__).parents[2] / "daq" / "logbook" / "appender.py"
AT = datetime(2026, 3, 1, tzinfo=UTC)
BARE_BYTES = 200
LINE_RATE = 105_331
"""Frames a second of 128 gauges at 115 200 baud, 14 bytes each."""


def capture():
    """A capture of three readings, some 980 bytes as a record."""
    value = Decimal("12.340")
    return Capture(
        uid=new_uid(),
        at=AT,
        monotonic_s=5321.7503127,
        station="bench 2",
        operator="A. Fitter",
        gauge=CapturedGauge(
            label="G-17", profile="decimal-line", identity="usb-serial-0001", port="port 1"
        ),
        spec=CapturedSpec(
            name="rack length",
            nominal_mm=Decimal("12.300"),
            lower_mm=Decimal("-0.100"),
            upper_mm=Decimal("0.100"),
            unit="mm",
            source="setting sheet 4, line 2",
        ),
        value_mm=value,
        u_mm=Decimal("0.00041"),
        n=3,
        rest_seen=True,
        span_readings=3,
        since_s=5321.2501931,
        until_s=5321.4502218,
        resolution_mm=Decimal("0.001"),
        deviation_mm=value - Decimal("12.300"),
        verdict=CapturedVerdict(outcome="in", rule="simple acceptance", guard_mm=Decimal("0")),
        trigger="settled",
        unit_shown="mm",
        readings=tuple(
            CapturedReading(t_s=5321.2501931 + i / 10, text="+0012.340", unit="mm", status=())
            for i in range(3)
        ),
        frames=(b"+0012.340mm\r\n".hex(),) * 3,
        bad_frames=0,
        note="",
    )


def note():
    """A remark, some 200 bytes as a record."""
    return Note(
        uid=new_uid(), at=AT, operator="", purpose="remark", about=None, text="plunger cleaned"
    )


def percentile(values, part):
    return sorted(values)[min(int(part * len(values)), len(values) - 1)]


def timed(count, do):
    """Seconds that each of ``count`` calls took on the wall."""
    took = []
    for _ in range(count):
        began = time.perf_counter()
        do()
        took.append(time.perf_counter() - began)
    return took


@contextmanager
def bare_file(folder):
    """Appends to a file and flushes it: the floor of all that is durable."""
    descriptor = os.open(Path(folder) / "bare", os.O_CREAT | os.O_WRONLY | os.O_APPEND)
    flush = getattr(os, "fdatasync", os.fsync)

    def append():
        os.write(descriptor, b"x" * BARE_BYTES)
        flush(descriptor)

    try:
        yield append
    finally:
        os.close(descriptor)
        (Path(folder) / "bare").unlink()


def captures(folder, rounds=15, each=40):
    """D1: captures appended and acknowledged one at a time, against bare append + fdatasync.

    The captures are made beforehand; the logbook is new, so that its first records count too.
    """
    ready = [capture() for _ in range(each)]
    path = Path(folder) / "captures.sqlite"
    bare, ours, bare_p99, ours_p99 = [], [], [], []
    with bare_file(folder) as append, Logbook.open(path, at=AT) as book:
        for _ in range(rounds):
            following = iter(ready)
            took_bare = timed(each, append)
            took_ours = timed(each, lambda: book.append(next(following)))  # noqa: B023 (used at once)
            bare.append(each / sum(took_bare))
            ours.append(each / sum(took_ours))
            bare_p99.append(percentile(took_bare, 0.99))
            ours_p99.append(percentile(took_ours, 0.99))
    intact = verify(path).intact
    remove(path)
    return {
        "bare_per_s": statistics.median(bare),
        "captures_per_s": statistics.median(ours),
        "ratio": statistics.median(b / a for a, b in zip(bare, ours, strict=True)),
        "first_round_ratio": ours[0] / bare[0],
        "bare_p99_ms": statistics.median(bare_p99) * 1e3,
        "captures_p99_ms": statistics.median(ours_p99) * 1e3,
        "intact": intact,
    }


@contextmanager
def waking(period_s=0.002):
    """A second thread that merely wakes: a lone thread's flush may wait for a timer tick."""
    done = threading.Event()

    def wake():
        while not done.wait(period_s):
            pass

    thread = threading.Thread(target=wake)
    thread.start()
    try:
        yield
    finally:
        done.set()
        thread.join()


def traced(folder, seconds=3.0, rate=LINE_RATE, gauges=128):
    """One trace: offered ``rate`` arrivals a second, one frame each; what became durable of it."""
    labels = [f"G-{number}" for number in range(gauges)]
    path = Path(folder) / "trace.csv"
    put, asked, acknowledged = 0, [], []
    began_cpu = time.process_time()
    with TraceRecorder.begin(path, time.monotonic(), at=AT) as recorder:
        began = time.monotonic()
        while (now := time.monotonic()) < began + seconds:
            numbers = range(put, max(put, int((now - began) * rate)))
            # The digits carry the number: a lost, doubled or wrong row is seen.
            put = recorder.put_all(
                [(now, labels[i % gauges], b"+%07d.%03d mm\r\n" % divmod(i, 1000)) for i in numbers]
            )
            if numbers:
                asked.append((put, now))
            while asked and asked[0][0] <= recorder.durable:
                acknowledged.append(time.monotonic() - asked.pop(0)[1])
            time.sleep(0.001)
        waited = time.monotonic()
        recorder.wait()
        ended = time.monotonic()
        cpu_s = time.process_time() - began_cpu
    report = verify_trace(path)
    wrong = sum(
        label != labels[i % gauges] or row.data != b"+%07d.%03d mm\r\n" % divmod(i, 1000)
        for i, (label, row) in enumerate(recorded(path))
    )
    path.unlink()
    return {
        "durable_per_s": put / (ended - began),
        "behind_ms": (ended - waited) * 1e3,
        "cpu_percent": cpu_s / (ended - began) * 100,
        "ack_p50_ms": percentile(acknowledged, 0.5) * 1e3,
        "ack_p99_ms": percentile(acknowledged, 0.99) * 1e3,
        "wrong": wrong + (report.rows - 2 != put) + (not report.intact),
    }


def traces(folder, rounds=5, seconds=3.0, rate=LINE_RATE):
    """D2: all that 128 gauges send at line rate, against a bare flush with a second thread awake.

    CPU includes the thread that makes the load.
    """
    bare, bare_p99, ours = [], [], []
    with bare_file(folder) as append:
        for _ in range(rounds):
            with waking():
                took = timed(200, append)
            bare.append(len(took) / sum(took))
            bare_p99.append(percentile(took, 0.99) * 1e3)
            ours.append(traced(folder, seconds, rate))
    medians = {name: statistics.median(each[name] for each in ours) for name in ours[0]}
    return medians | {
        "offered_per_s": rate,
        "bare_per_s": statistics.median(bare),
        "over_bare": statistics.median(
            each["durable_per_s"] / floor for each, floor in zip(ours, bare, strict=True)
        ),
        "ack_p99_over_bare": statistics.median(
            each["ack_p99_ms"] / floor for each, floor in zip(ours, bare_p99, strict=True)
        ),
        "worst_per_s": min(each["durable_per_s"] for each in ours),
        "wrong": sum(each["wrong"] for each in ours),
    }


def most_traced(folder, rounds=5, rows=500_000, at_once=2_000):
    """D2, flat out: rows a second when the recorder alone decides; never further behind than 20 ms
    or so of rows."""
    arrivals = [(5321.0 + i / 1e5, f"G-{i % 128}", b"+0012.345 mm\r\n") for i in range(at_once)]
    path, found = Path(folder) / "most.csv", []
    for _ in range(rounds):
        with TraceRecorder.begin(path, 0.0, at=AT) as recorder:
            began = time.monotonic()
            while recorder.put_all(arrivals) < rows:
                recorder.wait(recorder.durable + 1 if recorder.durable else 1)
            recorder.wait()
            found.append(recorder.durable / (time.monotonic() - began))
        path.unlink()
    return {"rows_per_s": statistics.median(found)}


def killed(folder, kills=20, seed=1):
    """D2, kill -9: rows that were acknowledged before it, and how many of them are gone."""
    if not hasattr(os, "fork"):
        return {"kills": 0, "acknowledged": 0, "lost": 0}
    chance, acknowledged, lost = random.Random(seed), 0, 0
    command = [sys.executable, APPENDER]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE) as process:
        for number in range(kills):
            path = Path(folder) / f"killed-{number}.csv"
            process.stdin.write(f"rows {path}\n".encode())
            process.stdin.flush()
            kept = _kill(process.stdout.fileno(), chance.uniform(0.05, 0.25))
            there = [int(row.data.split()[0]) for _, row in recorded(path)] if kept else []
            acknowledged += kept
            lost += kept - len(set(there) & set(range(1, kept + 1)))
            path.unlink(missing_ok=True)
        process.stdin.close()
    return {"kills": kills, "acknowledged": acknowledged, "lost": lost}


def _kill(out, after_s):
    """Kill the child of the appender after a time; the number of rows that it said were kept."""
    said, ends = b"", time.monotonic() + after_s
    child, is_killed = None, False
    while b"dead" not in said or not said.endswith(b"\n"):
        if child is None and b"\n" in said:
            child = int(said.split(None, 2)[1])
        if child is not None and not is_killed and time.monotonic() >= ends:
            os.kill(child, signal.SIGKILL)
            is_killed = True
        if select.select([out], [], [], 0.01)[0]:
            said += os.read(out, 65536)
    return max([int(line.split()[1]) for line in said.splitlines() if line[:4] == b"kept"] or [0])


def logbook_of(path, records, kind=note):
    """A logbook of so many records besides its cover; one that is there is taken as it is."""
    if path.exists():
        return
    record, most = kind(), 20_000
    with Logbook.open(path, at=AT) as book:
        while records > 0:
            book.append_many([record] * min(records, most))
            records -= most


def opened_and_verified(folder, records=100_000, rounds=5, kind=note):
    """L1: opening to write and to read, and checking, a logbook of so many records."""
    path = Path(folder) / f"{kind.__name__}-{records}.sqlite"
    logbook_of(path, records, kind)
    to_write, to_read, per_s, cpu = [], [], [], []
    for _ in range(rounds):
        to_write += timed(1, lambda: Logbook.open(path).close())
        to_read += timed(1, lambda: Logbook.read(path).close())
        began, began_cpu = time.perf_counter(), time.process_time()
        report = verify(path)
        per_s.append(report.records / (time.perf_counter() - began))
        cpu.append(report.records / (time.process_time() - began_cpu))
        assert report.intact, report.problems[:3]
        assert report.records == records + 1
    size = path.stat().st_size
    return {
        "records": records,
        "megabytes": size / 1e6,
        "open_to_write_s": max(to_write),
        "open_to_read_s": max(to_read),
        "verified_per_s": statistics.median(per_s),
        "verified_per_cpu_s": statistics.median(cpu),
    }


def remove(path):
    for end in ("", "-wal", "-shm", ".lock"):
        Path(f"{path}{end}").unlink(missing_ok=True)


def shown(name, found):
    figures = (f"{key} {value:.6g}" for key, value in found.items())
    print(f"{name}: {', '.join(figures)}", flush=True)


def main():
    asked = argparse.ArgumentParser()
    asked.add_argument("folder", nargs="?", type=Path)
    asked.add_argument("--records", type=int, default=100_000)
    asked.add_argument("--kind", choices=("note", "capture"), default="note")
    asked.add_argument("--seconds", type=float, default=3.0)
    given = asked.parse_args()
    kind = {"note": note, "capture": capture}[given.kind]
    with tempfile.TemporaryDirectory(dir=given.folder) as folder:
        shown("D1 captures", captures(folder))
        shown("D2 traces", traces(folder, seconds=given.seconds))
        shown("D2 flat out", most_traced(folder))
        shown("D2 kill -9", killed(folder))
        shown("L1 logbook", opened_and_verified(given.folder or folder, given.records, kind=kind))


if __name__ == "__main__":
    main()

"""A benchmark's gauges: a process of its own that writes numbered frames into pseudo-terminals.

Its first line of standard input is JSON: the ends to write to, the frames, the core to stay on, and
a file for the times. Each further line is a load, JSON too; when all of it is sent it prints one
JSON line. Flat out it writes as fast as the terminals take it. With a rate it writes at the times
when a line of that rate would have brought the frames; what a terminal refuses is dropped and
counted. Before each write of such a load, the time goes to its place in the file.
"""

import json
import mmap
import os
import select
import sys
import time

CHUNK = 1 << 16
NAP_S = 0.0002
MOST_BEHIND_S = 0.004


def flat_out(ends, frames, count):
    """Write ``count`` frames, the given ones over and over, to each of ``ends``."""
    cycle = b"".join(frames)
    size = len(cycle) * (count // len(frames)) + len(b"".join(frames[: count % len(frames)]))
    stream = memoryview(cycle * (CHUNK // len(cycle) + 2))
    at = dict.fromkeys(ends, 0)
    waiting = select.poll()
    for end in ends:
        waiting.register(end, select.POLLOUT)
    while at:
        for end, _ in waiting.poll():
            begin = at[end] % len(cycle)
            try:
                at[end] += os.write(end, stream[begin : begin + min(CHUNK, size - at[end])])
            except BlockingIOError:
                continue
            if at[end] >= size:
                waiting.unregister(end)
                del at[end]
    return {"sent": count * len(ends), "dropped": 0, "late_s": 0.0}


def paced(ends, frames, times, rate, seconds, each):
    """Write ``rate`` frames a second to each of ``ends``, ``each`` of them at a time."""
    count = len(frames)
    parts = [b"".join((frames * 2)[at : at + each]) for at in range(count)]
    ports, at, dropped, late_s = len(ends), 0, 0, 0.0
    most_behind_s = max(MOST_BEHIND_S, 2 * each / rate)
    period, total = each / rate, int(rate * seconds / each) * len(ends)
    began = time.monotonic()
    while at < total:
        due = min(int((time.monotonic() - began) / period * ports), total)
        behind_s = (due - at) / ports * period
        late_s = max(late_s, behind_s)
        if behind_s > most_behind_s:
            # This process was stopped. No line sends faster than its rate to make up for that.
            began += behind_s - most_behind_s
            due = min(int((time.monotonic() - began) / period * ports), total)
        for number in range(at, due):
            turn, port = divmod(number, ports)
            part = parts[turn * each % count]
            times[number] = time.monotonic()
            try:
                if os.write(ends[port], part) == len(part):
                    continue
            except OSError:  # full, or hung up on purpose
                pass
            dropped += each
        at = max(at, due)
        time.sleep(NAP_S)
    return {"sent": total * each, "dropped": dropped, "late_s": late_s}


def main():
    asked = json.loads(sys.stdin.readline())
    frames = [bytes.fromhex(frame) for frame in asked["frames"]]
    ends = asked["ends"]
    for end in ends:
        os.set_blocking(end, False)
    if asked["core"] is not None:
        os.sched_setaffinity(0, {asked["core"]})
    with (
        open(asked["times"], "r+b") as file,
        mmap.mmap(file.fileno(), 0) as memory,
        memoryview(memory) as raw,
        raw.cast("d") as times,
    ):
        print("ready", flush=True)
        while line := sys.stdin.readline():
            load = json.loads(line)
            if load.get("rate"):
                form = (load["rate"], load["seconds"], load.get("each", 1))
                done = paced(ends[: load["ports"]], frames, times, *form)
            else:
                done = flat_out(ends[: load["ports"]], frames, load["count"])
            print(json.dumps(done), flush=True)


if __name__ == "__main__":
    main()

"""What it costs to read many gauges, beside a bare floor: row W1.

    python -m tests.benchmarks.wire.reading [--profile NAME] [--ports N ...] [--rounds N]

The floor waits with epoll, reads with ``os.read`` and splits what came into frames, one bytes
object each, without looking at any. Ours is the reader of ``drivers`` with its thread, feeding a
``BlockDecoder``: every frame validated, its value, status, place and time in columns. Both read the
same frames from pseudo-terminals that another process fills, by turns in one run; a ratio is the
median of the ratios within a round. CPU is the reading process's, user and system.
"""

import argparse
import os
import select
import statistics
import struct
import threading
import time

import numpy as np

from drivers.blocks import Block, BlockDecoder
from drivers.profiles import builtin_profiles
from drivers.reader import Arrived, Reader
from drivers.reading import Unit
from tests.benchmarks.wire.ports import NUMBERS, SETTINGS, Ports, numbered, on_one_core, patient


def floor_round(ports, profile, until):
    """Read until ``until`` bytes have come: CPU seconds, and frames."""
    end = profile.frame.marks[1]
    fixed = struct.Struct(f"{len(ports.frames[0])}s")
    waiting = select.epoll()
    for descriptor in ports.ours:
        waiting.register(descriptor, select.EPOLLIN)
    held = dict.fromkeys(ports.ours, b"")
    read, frames = 0, 0
    ports.begin(count=until // len(ports.frames[0]) // len(ports.ours))
    began = time.process_time()
    while read < until:
        for descriptor, _ in waiting.poll():
            data = os.read(descriptor, 65536)
            read += len(data)
            data = held[descriptor] + data
            if end:
                *found, held[descriptor] = data.split(end)
            else:
                whole = len(data) // fixed.size * fixed.size
                found = list(fixed.iter_unpack(data[:whole]))
                held[descriptor] = data[whole:]
            frames += len(found)
    cpu_s = time.process_time() - began
    waiting.close()
    return cpu_s, frames


class Taker:
    """What our reader's thread does with each sweep: decode it, and look for wrong values.

    Looking is no part of reading: ``looked_s`` is the CPU time that it took.
    """

    def __init__(self, profile, gauges, each, until):
        self.decoder = BlockDecoder()
        for gauge in gauges:
            self.decoder.add(gauge, profile, time.monotonic())
        self.each, self.read, self.until = each, 0, until
        self.next, self.wrong, self.looked_s = {}, 0, 0.0
        self.places = -profile.resolution[Unit.MM].as_tuple().exponent
        worth = int(profile.resolution[Unit.MM].scaleb(self.places))
        self.due = (np.arange(20_000) % NUMBERS + 1000) * worth
        self.done = threading.Event()

    def __call__(self, sweep):
        arrived = [(each.gauge, each.data, each.t_s) for each in sweep if type(each) is Arrived]
        found = self.decoder.receive(arrived)
        began_s = time.thread_time()
        for each in found:
            self.look(each)
        self.read += sum([len(data) for _, data, _ in arrived])
        if self.read >= self.until:
            self.done.set()
        self.looked_s += time.thread_time() - began_s

    def look(self, found):
        """Compare with the numbers that were sent."""
        if not isinstance(found, Block):
            count = int(found.event.value.scaleb(self.places))
            self.follow(found.gauge, np.array([count]))
            return
        begin = 0
        for part in found.parts:
            self.follow(part.gauge, found.count[begin : begin + part.rows])
            begin += part.rows

    def follow(self, gauge, counts):
        # A line's first frame is not believed: the stream may have been joined inside it.
        first = self.next.get(gauge, 0 if counts[0] == self.due[0] else 1)
        self.next[gauge] = first + len(counts)
        due = self.due[first % NUMBERS :][: len(counts)]
        self.wrong += len(counts) if len(due) < len(counts) else int((due != counts).sum())

    @property
    def frames(self):
        return sum(decoder.good for decoder in map(self.decoder.decoder, self.next))

    @property
    def lost_or_wrong(self):
        """Frames with a wrong value, and gauges whose last frame did not come."""
        return self.wrong + sum(count != self.each for count in self.next.values())


def our_round(ports, profile, each):
    """The same through ``Reader``; also how many frames were lost, doubled or wrong."""
    gauges = dict(zip((f"G-{n}" for n in range(len(ports.names))), ports.names, strict=True))
    taker = Taker(profile, gauges, each, each * len(gauges) * len(ports.frames[0]))
    with Reader(sink=taker) as reader:
        for gauge, name in gauges.items():
            reader.add(gauge, name, SETTINGS)
        ports.begin(count=each)
        began = time.process_time()
        taker.done.wait()
        cpu_s = time.process_time() - began - taker.looked_s
    return cpu_s, taker.frames, taker.lost_or_wrong


def flat_out(profile, count, rounds=5, frames=1_000_000):
    """W1: CPU a frame, flat out, over the floor's, from ``count`` ports."""
    profile, each = patient(profile), max(frames // count // NUMBERS, 1) * NUMBERS
    floor, ours, wrong = [], [], 0
    with Ports(count, numbered(profile)) as ports, on_one_core():
        until = each * count * len(ports.frames[0])
        for _ in range(rounds):
            cpu_s, got = floor_round(ports, profile, until)
            ports.report()
            floor.append(cpu_s / got)
            cpu_s, got, bad = our_round(ports, profile, each)
            ports.report()
            ours.append(cpu_s / got)
            wrong += bad
    return {
        "ports": count,
        "frame_bytes": len(ports.frames[0]),
        "floor_ns": statistics.median(floor) * 1e9,
        "ours_ns": statistics.median(ours) * 1e9,
        "ratio": statistics.median(b / a for a, b in zip(floor, ours, strict=True)),
        "least": min(b / a for a, b in zip(floor, ours, strict=True)),
        "most": max(b / a for a, b in zip(floor, ours, strict=True)),
        "per_cpu_s": 1 / statistics.median(ours),
        "wrong": wrong,
    }


def shown(name, found):
    print(f"{name}: {', '.join(f'{key} {value:.5g}' for key, value in found.items())}", flush=True)


def main():
    profiles = {profile.name: profile for profile in builtin_profiles()}
    asked = argparse.ArgumentParser()
    asked.add_argument("--profile", nargs="+", choices=profiles, default=["decimal-line"])
    asked.add_argument("--ports", nargs="+", type=int, default=[16, 128])
    asked.add_argument("--rounds", type=int, default=5)
    asked.add_argument("--frames", type=int, default=1_000_000)
    given = asked.parse_args()
    for name in given.profile:
        for count in given.ports:
            shown(f"W1 {name}", flat_out(profiles[name], count, given.rounds, given.frames))


if __name__ == "__main__":
    main()

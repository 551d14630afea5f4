"""The ways of reading many gauges that are compared: a floor, ours, and what people write today.

Each reads frames of one profile from all ports until it is told to stop, in this process, and
notes in ``seen`` which port had how many frames at what time (seconds, monotonic), after their
values were there; what came before ``since_s`` does not count. None of the peers checks a frame.
"""

import asyncio
import os
import re
import select
import threading
import time
from contextlib import suppress

import numpy as np
import serial

from drivers.blocks import Block, BlockDecoder
from drivers.reader import Arrived, Reader
from drivers.reading import Reading
from tests.benchmarks.wire.ports import NUMBERS, SETTINGS, lengths_in

TURN_S = 0.05
"""A way that waits looks so often whether it shall stop."""


def floats(lines):
    """The numbers of lines; of two halves of frames, where some were lost, there is none."""
    values = []
    for each in lines:
        with suppress(ValueError):
            values.append(float(each[:-4]))
    return values


class Way:
    """Reads ``ports`` from ``begin`` to ``end``."""

    name = ""

    def __init__(self, ports, profile):
        self.ports, self.profile = ports, profile
        self.seen, self.wrong, self.since_s = [], 0, 0.0
        self.is_over = threading.Event()

    def begin(self):
        self._threads = [threading.Thread(target=self.run)]
        self._threads[0].start()

    def end(self):
        self.is_over.set()
        for thread in self._threads:
            thread.join()

    def run(self):
        """Until ``is_over``."""


class _Polling(Way):
    """Waits for all ports at once and reads what is there."""

    def run(self):
        waiting = select.epoll()
        for descriptor in self.ports.ours:
            waiting.register(descriptor, select.EPOLLIN)
        place = {descriptor: n for n, descriptor in enumerate(self.ports.ours)}
        held = dict.fromkeys(self.ports.ours, b"")
        while not self.is_over.is_set():
            for descriptor, _ in waiting.poll(TURN_S):
                data = held[descriptor] + os.read(descriptor, 65536)
                count, held[descriptor] = self.take(data)
                if count:
                    self.seen.append((place[descriptor], count, time.monotonic()))
        waiting.close()


class Floor(_Polling):
    """epoll, ``os.read`` and ``split``: no value is looked at. Nothing in Python reads for less."""

    name = "floor: epoll, os.read, split; no values"

    def take(self, data):
        *frames, rest = data.split(b"\n")
        return len(frames), rest


class Pattern(_Polling):
    """One regular expression over what came."""

    name = "epoll, os.read, one regular expression, int"
    pattern = re.compile(rb"([+-])(\d{4})\.(\d{3}) mm\r\n")

    def take(self, data):
        values = [int(whole + part) for _, whole, part in self.pattern.findall(data)]
        return len(values), data[data.rfind(b"\n") + 1 :]


class Asyncio(Way):
    """An event loop with a callback for each port."""

    name = "asyncio add_reader, split, float"

    def run(self):
        asyncio.run(self._read())

    async def _read(self):
        loop = asyncio.get_running_loop()
        held = dict.fromkeys(self.ports.ours, b"")

        def take(place, descriptor):
            *lines, held[descriptor] = (held[descriptor] + os.read(descriptor, 65536)).split(b"\n")
            values = floats(lines)
            if values:
                self.seen.append((place, len(values), time.monotonic()))

        for place, descriptor in enumerate(self.ports.ours):
            loop.add_reader(descriptor, take, place, descriptor)
        while not self.is_over.is_set():
            await asyncio.sleep(TURN_S)
        for descriptor in self.ports.ours:
            loop.remove_reader(descriptor)


class _Threads(Way):
    """A thread for each port, with pyserial."""

    def begin(self):
        self._serials = [serial.Serial(name, 115200, timeout=0.25) for name in self.ports.names]
        self._threads = [
            threading.Thread(target=self.read, args=(place, port))
            for place, port in enumerate(self._serials)
        ]
        for thread in self._threads:
            thread.start()

    def end(self):
        super().end()
        for port in self._serials:
            port.close()


class Lines(_Threads):
    """``readline`` and ``float``."""

    name = "pyserial readline, float; a thread a port"

    def read(self, place, port):
        while not self.is_over.is_set():
            line = port.readline()
            if line.endswith(b"\n"):
                with suppress(ValueError):  # two halves of frames, where some were lost
                    float(line[:-5])
                    self.seen.append((place, 1, time.monotonic()))


class Waiting(_Threads):
    """What is waiting, split into lines."""

    name = "pyserial read(in_waiting), split, float; a thread a port"

    def read(self, place, port):
        held = b""
        while not self.is_over.is_set():
            *lines, held = (held + port.read(port.in_waiting or 1)).split(b"\n")
            values = floats(lines)
            if values:
                self.seen.append((place, len(values), time.monotonic()))


class Ours(Way):
    """The reader of ``drivers`` with its thread, feeding a ``BlockDecoder``; every frame checked.

    ``wrong`` counts values that are not the next of those that were sent. What is needed for that
    is looked at afterwards.
    """

    name = "ours: every frame checked, its value in a block"

    def begin(self):
        self._decoder, self._found = BlockDecoder(), []
        self._places, self._worth = lengths_in(self.profile)
        for name in self.ports.names:
            self._decoder.add(name, self.profile, time.monotonic())
        self._reader = Reader(sink=self._take)
        for name in self.ports.names:
            self._reader.add(name, name, SETTINGS)

    def _take(self, sweep):
        found = self._decoder.receive(
            [(each.gauge, each.data, each.t_s) for each in sweep if type(each) is Arrived]
        )
        t_s = time.monotonic()
        for each in found:
            # Few objects are kept, as of a consumer that is through with a block: what is kept
            # would be looked at again and again by Python's collector, in this thread too.
            if isinstance(each, Block):
                gauges, rows = [p.gauge for p in each.parts], [p.rows for p in each.parts]
                self._found.append((t_s, gauges, rows, each.count))
            elif isinstance(each.event, Reading):
                count = int(each.event.value.scaleb(self._places))
                self._found.append((t_s, [each.gauge], [1], np.array([count])))

    def end(self):
        self._reader.close()
        self._look()

    def _look(self):
        number = {name: n for n, name in enumerate(self.ports.names)}
        counts = {name: [] for name in self.ports.names}
        for t_s, gauges, rows, count in self._found:
            if t_s < self.since_s:
                continue
            for gauge, part in zip(gauges, np.split(count, np.cumsum(rows)[:-1]), strict=True):
                counts[gauge].append(part)
                self.seen.append((number[gauge], len(part), t_s))
        for parts in counts.values():
            came = np.concatenate(parts) // self._worth - 1000 if parts else np.zeros(0)
            if len(came):
                due = (came[0] + np.arange(len(came))) % NUMBERS
                self.wrong += int((came != due).sum() + (came[0] != 0))


PEERS = (Pattern, Asyncio, Waiting, Lines)

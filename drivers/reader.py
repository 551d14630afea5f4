"""One thread that reads every port, stamps arrivals, and brings lost ports back.

Only this thread touches the ports. It reads all that are ready in one sweep, and what arrived goes
into one queue as ``Arrived``; a port that goes away is ``Lost``, is tried again with growing
pauses, and comes back as ``Opened`` by itself.

Waking costs more than reading. So where ports would wake the thread very often, it rests a moment
after each sweep, and finds more at the next.

Ports without a file descriptor (``loop://``, ``rfc2217://``, every port on Windows) get a thread of
their own that feeds the same queue. The Windows way has not been run on Windows.
"""

import queue
import selectors
import socket
import threading
import time
from collections import deque
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field
from typing import Self

from drivers.errors import PortError, PortLostError
from drivers.link import Link
from drivers.profile import SerialSettings
from drivers.trace import LinkMark, RawBytes

FIRST_PAUSE_S = 0.1
LONGEST_PAUSE_S = 2.0

BUSY_READS = 64
BUSY_WITHIN_S = BUSY_READS / 2000
"""So many reads within that time are too many to wake for each: more than 2000 a second."""

REST_S = 0.004
"""The rest after a sweep then. Many a USB adapter holds bytes back for longer, and the system's
buffer of 4096 bytes lasts 13 ms at 3 Mbaud."""

MANY_BYTES = 2048
"""So many from one port are half of what the system holds: no rest until there are fewer."""


@dataclass(slots=True)
class Arrived:
    """Bytes from ``gauge``, read at ``t_s`` (seconds, monotonic)."""

    gauge: str
    t_s: float
    data: bytes


@dataclass(slots=True)
class Opened:
    """``gauge``'s port is open (again) since ``t_s``."""

    gauge: str
    t_s: float
    port: str


@dataclass(slots=True)
class Lost:
    """``gauge``'s port went away at ``t_s``, or could not be opened yet."""

    gauge: str
    t_s: float
    error: PortError


Happening = Arrived | Opened | Lost

Sink = Callable[[list[Happening]], None]
"""Takes what happened in one sweep, in order."""


def traced(happening: Happening) -> RawBytes | LinkMark:
    """``happening`` as a row of a raw trace."""
    match happening:
        case Arrived(t_s=t_s, data=data):
            return RawBytes(t_s, data)
        case Opened(t_s=t_s):
            return LinkMark(t_s, "opened")
        case Lost(t_s=t_s):
            return LinkMark(t_s, "lost")


def _is_behind(sweep: list[Happening]) -> bool:
    """Whether a port was so full that it could run over during a rest."""
    return any(type(each) is Arrived and len(each.data) >= MANY_BYTES for each in sweep)


@dataclass(slots=True)
class _Line:
    """One gauge's port and how to get it back."""

    gauge: str
    find_port: Callable[[], str]
    settings: SerialSettings
    link: Link | None = None
    to_send: "queue.SimpleQueue[bytes]" = field(default_factory=queue.SimpleQueue)
    pause_s: float = FIRST_PAUSE_S
    retry_at_s: float = 0.0
    own_thread: threading.Thread | None = None


class Reader:
    """Reads any number of gauges until it is closed. Use it in a ``with`` statement.

    Args:
        clock: seconds, monotonic; the arrival times are its.
        sink: takes each sweep in the reader's own thread, one at a time, instead of the queue; for
            a consumer that is quick and never waits, for no port is read meanwhile.

    Attributes:
        happenings: what happened, in order, for one consumer.
    """

    def __init__(
        self, clock: Callable[[], float] = time.monotonic, sink: Sink | None = None
    ) -> None:
        self.happenings: queue.SimpleQueue[Happening] = queue.SimpleQueue()
        self._clock = clock
        self._sink = sink or self._queue_up
        self._sink_lock = threading.Lock()
        self._lines: dict[str, _Line] = {}
        self._selector = selectors.DefaultSelector()
        # A pair of sockets wakes the selector on every system; a pipe would not on Windows.
        self._wake_read, self._wake_write = socket.socketpair()
        self._wake_read.setblocking(False)
        self._selector.register(self._wake_read, selectors.EVENT_READ, None)
        self._new: queue.SimpleQueue[_Line] = queue.SimpleQueue()
        self._asked: queue.SimpleQueue[_Line] = queue.SimpleQueue()
        self._missing: list[_Line] = []
        self._closing = threading.Event()
        self._thread = threading.Thread(target=self._run, name="reader", daemon=True)
        self._thread.start()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def add(
        self,
        gauge: str,
        find_port: str | Callable[[], str],
        settings: SerialSettings,
        wait: bool = False,
    ) -> None:
        """Open a gauge's port and read it from now on.

        Args:
            gauge: the name that its happenings carry.
            find_port: the port, or a function that finds it by the adapter's identity; the
                function is asked again at each reopening, since a port's name may change.
            settings: how the line is set.
            wait: whether to wait for a port that is not there yet instead of raising.

        Raises:
            PortError: the port could not be opened (unless ``wait``).
        """
        find = find_port if callable(find_port) else lambda: find_port
        line = _Line(gauge, find, settings)
        try:
            self._give([self._open(line)])
        except PortError as error:
            if not wait:
                raise
            self._give([self._lost(line, error)])
        self._lines[gauge] = line
        self._new.put(line)
        self._wake()

    def send(self, gauge: str, data: bytes) -> None:
        """Send ``data`` to ``gauge``; dropped while its cable is out, for it would be old."""
        line = self._lines[gauge]
        if line.link is not None:
            line.to_send.put(data)
            self._asked.put(line)
            self._wake()

    def close(self) -> None:
        """Stop reading and close every port."""
        if self._closing.is_set():
            return
        self._closing.set()
        self._wake()
        self._thread.join()
        for line in self._lines.values():
            if line.own_thread:
                line.own_thread.join()
            if line.link:
                line.link.close()
        self._selector.close()
        self._wake_read.close()
        self._wake_write.close()

    def _wake(self) -> None:
        self._wake_write.send(b".")

    def _queue_up(self, sweep: list[Happening]) -> None:
        for happening in sweep:
            self.happenings.put(happening)

    def _give(self, sweep: list[Happening]) -> None:
        if sweep:
            with self._sink_lock:
                self._sink(sweep)

    def _run(self) -> None:
        read_s = deque([-BUSY_WITHIN_S] * BUSY_READS, BUSY_READS)
        while not self._closing.is_set():
            sweep: list[Happening] = []
            for key, _ in self._selector.select(self._wait_s()):
                if key.data is None:
                    with suppress(BlockingIOError):
                        self._wake_read.recv(4096)
                else:
                    self._read(key.data, sweep)
            self._attend_all(sweep)
            self._give(sweep)
            now_s = self._clock()
            read_s.extend([now_s] * max(1, len(sweep)))
            if now_s - read_s[0] < BUSY_WITHIN_S and not _is_behind(sweep):
                time.sleep(REST_S)

    def _wait_s(self) -> float | None:
        """How long nothing needs doing; None for until something arrives."""
        due = [line.retry_at_s for line in self._missing]
        return max(0.0, min(due) - self._clock()) if due else None

    def _attend_all(self, sweep: list[Happening]) -> None:
        """Watch new lines, send what is to be sent, and reopen lost ports that are due."""
        while not self._new.empty():
            line = self._new.get()
            if line.link is None:
                self._missing.append(line)
            self._watch(line)
        while not self._asked.empty():
            line = self._asked.get()
            if line.own_thread is None:
                self._send_waiting(line, sweep)
        for line in list(self._missing):
            if self._clock() >= line.retry_at_s and self._reopened(line, sweep):
                self._missing.remove(line)
                self._watch(line)

    def _watch(self, line: _Line) -> None:
        if line.link is None:
            return
        descriptor = line.link.fileno()
        if descriptor is not None:
            self._selector.register(descriptor, selectors.EVENT_READ, line)
        elif line.own_thread is None:
            line.own_thread = threading.Thread(
                target=self._run_alone, args=(line,), name=f"reader {line.gauge}", daemon=True
            )
            line.own_thread.start()

    def _send_waiting(self, line: _Line, sweep: list[Happening]) -> None:
        try:
            while line.link is not None and not line.to_send.empty():
                line.link.write(line.to_send.get())
        except PortLostError as error:
            sweep.append(self._lost(line, error))

    def _read(self, line: _Line, sweep: list[Happening]) -> None:
        if line.link is None:
            return
        try:
            data = line.link.read()
        except PortLostError as error:
            sweep.append(self._lost(line, error))
            return
        if data:
            sweep.append(Arrived(line.gauge, self._clock(), data))

    def _run_alone(self, line: _Line) -> None:
        """The whole life of a port that cannot be waited for with the others."""
        while not self._closing.is_set():
            sweep: list[Happening] = []
            if line.link is None:
                self._closing.wait(max(0.0, line.retry_at_s - self._clock()))
                if not self._closing.is_set():
                    self._reopened(line, sweep)
            else:
                self._send_waiting(line, sweep)
                self._read(line, sweep)
            self._give(sweep)

    def _open(self, line: _Line) -> Opened:
        port = line.find_port()
        line.link = Link(port, line.settings)
        line.pause_s = FIRST_PAUSE_S
        while not line.to_send.empty():
            line.to_send.get()
        return Opened(line.gauge, self._clock(), port)

    def _reopened(self, line: _Line, sweep: list[Happening]) -> bool:
        try:
            sweep.append(self._open(line))
        except PortError:
            line.pause_s = min(2 * line.pause_s, LONGEST_PAUSE_S)
            line.retry_at_s = self._clock() + line.pause_s
            return False
        return True

    def _lost(self, line: _Line, error: PortError) -> Lost:
        """Close what is left of a line; it is tried again later."""
        if line.link is not None:
            descriptor = line.link.fileno()
            if descriptor is not None:
                with suppress(KeyError, ValueError):
                    self._selector.unregister(descriptor)
            line.link.close()
            line.link = None
            if line.own_thread is None:
                self._missing.append(line)
        line.retry_at_s = self._clock() + line.pause_s
        return Lost(line.gauge, self._clock(), error)

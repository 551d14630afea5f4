"""Recording all that gauges send, for hours, so that what is acknowledged survives any crash.

`TraceRecorder.put` takes what came and returns at once. A thread of its own puts all that is
waiting into one write and one flush of the disk: many gauges cost no more flushes than one. What
has been flushed is acknowledged: `durable` counts it, `wait` waits for it.
"""

import os
import threading
import time
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path
from types import TracebackType
from typing import Self

from daq.logbook.disk import flush_file, flush_folder
from daq.logbook.errors import RecordingError
from daq.logbook.fields import new_uid, time_text
from daq.logbook.trace_rows import HEADER, Arrival, Mark, beginning, chained

MOST_WAITING = 1_000_000
"""Arrivals that may wait for the disk: some ten seconds of 128 gauges at line speed."""

_BUSY_ROWS = 32
_BUSY_PAUSE_S = 0.002
"""A pause after a flush that took many rows: more then share the next one."""


class TraceRecorder:
    """A chained trace being written. Made by `TraceRecorder.begin`; any thread may put into it.

    If the disk fails or falls behind, the recording is over: what was acknowledged stays, and each
    later call says what happened. Nothing is left out of the middle.
    """

    def __init__(self, path: Path, descriptor: int, size: int, previous: str) -> None:
        self.path = path
        self._descriptor = descriptor
        self._size = size
        """Bytes that are known to be on the disk."""
        self._previous = previous
        self._waiting: list[Arrival] = []
        self._taken = self._durable = 0
        self._last_s = 0.0
        self._is_closing = False
        self._error: RecordingError | None = None
        lock = threading.Lock()
        self._came = threading.Condition(lock)
        self._kept = threading.Condition(lock)
        self._thread = threading.Thread(target=self._run, name="trace recorder", daemon=True)

    @classmethod
    def begin(cls, path: str | os.PathLike[str], t_s: float, *, at: datetime | None = None) -> Self:
        """Begin a trace in the new file ``path``; it and its beginning are on the disk.

        Args:
            path: the file; only its owner can read it.
            t_s: the reader's clock now.
            at: the time of day now, aware; None to ask the system.

        Raises:
            RecordingError: there is such a file already, or it cannot be made.
        """
        real = Path(os.path.realpath(path))
        begun = f"begun {time_text(at or datetime.now(UTC))} {new_uid()}"
        row, previous = chained([(t_s, "", begun)], beginning())
        text = f"{HEADER}\n".encode() + row
        descriptor = _begun(real, text)
        recorder = cls(real, descriptor, len(text), previous)
        recorder._last_s = t_s
        recorder._thread.start()
        return recorder

    @property
    def durable(self) -> int:
        """How many of the arrivals that were put are on the disk, from the first on."""
        return self._durable

    def put(self, t_s: float, gauge: str, what: bytes | Mark) -> int:
        """Take one arrival, as `put_all`."""
        return self.put_all([(t_s, gauge, what)])

    def put_all(self, arrivals: Sequence[Arrival]) -> int:
        """Take arrivals in their order, without waiting for the disk.

        Returns:
            The number of the last one, counted from 1. It is kept once `durable` has reached that.

        Raises:
            RecordingError: the recording is over; none of these are kept.
        """
        with self._came:
            if self._error is None and len(self._waiting) > MOST_WAITING:
                self._end(RecordingError(self.path, "the disk is too slow for what comes"))
            if self._error is not None:
                raise self._error
            if self._is_closing:
                raise ValueError("put into a closed recorder")
            if arrivals:
                self._waiting.extend(arrivals)
                self._taken += len(arrivals)
                self._last_s = arrivals[-1][0]
                self._came.notify()
            return self._taken

    def wait(self, number: int | None = None, timeout_s: float | None = None) -> bool:
        """Wait until arrival ``number`` is on the disk; None for all that were put.

        Returns:
            Whether it is; False if ``timeout_s`` passed first.

        Raises:
            RecordingError: the recording is over, and that arrival is not kept.
        """
        with self._kept:
            wanted = self._taken if number is None else number
            self._kept.wait_for(
                lambda: self._durable >= wanted or self._error is not None, timeout_s
            )
            if self._durable < wanted and self._error is not None:
                raise self._error
            return self._durable >= wanted

    def close(self) -> None:
        """Write all that waits and the row ``ended``, and let go. Doing it twice is harmless.

        Raises:
            RecordingError: the recording was over before; what came last is not kept.
        """
        with self._came:
            is_first, self._is_closing = not self._is_closing, True
            self._came.notify()
        if not is_first:
            return
        self._thread.join()
        os.close(self._descriptor)
        if self._error is not None:
            raise self._error

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def _run(self) -> None:
        try:
            while taken := self._next():
                self._keep(taken)
                with self._kept:
                    self._durable += len(taken)
                    self._kept.notify_all()
                if len(taken) > _BUSY_ROWS:
                    time.sleep(_BUSY_PAUSE_S)
            if self._error is None:
                self._keep([(self._last_s, "", "ended")])
        except Exception as error:  # whoever waits must hear of it, whatever it was
            with self._kept:
                self._end(RecordingError(self.path, str(error)), error)

    def _next(self) -> list[Arrival]:
        """All that waits, once something does; empty when the recording is over."""
        with self._came:
            self._came.wait_for(
                lambda: self._waiting or self._is_closing or self._error is not None
            )
            if self._error is not None:
                return []
            taken, self._waiting = self._waiting, []
            return taken

    def _keep(self, arrivals: Sequence[tuple[float, str, bytes | str]]) -> None:
        """Put rows on the disk; when this fails, as little of them as possible stays in the file.

        A flush that failed is not tried again: the system may have dropped what it could not write.
        """
        text, previous = chained(arrivals, self._previous)
        try:
            _write(self._descriptor, text)
            flush_file(self._descriptor)
        except OSError:
            os.ftruncate(self._descriptor, self._size)
            raise
        self._size += len(text)
        self._previous = previous

    def _end(self, error: RecordingError, cause: Exception | None = None) -> None:
        """Be over, for ``error``; the lock is held."""
        error.__cause__ = cause
        self._error = error
        self._waiting = []
        self._came.notify_all()
        self._kept.notify_all()


def _begun(path: Path, text: bytes) -> int:
    """A new file that holds ``text``, open to write on; its name and content are on the disk."""
    try:
        flags = os.O_CREAT | os.O_EXCL | os.O_WRONLY | getattr(os, "O_BINARY", 0)
        descriptor = os.open(path, flags, 0o600)
        try:
            _write(descriptor, text)
            flush_file(descriptor)
            flush_folder(path.parent)
        except BaseException:
            os.close(descriptor)
            path.unlink(missing_ok=True)
            raise
    except FileExistsError as error:
        raise RecordingError(path, "the file is already there") from error
    except OSError as error:
        raise RecordingError(path, str(error)) from error
    return descriptor


def _write(descriptor: int, text: bytes) -> None:
    rest = memoryview(text)
    while rest:
        rest = rest[os.write(descriptor, rest) :]

"""Many frames of one profile at once: where each lies, whether it is good, and what it says."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from drivers.blocks.block import Block, Part
from drivers.blocks.forms import shapes_of, start_and_end
from drivers.blocks.rows import PAD, Bytes, Counts, Flags, Rows
from drivers.blocks.shape import Codes
from drivers.framing import LineFraming, MarkFraming
from drivers.profile import GaugeProfile


class Forms:
    """A profile's shapes by length, and how its frames are found among bytes.

    Attributes:
        profile: the profile.
        shapes: all shapes; empty if frames must be read one by one.
        by_length: their numbers, the one that was found last first.
        can_split: whether frames of several lengths can be told apart by their ends.
        shortest: bytes of the shortest shape.
    """

    def __init__(self, profile: GaugeProfile) -> None:
        self.profile = profile
        self.shapes = tuple(shapes_of(profile))
        self.by_length: dict[int, list[int]] = {}
        for number, shape in enumerate(self.shapes):
            self.by_length.setdefault(shape.length, []).append(number)
        self._ramps: dict[int, Counts] = {}
        self.shortest = min(self.by_length, default=0)
        frame = profile.frame
        self.can_split = isinstance(frame, LineFraming | MarkFraming) and len(self.by_length) > 1
        self._begin, end = start_and_end(profile)
        self._end = end[-1:]
        self._tail = frame.tail_bytes if isinstance(frame, MarkFraming) else 0
        self._most = self.shortest
        if isinstance(frame, LineFraming | MarkFraming):
            self._most = frame.max_bytes

    def holds(self, rest: bytes) -> bool:
        """Whether ``Decoder``, between frames, would hold ``rest`` and do nothing more."""
        request, begin = self.profile.request, self._begin
        if request:
            if rest.startswith(request):
                return False
            if request.startswith(rest):
                return True
        is_begun = len(rest) < self._most and begin == rest[: len(begin)]
        if is_begun and not (self._end and self._end in rest):
            return True
        # Rarely more than the beginning of a frame, or less than its mark.
        return not rest or self.profile.frame.cut(bytearray(rest), True) is None

    def whole(self, data: bytes, length: int) -> int:
        """Bytes of the whole frames with which ``data`` begins, of ``length`` or 0 for any."""
        if length:
            return len(data) // length * length
        at = data.rfind(self._end, 0, max(0, len(data) - self._tail))
        return at + 1 + self._tail if at >= 0 else 0

    def borders(self, wire: Bytes, length: int) -> tuple[Counts, Counts]:
        """Where frames begin and end in ``wire``, which holds whole frames and ``PAD``."""
        size = len(wire) - len(PAD)
        if length:
            count = size // length
            borders = self._ramps.get(length)
            if borders is None or len(borders) <= count:
                # Made for twice as many rows, and lent to one block after the other.
                borders = np.arange(2 * count + 1, dtype=np.int64) * length
                borders.flags.writeable = False
                self._ramps[length] = borders
            return borders[:count], borders[1 : count + 1]
        ends: Counts = np.flatnonzero(wire[:size] == self._end[0]) + (1 + self._tail)
        ends = ends[ends <= size]
        return np.concatenate([np.zeros(1, np.int64), ends[:-1]])[: len(ends)], ends


class Columns:
    """What was found in ``wire``, which holds whole frames of ``length`` (0: any) and ``PAD``.

    Attributes:
        starts, ends: where the frames lie, shape (n,).
        good: which of them are good; the other columns hold zeros elsewhere.
    """

    def __init__(self, forms: Forms, wire: bytes, length: int) -> None:
        self._forms, self._wire = forms, wire
        octets = np.frombuffer(wire, np.uint8)
        self.starts, self.ends = forms.borders(octets, length)
        count = len(self.starts)
        self.good: Flags = np.zeros(count, np.bool_)
        self._count: Counts = np.zeros(count, np.int64)
        self._status: Codes = np.zeros(count, np.uint16)
        self._shape: NDArray[np.uint8] = np.zeros(count, np.uint8)
        if length:
            self._read(Rows(octets, count, 0, length), length, None)
            return
        lengths = self.ends - self.starts
        for each in forms.by_length:
            where = np.flatnonzero(lengths == each)
            if len(where):
                self._read(Rows(octets, len(where), starts=self.starts[where]), each, where)

    def _read(self, rows: Rows, length: int, where: Counts | None) -> None:
        """Read frames of one length, which are the rows ``where``; None for all of them.

        No frame has two shapes, so the one that was found last may be tried first.
        """
        numbers = self._forms.by_length[length]
        for number in list(numbers):
            good, count, status = self._forms.shapes[number].read(rows)
            if where is None and good.all():
                self.good, self._count, self._status = good, count, status
                self._shape[:] = number
                return
            into = np.flatnonzero(good)
            if len(into):
                numbers.remove(number)
                numbers.insert(0, number)
            there = into if where is None else where[into]
            self.good[there], self._shape[there] = True, number
            self._count[there], self._status[there] = count[into], status[into]
            left = np.flatnonzero(~good)
            if not len(left):
                return
            rows = rows.pick(left)
            where = left if where is None else where[left]

    def is_even(self, first: int, count: int, length: int) -> bool:
        """Whether ``count`` rows from ``first`` on all have ``length`` bytes."""
        part = slice(first, first + count)
        return bool((self.ends[part] - self.starts[part] == length).all())

    def doubt_last_bytes(self, pieces_end: Sequence[int]) -> None:
        """Doubt a frame that ends like a beginning, if no good one follows it in its piece.

        Args:
            pieces_end: at which row each piece ends.
        """
        byte = self._forms.profile.doubtful_last_byte
        if byte is None or not len(self.good):
            return
        doubtful = np.frombuffer(self._wire, np.uint8)[self.ends - 1] == byte
        if doubtful.any():
            followed = np.append(self.good[1:], False)
            followed[[row - 1 for row in pieces_end if row]] = False
            self.good = self.good & (followed | ~doubtful)

    def block(self, parts: Sequence[Part], kept: Flags | None) -> Block:
        """The rows as a block, or those of them that are ``kept``; they are all good."""
        columns = self.starts, self.ends, self._count, self._shape, self._status
        if kept is not None:
            columns = tuple(column[kept] for column in columns)  # type: ignore[assignment]
        return Block(self._forms.profile, self._wire, *columns, tuple(parts), self._forms.shapes)

"""Bytes of many ports to blocks of readings, with whatever is doubtful left to ``Decoder``.

``Decoder`` is the definition of what a gauge's bytes mean. What is read here in blocks is only the
run of good frames with which new bytes begin while it is between frames; it is told how many they
were, and gets everything else. It gives the same events for any chopping, so it does not matter
which bytes it sees itself.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import accumulate

import numpy as np

from drivers.blocks.block import Block, Part
from drivers.blocks.columns import Columns, Forms
from drivers.blocks.rows import PAD
from drivers.decoder import Decoder
from drivers.profile import GaugeProfile
from drivers.reading import BadFrame, Event

FEW_BYTES = 64
"""Given to ``Decoder`` at a time where a block could not go on; it is soon between frames again."""

MANY_BYTES = 4096
"""The most that ``Decoder`` is given before a block is tried again."""

KEPT_BYTES = 16 << 20
"""Above what a sweep needs; half of the most that has an effect."""

FEW_ROWS = 6
"""Below this it is quicker to read frames one by one."""


@dataclass(slots=True)
class Said:
    """An event of ``gauge`` that is no row of a block, or not worth one."""

    gauge: str
    event: Event


@dataclass(slots=True)
class _Port:
    """What is known of one gauge.

    ``length`` is that of its frames, 0 if it changed lately. ``patience`` is how many bytes the
    decoder gets where a block cannot go on.
    """

    gauge: str
    decoder: Decoder
    forms: Forms
    length: int
    patience: int = FEW_BYTES


@dataclass(slots=True)
class _Piece:
    """Bytes of a port that begin with a frame, read at ``t_s``."""

    port: _Port
    data: bytes
    t_s: float
    end: int = 0
    """Bytes of its whole frames."""
    rows: int = 0
    """Good frames with which it begins."""
    used: int = 0
    """Their bytes."""


class BlockDecoder:
    """Decodes the byte streams of any number of gauges, in blocks where it can."""

    def __init__(self) -> None:
        _keep_freed_memory()
        self._ports: dict[str, _Port] = {}
        self._forms: dict[int, Forms] = {}

    def add(self, gauge: str, profile: GaugeProfile, opened_t_s: float = 0.0) -> None:
        """Decode ``gauge`` too, whose port was opened at ``opened_t_s``."""
        forms = self._forms.get(id(profile))
        if forms is None:
            forms = self._forms[id(profile)] = Forms(profile)
        length = next(iter(forms.by_length), 0)
        self._ports[gauge] = _Port(gauge, Decoder(profile, opened_t_s), forms, length)

    def decoder(self, gauge: str) -> Decoder:
        """The decoder of what could not be read in blocks; it counts all frames."""
        return self._ports[gauge].decoder

    def receive(self, arrivals: Iterable[tuple[str, bytes, float]]) -> list[Block | Said]:
        """What the bytes of one sweep over the ports complete.

        Args:
            arrivals: gauge, bytes read, and when (seconds, monotonic). Empty bytes say that nothing
                has come until then.

        Returns:
            blocks and events; those of one gauge are in the order in which it sent them.
        """
        found: list[Block | Said] = []
        pieces: dict[str, _Piece] = {}
        for gauge, data, t_s in arrivals:
            if gauge in pieces:
                self._read_all(list(pieces.values()), found)
                pieces.clear()
            piece = self._begun(self._ports[gauge], data, t_s, found)
            if piece is not None:
                pieces[gauge] = piece
        self._read_all(list(pieces.values()), found)
        return found

    def _begun(
        self, port: _Port, data: bytes, t_s: float, found: list[Block | Said]
    ) -> _Piece | None:
        """The bytes from the next frame on, once the decoder is between frames."""
        decoder, given = port.decoder, FEW_BYTES if port.forms.shapes else len(data)
        while not data or (held := decoder.between_frames(t_s)) is None or not port.forms.shapes:
            self._give(port, data[:given], t_s, found)
            data, given = data[given:], min(2 * given, MANY_BYTES)
            if not data:
                return None
        return _Piece(port, held + data, t_s)

    def _give(self, port: _Port, data: bytes, t_s: float, found: list[Block | Said]) -> None:
        """Let the decoder have ``data``, and learn how long frames are now."""
        for event in port.decoder.receive(data, t_s):
            found.append(Said(port.gauge, event))
            if not isinstance(event, BadFrame) and len(event.raw) in port.forms.by_length:
                is_other = port.forms.can_split and len(event.raw) != port.length
                port.length = 0 if is_other else len(event.raw)

    def _read_all(self, pieces: list[_Piece], found: list[Block | Said]) -> None:
        while pieces:
            groups: dict[tuple[int, int], list[_Piece]] = {}
            for piece in pieces:
                groups.setdefault((id(piece.port.forms), piece.port.length), []).append(piece)
            pieces = []
            for group in groups.values():
                pieces += self._read_group(group, found)

    def _read_group(self, group: list[_Piece], found: list[Block | Said]) -> list[_Piece]:
        """Read pieces of one profile and frame length; what is left of them begins anew."""
        forms, length = group[0].port.forms, group[0].port.length
        for piece in group:
            piece.end = forms.whole(piece.data, length)
        is_worth_it = sum(piece.end for piece in group) >= FEW_ROWS * forms.shortest
        if is_worth_it:
            _read_block(group, found)
        left = []
        for piece in group:
            port, rest, t_s = piece.port, piece.data[piece.used :], piece.t_s
            if is_worth_it and piece.used == piece.end and forms.holds(rest):
                port.decoder.go_on(piece.rows, rest, t_s)
                continue
            port.decoder.go_on(piece.rows, b"", t_s)
            given = port.patience if is_worth_it else len(rest)
            port.patience = FEW_BYTES if piece.rows >= FEW_ROWS else min(2 * given, MANY_BYTES)
            self._give(port, rest[:given], t_s, found)
            again = self._begun(port, rest[given:], t_s, found) if given < len(rest) else None
            left += [again] if again is not None else []
        return left


def _keep_freed_memory() -> None:
    """Ask the allocator not to give memory back that the next sweep needs again.

    The C library of Linux otherwise returns a freed column to the system and fetches it anew,
    page by page, at twice the cost of all decoding. Having had and freed one large piece raises the
    size that it keeps. Elsewhere this does nothing.
    """
    bytearray(KEPT_BYTES)


def _read_block(group: list[_Piece], found: list[Block | Said]) -> None:
    """Read the whole frames of ``group`` at once, as far as each piece's are good."""
    forms, length = group[0].port.forms, group[0].port.length
    columns = Columns(forms, b"".join([*[p.data[: p.end] for p in group], PAD]), length)
    last_rows = _rows_until(columns, group, length)
    columns.doubt_last_bytes(last_rows)
    kept = None if columns.good.all() else columns.good.copy()
    first_row = begin = 0
    parts = []
    for piece, last_row in zip(group, last_rows, strict=True):
        piece.rows, piece.used = last_row - first_row, piece.end
        if kept is not None and not (good := kept[first_row:last_row]).all():
            piece.rows = int(np.argmin(good))
            good[piece.rows :] = False
            last_good = first_row + piece.rows - 1
            piece.used = int(columns.ends[last_good]) - begin if piece.rows else 0
        if piece.rows:
            parts.append(Part(piece.port.gauge, piece.t_s, piece.rows))
        if not length and piece.rows:
            each = piece.used // piece.rows
            piece.port.length = each if columns.is_even(first_row, piece.rows, each) else 0
        first_row, begin = last_row, begin + piece.end
    if parts:
        found.append(columns.block(parts, kept))


def _rows_until(columns: Columns, group: list[_Piece], length: int) -> list[int]:
    """The number of rows up to the end of each piece."""
    ends = list(accumulate(piece.end for piece in group))
    if length:
        return [end // length for end in ends]
    return [int(row) for row in np.searchsorted(columns.ends, ends, side="right")]

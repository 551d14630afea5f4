"""The chain: what a record's hash is taken over, and how a broken chain is read.

Each record carries the SHA-256 of the one before, so a record that was edited, taken out, moved or
put in no longer fits its neighbours. What is hashed is the canonical JSON of the record's number,
the hash before it and the record itself:

    {"previous":"<64 hex digits>","record":<the record>,"sequence":<number>}

The record is stored in canonical form, so these bytes are put together without parsing it.
Numbers begin at 1 and have no gaps, so the number of the last record is also how many there are.

The chain cannot show that its end was cut off, nor that somebody rebuilt all of it: for that, a
hash noted elsewhere (on a report, say) must be compared.
"""

import hashlib
from collections import deque
from collections.abc import Iterable
from dataclasses import dataclass, field, replace

Row = tuple[int, bytes, bytes, bytes]
"""Number, previous hash, hash, record as canonical JSON; as stored, so possibly something else."""

_HASHED = b'{"previous":"%b","record":%b,"sequence":%d}'

_REMEMBERED = 1024
"""How many records put in one after the other can still be told from edited ones."""

MOST_PROBLEMS = 10_000
"""How many problems are listed one by one; the rest are counted."""


def hashed_bytes(sequence: int, previous: bytes, body: bytes) -> bytes:
    """What the hash of record ``sequence`` is taken over.

    Args:
        sequence: the record's number, from 1.
        previous: the hash of the record before, as 64 lower-case hex digits.
        body: the record as canonical JSON.
    """
    return _HASHED % (previous, body, sequence)


def chain_hash(sequence: int, previous: bytes, body: bytes) -> bytes:
    """The hash of a record: SHA-256 of `hashed_bytes`, as 64 lower-case hex digits."""
    return hashlib.sha256(_HASHED % (previous, body, sequence)).hexdigest().encode()


def beginning(logbook_id: bytes) -> bytes:
    """What stands as the hash before record 1: SHA-256 of the logbook's id as text.

    Every logbook has an id of its own, so the records of one do not fit another.
    """
    return hashlib.sha256(logbook_id).hexdigest().encode()


@dataclass(frozen=True, slots=True)
class Problem:
    """Something that is not as restpoint left it.

    ``sequence`` is the number of the first record it concerns and ``through`` that of the last;
    both are None for the file as a whole.
    """

    sequence: int | None
    what: str
    through: int | None = None

    def __post_init__(self) -> None:
        if self.through is None:
            object.__setattr__(self, "through", self.sequence)

    def __str__(self) -> str:
        if self.sequence is None:
            return f"the file {self.what}"
        if self.sequence == self.through:
            return f"record {self.sequence} {self.what}"
        return f"records {self.sequence} to {self.through}: each {self.what}"

    def concerns(self, sequence: int) -> bool:
        """Whether record ``sequence`` is among those it names."""
        if self.sequence is None or self.through is None:
            return False
        return self.sequence <= sequence <= self.through


@dataclass(slots=True)
class Problems:
    """Problems as they are found: neighbours with the same trouble joined, the number bounded."""

    found: list[Problem] = field(default_factory=list)
    more: int = 0

    def add(self, sequence: int | None, what: str, through: int | None = None) -> None:
        """Note a problem of one record, or of those up to ``through``."""
        last = self.found[-1] if self.found else None
        if (
            last is not None
            and sequence is not None
            and last.through == sequence - 1
            and last.what == what
        ):
            self.found[-1] = replace(last, through=through or sequence)
        elif len(self.found) < MOST_PROBLEMS:
            self.found.append(Problem(sequence, what, through))
        else:
            self.more += 1


class ChainCheck:
    """Checks rows against the chain, in order, and says which records are not as they were.

    Args:
        begins: what must stand as the hash before record 1, or None if that is not known.
        wanted: a hash to look out for, or None.

    A record whose content does not fit its own hash is named. A record that fits its own hash,
    but is not the one the next record was written after, was rewritten or put in: it is named,
    since the next record vouches for what was there. After a problem the check goes on with the
    next record.
    """

    def __init__(self, begins: bytes | None, wanted: bytes | None = None) -> None:
        self.problems = Problems()
        self.count = 0
        self.last_hash: bytes | None = None
        self.wanted_at: int | None = None
        self._wanted = wanted
        self._next = 1
        self._before = begins
        self._before_doubted = False
        self._recent: deque[bytes] = deque(maxlen=_REMEMBERED)
        self._gap = "is missing: it was removed"

    @property
    def next_sequence(self) -> int:
        """The number the next record must have."""
        return self._next

    def run(self, rows: Iterable[Row]) -> None:
        """Check ``rows``; may be called again with the rows that follow."""
        sha256, hashed, wanted, recent = hashlib.sha256, _HASHED, self._wanted, self._recent
        for row in rows:
            sequence, previous, stored, body = row
            self.count += 1
            try:
                fits = sha256(hashed % (previous, body, sequence)).hexdigest().encode() == stored
            except TypeError:  # a number where text belongs, or the other way round
                self._not_a_record(sequence)
                continue
            if fits and sequence == self._next and previous == self._before:
                self._before_doubted = False
            elif not self._placed(sequence, previous, fits):
                continue
            if stored == wanted:
                self.wanted_at = sequence
            recent.append(stored)
            self._before = self.last_hash = stored
            self._next = sequence + 1

    def skip_unreadable(self, through: int) -> None:
        """Go on after rows that cannot be read: the next ones come after number ``through``."""
        self.problems.add(self._next, "cannot be read: the file is damaged there", through)
        self._jump(through + 1)

    def _jump(self, sequence: int) -> None:
        """Continue at ``sequence`` with no record before it to hold it against."""
        self._next = sequence
        self._before = None
        self._before_doubted = False
        self._recent.clear()

    def _not_a_record(self, sequence: object) -> None:
        number = sequence if isinstance(sequence, int) else self._next
        self.problems.add(number, "is not a record: a field holds the wrong kind of data")
        self._jump(max(number + 1, self._next))

    def _placed(self, sequence: int, previous: bytes, fits: bool) -> bool:
        """Say what is wrong with a row; whether the chain goes on from it."""
        if not isinstance(sequence, int):
            self._not_a_record(sequence)
            return False
        if sequence < self._next:
            self.problems.add(sequence, "is out of its place or comes twice")
            return False
        if sequence > self._next:
            self.problems.add(self._next, self._gap, sequence - 1)
            self._jump(sequence)
        linked = self._before is None or previous == self._before
        if not linked:
            self._broken_link(sequence, previous, fits)
        if not fits:
            what = "does not fit its hash: it was edited, renumbered or put in another's place"
            if not linked and not self._before_doubted:
                what += f"; nor does it follow record {sequence - 1}"
            self.problems.add(sequence, what)
        if not (linked and fits):
            self._recent.clear()
        self._before_doubted = not fits
        return True

    def _broken_link(self, sequence: int, previous: bytes, fits: bool) -> None:
        """The row is not linked to the one before it: name the record at fault, if it is clear."""
        if sequence == 1:
            if fits:
                self.problems.add(1, "does not begin this logbook: it bears another logbook's id")
            return
        # Only a stretch without any other trouble can have been put in whole.
        for back, earlier in enumerate(reversed(self._recent)):
            if earlier == previous:
                first = sequence - back
                what = f"was put in: record {sequence} was written straight after {first - 1}"
                self.problems.add(first, what, sequence - 1)
                return
        if fits and not self._before_doubted:
            what = (
                f"is not the one that record {sequence} was written after: it was rewritten "
                "together with its hash, and those before it may have been too"
            )
            self.problems.add(sequence - 1, what)

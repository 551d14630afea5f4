"""What a lab keeps to hold a logbook to its word: a size and a root, and proofs against them.

A `Checkpoint` vouches for every record up to its number with one hash (`daq.logbook.merkle`). Kept
where the logbook's owner cannot reach it, it shows what the chain alone cannot: that the end was
cut off, that all of it was built anew, that another logbook was put in its place. A later
checkpoint can prove that it follows an earlier one, and a `RecordProof` that a record is among
those of a checkpoint, both without the logbook.

An entry of the tree is the hash of a record, as 64 lower-case hex digits. Both forms are files of
one line of canonical JSON.
"""

import os
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field, StringConstraints, TypeAdapter, ValidationError

from daq.logbook.chain import Problems, Row, chain_hash
from daq.logbook.disk import write_new
from daq.logbook.errors import CheckpointError
from daq.logbook.fields import StrictModel, Uid, UtcTime
from daq.logbook.merkle import Tree, continues, includes
from daq.logbook.records import canonical_form

MOST_BYTES = 1 << 26
"""No checkpoint and no proof is larger; a record may hold thousands of readings."""

Digest = Annotated[str, StringConstraints(pattern="^[0-9a-f]{64}$")]
Count = Annotated[int, Field(ge=1, le=2**53 - 1)]
Proof = Annotated[tuple[Digest, ...], Field(max_length=128)]


class Followed(StrictModel):
    """An earlier checkpoint, and the proof that its records are the first of the later one."""

    records: Count
    root: Digest
    proof: Proof


class Checkpoint(StrictModel):
    """How many records a logbook had, and the root over them."""

    kind: Literal["checkpoint"] = "checkpoint"
    format: Literal[1] = 1
    at: UtcTime
    """When it was made, by the clock of the machine that made it."""
    logbook: Uid
    """The id of the logbook."""
    records: Count
    root: Digest
    follows: Followed | None = None


class RecordProof(StrictModel):
    """A record, and the proof that a checkpoint vouches for it."""

    kind: Literal["record proof"] = "record proof"
    format: Literal[1] = 1
    logbook: Uid
    records: Count
    root: Digest
    sequence: Count
    previous: Digest
    body: str
    """The record as canonical JSON, as it is stored."""
    proof: Proof


_FILE: TypeAdapter[Checkpoint | RecordProof] = TypeAdapter(
    Annotated[Checkpoint | RecordProof, Field(discriminator="kind")]
)


def read_vouching(path: str | os.PathLike[str]) -> Checkpoint | RecordProof:
    """The checkpoint or the proof in a file.

    Raises:
        CheckpointError: it cannot be read, or is neither.
    """
    try:
        with open(path, "rb") as file:
            said = file.read(MOST_BYTES + 1)
    except OSError as error:
        raise CheckpointError(
            f"{path} cannot be read: {error.strerror}. Check the name."
        ) from error
    try:
        if len(said) > MOST_BYTES:
            raise ValueError("it is too large")
        return _FILE.validate_json(said)
    except ValidationError as error:
        first = error.errors()[0]
        where = ".".join(str(each) for each in first["loc"])
        why = f"{where}: {first['msg']}" if where else first["msg"]
    except ValueError as error:
        why = str(error)
    raise CheckpointError(f"{path} is no checkpoint and no proof ({why}). Ask for it again.")


def read_checkpoint(path: str | os.PathLike[str]) -> Checkpoint:
    """The checkpoint in a file.

    Raises:
        CheckpointError: it cannot be read, or is something else.
    """
    found = read_vouching(path)
    if not isinstance(found, Checkpoint):
        raise CheckpointError(f"{path} is the proof of a record. Give a checkpoint.")
    return found


def write_vouching(said: Checkpoint | RecordProof, path: str | os.PathLike[str]) -> None:
    """Write a checkpoint or a proof to a new file; it has reached the disk when this returns.

    Raises:
        CheckpointError: there is such a file already, or it cannot be written.
    """
    try:
        write_new(Path(path), [canonical_form(said) + b"\n"])
    except FileExistsError as error:
        raise CheckpointError(f"{path} is there already. Give another name.") from error
    except OSError as error:
        raise CheckpointError(f"{path} cannot be written: {error.strerror}.") from error


def compared(kept: Checkpoint, shown: Checkpoint | RecordProof) -> str:
    """Why ``kept`` does not vouch for ``shown``, a later checkpoint or a record; empty if it does.

    Nothing but the two is needed. A later checkpoint that is vouched for holds all records of the
    kept one, unchanged, and in front.
    """
    if shown.logbook != kept.logbook:
        return f"it is of another logbook, {shown.logbook}"
    if isinstance(shown, RecordProof):
        return _record_compared(kept, shown)
    if shown.records < kept.records:
        return f"it holds {shown.records} records, and {kept.records} were kept"
    followed = shown.follows
    if shown.records == kept.records:
        return "" if shown.root == kept.root else "its records are not those that were kept"
    if followed is None or followed.records != kept.records:
        return (
            f"it has no proof that it follows these {kept.records} records; ask for one that was "
            "made with --since and this checkpoint"
        )
    proof = [bytes.fromhex(each) for each in followed.proof]
    before, after = bytes.fromhex(kept.root), bytes.fromhex(shown.root)
    if not continues(kept.records, before, shown.records, after, proof):
        return f"its first {kept.records} records are not those that were kept"
    return ""


def _record_compared(kept: Checkpoint, shown: RecordProof) -> str:
    if (shown.records, shown.root) != (kept.records, kept.root):
        return "it was made for another checkpoint"
    digest = chain_hash(shown.sequence, shown.previous.encode(), shown.body.encode())
    proof = [bytes.fromhex(each) for each in shown.proof]
    root = bytes.fromhex(kept.root)
    if not includes(digest, shown.sequence - 1, kept.records, root, proof):
        return f"record {shown.sequence} is not the one that was kept"
    return ""


class Held:
    """Holds the rows of a logbook that pass by against a checkpoint."""

    def __init__(self, kept: Checkpoint) -> None:
        self._kept, self._tree, self._root = kept, Tree(), ""

    def passing(self, rows: Iterable[Row]) -> Iterator[Row]:
        """``rows``, unchanged; may be called again with those that follow."""
        tree, wanted = self._tree, self._kept.records
        for row in rows:
            if tree.size < wanted:
                stored = row[2]
                tree.append(stored if isinstance(stored, bytes) else b"")
                if tree.size == wanted:
                    self._root = tree.root().hex()
            yield row

    def judge(self, logbook_id: bytes | None, problems: Problems) -> None:
        """Add what does not agree, once all rows have passed."""
        kept, seen = self._kept, self._tree.size
        if logbook_id is not None and logbook_id != kept.logbook.encode():
            problems.add(None, f"is not logbook {kept.logbook}, of which the checkpoint is")
        elif seen < kept.records:
            what = f"is missing: the checkpoint is over {kept.records}, the end was cut off"
            problems.add(seen + 1, what, kept.records)
        elif self._root != kept.root:
            what = f"has other records up to {kept.records} than the checkpoint vouches for"
            problems.add(None, f"{what}: they were rewritten")

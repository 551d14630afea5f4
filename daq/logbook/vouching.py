"""Makes checkpoints of a logbook, and proofs that a record is among those of one."""

import os
from collections.abc import Iterator
from datetime import UTC, datetime

from daq.logbook.book import Logbook, LogbookReader
from daq.logbook.checkpoint import Checkpoint, Followed, RecordProof
from daq.logbook.errors import CheckpointError
from daq.logbook.merkle import Tree, consistency_spans, inclusion_spans, roots_of
from daq.logbook.proof import verify


def make_checkpoint(
    path: str | os.PathLike[str], *, since: Checkpoint | None = None, at: datetime | None = None
) -> Checkpoint:
    """A checkpoint over all records that the logbook at ``path`` holds now.

    Args:
        path: the logbook; a writer may be at work meanwhile.
        since: an earlier checkpoint, that the new one shall prove to follow.
        at: when it is made, aware; None for now.

    Raises:
        CheckpointError: the logbook is not intact, or not what ``since`` vouches for.
        LogbookError: it cannot be read.
    """
    report = verify(path, since=since)
    if report.problems or report.logbook_id is None:
        raise CheckpointError(
            f"{path} is not intact, so nothing vouches for it: {report.problems[0]}. "
            "See 'restpoint log verify'."
        )
    with Logbook.read(path) as book:
        tree = Tree()
        for digest in _digests(book, report.records):
            tree.append(digest)
        follows = None
        if since is not None and since.records < report.records:
            spans = consistency_spans(since.records, report.records)
            proof = roots_of(spans, _digests(book, report.records))
            follows = Followed(
                records=since.records, root=since.root, proof=tuple(each.hex() for each in proof)
            )
    return Checkpoint(
        at=at or datetime.now(UTC),
        logbook=report.logbook_id,
        records=report.records,
        root=tree.root().hex(),
        follows=follows,
    )


def prove_record(
    path: str | os.PathLike[str], sequence: int, checkpoint: Checkpoint
) -> RecordProof:
    """The proof that record ``sequence`` is one of those that ``checkpoint`` vouches for.

    Raises:
        CheckpointError: it is not, or the logbook is not what ``checkpoint`` vouches for.
        LogbookError: the logbook cannot be read.
    """
    if not 1 <= sequence <= checkpoint.records:
        raise CheckpointError(
            f"There is no record {sequence} among the {checkpoint.records} of the checkpoint. "
            "Give another number, or a later checkpoint."
        )
    report = verify(path, since=checkpoint)
    if report.problems:
        raise CheckpointError(f"{path} cannot prove anything: {report.problems[0]}.")
    with Logbook.read(path) as book:
        entry = book.entry(sequence)
        assert entry is not None  # verified above
        spans = inclusion_spans(sequence - 1, checkpoint.records)
        proof = roots_of(spans, _digests(book, checkpoint.records))
    return RecordProof(
        logbook=checkpoint.logbook,
        records=checkpoint.records,
        root=checkpoint.root,
        sequence=sequence,
        previous=entry.previous,
        body=entry.body,
        proof=tuple(each.hex() for each in proof),
    )


def _digests(book: LogbookReader, records: int) -> Iterator[bytes]:
    return (entry.hash.encode() for entry in book.entries(1, records))

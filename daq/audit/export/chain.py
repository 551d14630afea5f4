"""The chain over what was exported: each committed run is bound to the one before.

The digest of a file is the SHA-256 over its rows, packed column by column in the order of the
layout, ``link`` left out. A column is its name and a line feed; if it is text, its distinct names
sorted by code point, as canonical JSON (RFC 8785) and a line feed; then a signed 64-bit integer,
least byte first, for every row: the value itself, the least one if it is missing, or the place of
the name from 0. The link of a run is the SHA-256 over the link before it (64 zeros for the first),
a line feed, and the canonical JSON of the run's facts.
"""

import hashlib
from collections.abc import Mapping, Sequence

from daq.audit.layout import Table
from daq.logbook.canonical import canonical

FIRST_LINK = "0" * 64


def digest_of(table: Table, columns: Mapping[str, Sequence[int] | Sequence[str]]) -> str:
    """The digest of a table's rows, in hex.

    Args:
        table: which table.
        columns: each of its columns, all of one length.
    """
    import numpy as np

    sha = hashlib.sha256()
    for column in table.columns:
        if column.name == "link":
            continue
        values = columns[column.name]
        sha.update(column.name.encode() + b"\n")
        if column.kind == "text":
            names = sorted({str(each) for each in values})
            places = {name: place for place, name in enumerate(names)}
            sha.update(canonical(names) + b"\n")
            packed = np.fromiter((places[str(each)] for each in values), "<i8", len(values))
        else:
            packed = np.asarray(values, "<i8")
        sha.update(packed.tobytes())
    return sha.hexdigest()


def link_of(previous: str, facts: Mapping[str, object]) -> str:
    """The link of a run, in hex."""
    return hashlib.sha256(previous.encode() + b"\n" + canonical(dict(facts))).hexdigest()

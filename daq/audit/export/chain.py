"""The chain over what was exported: each committed run is bound to the one before.

The digest of a file is the SHA-256 over its rows, packed column by column in the order of the
layout, ``link`` left out. A column is its name and a line feed; if it is text, its distinct names
sorted by code point, as canonical JSON (RFC 8785) and a line feed; then a signed 64-bit integer,
least byte first, for every row: the value itself, the least one if it is missing, or the place of
the name from 0. The link of a run is the SHA-256 over the link before it (64 zeros for the first),
a line feed, and the canonical JSON of the run's facts.
"""

import hashlib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeAlias

from daq.audit.layout import Table
from daq.logbook.canonical import canonical

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

FIRST_LINK = "0" * 64


@dataclass(frozen=True, slots=True)
class Coded:
    """A column of text: its distinct names sorted by code point, and each row's place in them."""

    names: Sequence[str]
    places: "npt.NDArray[np.int64]"

    @property
    def distinct(self) -> set[str]:
        """The names that there are."""
        return set(self.names)


Column: TypeAlias = "Sequence[int] | Sequence[str] | npt.NDArray[np.int64] | Coded"
"""Whole numbers, or text as it is, or text as numbers."""


def digest_of(table: Table, columns: Mapping[str, Column]) -> str:
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
            values = values if isinstance(values, Coded) else coded_from(values)
            sha.update(canonical(list(values.names)) + b"\n")
        rows = values.places if isinstance(values, Coded) else values
        sha.update(np.asarray(rows, "<i8").tobytes())
    return sha.hexdigest()


def coded_from(values: Iterable[object]) -> Coded:
    """A column of text as numbers."""
    import numpy as np

    texts = [str(each) for each in values]
    names = sorted(set(texts))
    places = {name: place for place, name in enumerate(names)}
    rows = np.fromiter((places[each] for each in texts), np.int64, len(texts))
    return Coded(names, rows)


def link_of(previous: str, facts: Mapping[str, object]) -> str:
    """The link of a run, in hex."""
    return hashlib.sha256(previous.encode() + b"\n" + canonical(dict(facts))).hexdigest()

"""The chain over what was exported: each committed run is bound to the one before.

The digest of a file is the SHA-256 over its rows, packed column by column in the order of the
layout, ``link`` left out, and columns that the file does not have. A column is its name and a line
feed; if it is text, its distinct names sorted by code point, as canonical JSON (RFC 8785) and a
line feed; then a signed 64-bit integer, least byte first, for every row: the value itself, the
least one if it is missing, or the place of the name from 0. The link of a run is the SHA-256 over
the link before it (64 zeros for the first), a line feed, and the canonical JSON of the run's facts.
"""

import hashlib
import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from daq.audit.layout import Table
from daq.logbook.canonical import canonical

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

FIRST_LINK = "0" * 64


@dataclass(frozen=True, slots=True)
class Packed:
    """A column as whole numbers, one stretch of rows after the other.

    ``names`` are of text: the distinct ones, sorted by code point; the numbers are places in them.
    """

    parts: "Iterable[npt.NDArray[np.int64]]"
    names: Sequence[str] | None = None


def digest_of(table: Table, columns: Mapping[str, Packed | Sequence[int] | Sequence[str]]) -> str:
    """The digest of a table's rows, in hex.

    Args:
        table: which table.
        columns: its columns, all of one length; those that came to the layout later may be absent.
    """
    import numpy as np

    sha = hashlib.sha256()
    for column in table.columns:
        if column.name == "link" or column.name not in columns:
            continue
        given = columns[column.name]
        values = given if isinstance(given, Packed) else _packed(given, column.kind)
        sha.update(column.name.encode() + b"\n")
        if values.names is not None:
            sha.update(_listed(values.names) + b"\n")
        for part in values.parts:
            sha.update(np.ascontiguousarray(part, "<i8").data)
    return sha.hexdigest()


def _packed(values: Sequence[int] | Sequence[str], kind: str) -> Packed:
    import numpy as np

    if kind == "text":
        return packed_texts(map(str, values))
    return Packed([np.array(values, dtype=np.int64)])


def _listed(names: Sequence[str]) -> bytes:
    """Names as canonical JSON; there may be very many of them."""
    try:
        return json.dumps(list(names), ensure_ascii=False, separators=(",", ":")).encode()
    except UnicodeEncodeError:
        return canonical(list(names))  # which says what is wrong


def packed_texts(texts: Iterable[str]) -> Packed:
    """A column of text as numbers."""
    import numpy as np

    rows = list(texts)
    names = sorted(set(rows))
    places = {name: place for place, name in enumerate(names)}
    return Packed([np.fromiter((places[each] for each in rows), np.int64, len(rows))], names)


def link_of(previous: str, facts: Mapping[str, object]) -> str:
    """The link of a run, in hex."""
    return hashlib.sha256(previous.encode() + b"\n" + canonical(dict(facts))).hexdigest()

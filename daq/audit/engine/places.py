"""In which files, and where there, the rows of findings stand: looked up for all at once."""

from collections.abc import Sequence
from typing import Protocol

import numpy as np

from daq.audit.engine.evidence import Evidence
from daq.audit.intake.places import Stretch
from daq.audit.layout import LARGE
from daq.audit.source import Ints


class Places(Protocol):
    """A log that says where its rows stand."""

    def columns(self, table: str) -> tuple[str, ...]:
        """The columns that the log has of a table; none if it has no such table."""

    def where_all(self, table: str, gauge: Ints, seq_lo: Ints, seq_hi: Ints) -> list[list[Stretch]]:
        """Where stretches of rows stand, for each of them; one read of the table."""


def places_of(source: Places, findings: Sequence[Evidence]) -> list[list[Stretch]]:
    """Where the rows of each finding stand, by file; of missing rows, where those beside them do.

    Nothing for a finding that is about no rows. Each large table is read once, and once more if
    there are findings about rows that are missing.
    """
    found: list[list[Stretch]] = [[] for _ in findings]
    for table in LARGE:
        about = [
            (place, each.gauge_number, each.seq_lo, _last(each))
            for place, each in enumerate(findings)
            if each.about == table and each.gauge_number is not None and each.seq_lo is not None
        ]
        if not source.columns(table):
            continue
        for beside in (0, 1):
            wanted = np.array([each for each in about if not found[each[0]]], dtype=np.int64)
            if not wanted.size:
                break
            place, gauge, lo, hi = wanted.T
            told = source.where_all(table, gauge, lo - beside, hi + beside)
            for each, stretches in zip(place.tolist(), told, strict=True):
                found[each] = stretches
    return found


def _last(found: Evidence) -> int | None:
    return found.seq_lo if found.seq_hi is None else found.seq_hi

"""What the audit reads from: a log in the open log format, in blocks of whole gauges.

Names (gauge, site, run, operator, standard, job, feature, role, link) are never handed on as text:
a block of rows holds a whole number for each, and `Source.names` gives the text for the few that
come into a finding. The numbers of a column are the same in every table of a source, so that a
capture and a point of one gauge have the same number. Columns with fixed words (``found``, ``way``,
``outcome`` …) hold the place of the word in `daq.audit.layout`, such as ``FOUND.index("as left")``.
A missing text is -1, a missing integer `daq.audit.layout.NULL`.
"""

from collections.abc import Iterator, Sequence
from typing import Protocol

import numpy as np
import numpy.typing as npt

Ints = npt.NDArray[np.int64]
Block = dict[str, Ints]
"""Columns by name, all of one length: whole numbers of 64 bits (or fewer, for names and
words)."""


class Source(Protocol):
    """A log that can be read any number of times, always in the same order."""

    def columns(self, table: str) -> tuple[str, ...]:
        """The columns of the layout that the log has of a table; none if it has no such table."""

    def rows(self, table: str) -> int:
        """How many rows a table has; 0 if it is not there."""

    def blocks(self, table: str, columns: Sequence[str], skip: int = 0) -> Iterator[Block]:
        """A large table (points, captures) in blocks, each of whole gauges.

        Rows come in the order of the file, which should be (gauge, seq): the reader proves it. A
        gauge's rows are never split over two blocks unless the file is out of order.

        Args:
            table: one of `daq.audit.layout.LARGE`.
            columns: which columns, each one of ``columns(table)``.
            skip: how many blocks to leave out at the beginning, to go on after an interruption.
        """

    def small(self, table: str) -> Block:
        """A small table whole, with the columns that it has."""

    def names(self, column: str, codes: Ints) -> list[str]:
        """The texts that numbers stand for in a column of names; empty for -1."""

    def identity(self) -> str:
        """Another text where the log, how it is read, or how it is cut into blocks is another."""

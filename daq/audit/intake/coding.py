"""Names and words as whole numbers: SQL that gives them, and what they stand for."""

from collections.abc import Sequence

from daq.audit.intake.expressions import Expression
from daq.audit.intake.pieces import Piece
from daq.audit.intake.quoting import literal
from daq.audit.layout import NULL, TABLES, Column


def word_codes(column: str) -> tuple[str, ...] | None:
    """The words of a column that has fixed ones, in the order of their numbers; else None."""
    for table in TABLES.values():
        if column in table.names and (words := table.column(column).words):
            return words
    return None


def is_whole(column: str, pieces: Sequence[Piece]) -> bool:
    """Whether every file that has this column of names has whole numbers for them."""
    found = [piece.columns[column].whole for piece in pieces if column in piece.columns]
    return bool(found) and all(found)


def coded(column: Column, given: Expression | None, *, whole: bool) -> str:
    """SQL for a column as whole numbers, never null.

    Args:
        column: the column of the open format.
        given: how it is read; None if this file does not have it.
        whole: whether the names are whole numbers in all of the source.
    """
    missing = -1 if column.kind == "text" else NULL
    if given is None:
        return _number(missing)
    if column.kind == "integer":
        return given.sql if given.full else f"coalesce({given.sql}, {_number(NULL)})"
    if column.words:
        cases = " ".join(
            f"WHEN {literal(word)} THEN {place}" for place, word in enumerate(column.words) if word
        )
        return f"CAST(CASE {given.sql} {cases} ELSE -1 END AS TINYINT)"
    if whole:
        if given.full and given.natural:
            return given.sql
        number = f"CAST({given.sql} AS BIGINT)"
        # -1 stands for a missing name, so names below zero move down by one.
        return f"coalesce(CASE WHEN {number} < 0 THEN {number} - 1 ELSE {number} END, -1)"
    text = f"({given.sql})::VARCHAR"
    return f"CASE WHEN coalesce({text}, '') = '' THEN -1 ELSE CAST(hash({text}) >> 1 AS BIGINT) END"


def _number(number: int) -> str:
    # The least 64-bit integer cannot be written as a literal: its digits alone do not fit.
    if number == NULL:
        return f"(CAST({NULL + 1} AS BIGINT) - 1)"
    return f"CAST({number} AS BIGINT)"

"""A sound, invented sheet, and the mistakes to plant in it: one alone, or all at once."""

import tomllib
from dataclasses import dataclass
from pathlib import Path

from daq.jobs.sheet import SheetError, sheet_from_bytes

HERE = Path(__file__).parent
BASE = (HERE / "sheet.toml").read_text("utf-8")


@dataclass(frozen=True)
class Mistake:
    """A slip of the pen: ``old`` becomes ``new``, told on the line where ``at`` ends.

    ``told`` is all that is said after the line. Those that are ``together`` can be planted at once.
    """

    old: str
    new: str
    at: str
    told: str
    together: bool = False


def with_mistakes(*mistakes: Mistake) -> str:
    text = BASE
    for each in mistakes:
        assert text.count(each.old) == 1, each.old
        text = text.replace(each.old, each.new)
    return text


def line_of(piece: str, text: str) -> int:
    """The line that a piece of text ends on; it must be there once."""
    before, found, after = text.partition(piece)
    assert found, piece
    assert piece not in after, piece
    return (before + piece).count("\n") + 1


def problems_of(text: str) -> list[str]:
    """What is said of a sheet; nothing if it is sound."""
    try:
        sheet_from_bytes(text.encode(), "s.toml")
    except SheetError as error:
        return list(error.problems)
    return []


MISTAKES = [
    Mistake(**each)
    for each in tomllib.loads((HERE / "mistakes.toml").read_text("utf-8"))["mistakes"]
]

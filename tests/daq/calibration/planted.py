"""Mistakes to plant in a sound file: one alone, or all of them at once."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Mistake:
    """A slip of the pen: ``old`` becomes ``new``, told at the line where ``at`` (or ``new``) ends.

    ``told`` is all that is said after the line. Those that are ``alone`` hide one another.
    """

    old: str
    new: str
    told: str
    at: str = ""
    alone: bool = False

    def line_in(self, text):
        piece = self.at or self.new
        before, found, after = text.partition(piece)
        assert found, piece
        assert piece not in after, piece
        return (before + piece).count("\n") + 1


def with_mistakes(base, mistakes):
    for each in mistakes:
        assert base.count(each.old) == 1, each.old
        base = base.replace(each.old, each.new)
    return base


VALUES = [
    "[]", "{}", '""', '"…"', "0", "-1", "99999999999999999999", "1e400", "nan", "true", "[{}]",
    "1979-05-27", "12:00:00", "1979-05-27T07:32:00Z", "[[]]", '{ a = "b" }', '"0 mm"', '"1e9 mm"',
    '"-5 mm"', '["5 mm", "5 mm"]', '"\\u0000"', '"1/2 in"', "76,20", "rack", '"half', "[",
]  # fmt: skip
"""What may stand in the wrong place."""

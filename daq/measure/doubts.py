"""When a gauge's value is in doubt, and in which words."""

from decimal import Decimal
from typing import Literal

from drivers.reading import Reading, Status, Unit

UNIT_JUMP = 0.002
"""How near to 25.4 the ratio of two readings must be to look like a pressed unit key."""

Cause = Literal["origin", "unit", "adapter"]

JUMP_WORDS = (
    "the reading jumped by a factor of 25.4: was the unit key pressed? "
    "Set the gauge back, or confirm"
)


def origin_words(status: frozenset[Status]) -> str:
    """The doubt after a gauge has lost count or its origin."""
    words = " and ".join(sorted(each.value.replace("-", " ") for each in status))
    return f"the gauge showed {words}: its zero may have moved; check it on the master"


def unit_words(before: Unit, now: Unit) -> str:
    """The doubt after a change of unit."""
    return (
        f"the display changed from {before.value} to {now.value}: "
        "press the gauge's unit key, or confirm the new unit"
    )


def status_words(status: frozenset[Status]) -> str:
    """What is wrong with a gauge that says so itself."""
    words = sorted(each.value.replace("-", " ") for each in status if each.spoils_value)
    return f"the gauge says: {', '.join(words)}; put that right first"


def looks_like_unit_key(before: Reading, now: Reading) -> bool:
    """Whether two readings differ by a factor of 25.4, too near for a hand's movement."""
    small, large = sorted((abs(before.value), abs(now.value)))
    if small < Decimal("0.1"):
        return False
    return abs(float(large / small) / 25.4 - 1) < UNIT_JUMP


def adapter_words(before: str, now: str, port: str) -> str:
    """The doubt after another adapter was plugged in where a gauge's was."""
    there = f"{now} is" if now else "something without an identity is"
    return (
        f"{there} at {port} now, where {before} was: plug the right gauge in, or confirm that this "
        "is it"
    )


class Doubts:
    """What is in doubt of a gauge, one of each cause at most, oldest first."""

    def __init__(self) -> None:
        self._words: dict[Cause, str] = {}

    @property
    def words(self) -> str:
        """The oldest one in words; empty if there is none."""
        return next(iter(self._words.values()), "")

    def has(self, cause: Cause) -> bool:
        """Whether this cause is in doubt."""
        return cause in self._words

    def cast(self, cause: Cause, words: str) -> None:
        """There is a doubt; words for a cause that is in doubt already take the others' place."""
        self._words[cause] = words

    def lift(self, cause: Cause) -> None:
        """This cause is no doubt any more."""
        self._words.pop(cause, None)

    def confirm(self) -> Cause | None:
        """Somebody has looked into the oldest: its cause; None if there was no doubt."""
        cause = next(iter(self._words), None)
        if cause is not None:
            self.lift(cause)
        return cause

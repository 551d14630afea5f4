"""When a gauge's value is in doubt, and in which words."""

from decimal import Decimal

from drivers.reading import Reading, Status, Unit

UNIT_JUMP = 0.002
"""How near to 25.4 the ratio of two readings must be to look like a pressed unit key."""

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

"""What an adjuster really does, learned from the moves seen so far, and when it does nothing.

The sheet says how far the reading should move for a turn. The hand turns, the part settles, and
the rests before and after tell how far it did move. From several such moves the true effect is
estimated, with the sheet's figure as what is known beforehand. Guidance changes only when three
moves or more say plainly that the sheet is off; it never changes on one move, never turns the
sense round by itself, and is left alone while something seems wrong.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Context, Decimal
from typing import Literal

from daq.jobs.recipes.fitting import agreement
from daq.jobs.recipes.points import require_figure
from daq.spec import Adjuster

HAND_SHARE = 0.15
"""A turn told to the hand is turned with this share of it as standard uncertainty, or with
`HAND_DEG` if that is more. Common practice, no source."""

HAND_DEG = 10.0
"""Degrees; see `HAND_SHARE`. Common practice, no source."""

HAND_CLICKS = 0.5
"""Standard uncertainty of counted clicks, whatever their number. Common practice, no source."""

SHEET_SHARE = 0.3
"""The sheet's figure is taken as right within this share (k = 1). Common practice, no source."""

MOVES_NEEDED = 3
"""Fewer moves that count never change the guidance."""

WORTH_SAYING = 0.1
"""A difference from the sheet below this share is left alone: the hand is no better."""

NO_EFFECT = 0.2
"""A move of less than this share of what was to be expected had no effect."""

_IN_A_ROW = 2
_JUDGED_AT = 4.0
_FOUR_DIGITS = Context(prec=4)

Trouble = Literal["", "no effect", "wrong way"]
"""What seems wrong with the latest moves, if anything."""


@dataclass(frozen=True, slots=True)
class Move:
    """One move of the adjuster, between two settled rests.

    from_mm, to_mm with u_from_mm, u_to_mm: the rests, standard uncertainties. told_turns: what the
    hand was asked to turn, clockwise above zero, clicks as parts of a turn; None where nobody knows
    how far it was turned. of: uids of captures, if the rests were captured.

    Raises:
        RecipeError: a figure is not finite, or an uncertainty below zero.
    """

    from_mm: float
    u_from_mm: float
    to_mm: float
    u_to_mm: float
    told_turns: float | None
    of: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        for value in (self.from_mm, self.to_mm, self.told_turns or 0.0):
            require_figure("a move", value)
        for u in (self.u_from_mm, self.u_to_mm):
            require_figure("the uncertainty of a move", u, least=0)

    @property
    def change_mm(self) -> float:
        """How far the reading moved."""
        return self.to_mm - self.from_mm

    @property
    def u_change_mm(self) -> float:
        """Standard uncertainty of that; what both rests share cancels."""
        return math.hypot(self.u_from_mm, self.u_to_mm)


@dataclass(frozen=True, slots=True)
class Learned:
    """What the moves say of the adjuster.

    adjuster: to guide with from now on; the sheet's own unless ``changed``. ratio: true effect over
    the sheet's, with its standard uncertainty u_ratio. mm_per_turn, u_mm_per_turn: the same as a
    length, without sign. moves: how many it is from. words: what to say of the difference, or
    empty. trouble and warnings: what seems wrong with the latest moves. remarks: what was not
    counted, and why.
    """

    adjuster: Adjuster
    changed: bool
    ratio: float
    u_ratio: float
    mm_per_turn: float
    u_mm_per_turn: float
    moves: int
    words: str = ""
    trouble: Trouble = ""
    warnings: tuple[str, ...] = ()
    remarks: tuple[str, ...] = ()


def learn(adjuster: Adjuster, moves: Sequence[Move]) -> Learned:
    """What the adjuster does, from the sheet and all moves seen so far.

    Args:
        adjuster: as the sheet has it; not one that was learned before.
        moves: of this screw, oldest first.

    Returns:
        The estimate: weighted mean of the sheet's figure and the moves, each move weighted by the
        uncertainty of its rests and of the hand. Moves of unknown turn, moves without effect and
        moves the wrong way are not in it, and are remarked on.

    Source: Bayes' rule for normal distributions, textbook; what the hand does is common practice.
    """
    seen = [_Seen(adjuster, move) for move in moves if move.told_turns]
    counted = [each for each in seen if each.kind in ("effect", "small")]
    ratio, u_ratio = _estimate(counted)
    trouble = _trouble(seen)
    per_turn_mm = float(adjuster.mm_per_turn)
    differs = abs(ratio - 1) > max(2 * u_ratio, WORTH_SAYING)
    telling = sum(each.kind == "effect" for each in counted)
    better = _with_ratio(adjuster, ratio)
    changed = differs and telling >= MOVES_NEEDED and not trouble and better is not None
    return Learned(
        better if changed and better is not None else adjuster,
        changed,
        ratio,
        u_ratio,
        ratio * per_turn_mm,
        u_ratio * per_turn_mm,
        len(counted),
        words=_words(adjuster, ratio, len(counted)) if changed else "",
        trouble=trouble,
        warnings=(_warning(adjuster, trouble, seen),) if trouble else (),
        remarks=tuple(_remarks(moves, seen)),
    )


class _Seen:
    """A move held against the sheet: what was to be expected, and whether it came."""

    def __init__(self, adjuster: Adjuster, move: Move) -> None:
        turns = move.told_turns or 0.0
        sense = 1.0 if adjuster.clockwise == "raises" else -1.0
        per_turn_mm = sense * float(adjuster.mm_per_turn)
        self.expected_mm = turns * per_turn_mm
        self.change_mm = move.change_mm
        self.u_change_mm = move.u_change_mm
        if adjuster.clicks_per_turn is None:
            u_turns = max(HAND_SHARE * abs(turns), HAND_DEG / 360)
        else:
            u_turns = HAND_CLICKS / adjuster.clicks_per_turn
        self.u_hand_mm = u_turns * abs(per_turn_mm)

    @property
    def kind(self) -> Literal["small", "effect", "no effect", "wrong way"]:
        """Too small to be judged by itself, or what came of it."""
        expected = abs(self.expected_mm)
        if expected <= _JUDGED_AT * max(self.u_change_mm, self.u_hand_mm / 2):
            return "small"
        if abs(self.change_mm) < NO_EFFECT * expected:
            return "no effect"
        if self.change_mm * self.expected_mm < 0:
            return "wrong way"
        return "effect"

    def u_ratio(self, ratio: float) -> float:
        """Standard uncertainty of this move's change over the expected one."""
        noise = math.hypot(self.u_change_mm, ratio * self.u_hand_mm)
        return max(noise, 1e-6) / abs(self.expected_mm)


def _estimate(counted: Sequence[_Seen]) -> tuple[float, float]:
    """True effect over the sheet's, with its standard uncertainty."""
    if not counted:
        return 1.0, SHEET_SHARE
    ratios = [each.change_mm / each.expected_mm for each in counted]
    ratio, u_ratio = 1.0, SHEET_SHARE
    # How far the hand errs in millimetres depends on the ratio sought; it settles at once.
    for _ in range(5):
        u = [each.u_ratio(abs(ratio)) for each in counted]
        weights = [1 / each**2 for each in u]
        weight = math.fsum(weights)
        of_moves = math.fsum(w * r for w, r in zip(weights, ratios, strict=True)) / weight
        residuals = [(r - of_moves) / each for r, each in zip(ratios, u, strict=True)]
        agrees = agreement(residuals, [1.0] * len(u), len(u) - 1)
        moved, sheet = weight / agrees.factor**2, 1 / SHEET_SHARE**2
        ratio = (sheet + moved * of_moves) / (sheet + moved)
        u_ratio = 1 / math.sqrt(sheet + moved)
    return ratio, u_ratio


def _trouble(seen: Sequence[_Seen]) -> Trouble:
    """The same trouble with the latest two moves that can be judged."""
    latest = [each.kind for each in seen if each.kind != "small"][-_IN_A_ROW:]
    if latest == ["no effect"] * _IN_A_ROW:
        return "no effect"
    if latest == ["wrong way"] * _IN_A_ROW:
        return "wrong way"
    return ""


def _with_ratio(adjuster: Adjuster, ratio: float) -> Adjuster | None:
    """The adjuster with its lever ratio put right; None if that would make no sense."""
    lever = _FOUR_DIGITS.multiply(adjuster.lever_ratio, Decimal(repr(ratio)))
    if not 0 < lever <= 1000:
        return None
    return Adjuster.of(**{**adjuster.model_dump(), "lever_ratio": lever})


def _words(adjuster: Adjuster, ratio: float, moves: int) -> str:
    unit, per = "turn", float(adjuster.mm_per_turn)
    if adjuster.clicks_per_turn is not None:
        unit, per = "click", per / adjuster.clicks_per_turn
    return (
        f"one {unit} moves {ratio * per:.2g} mm, not {per:.3g} mm as the sheet says, "
        f"from {moves} moves"
    )


def _warning(adjuster: Adjuster, trouble: Trouble, seen: Sequence[_Seen]) -> str:
    if trouble == "wrong way":
        other = "lowers" if adjuster.clockwise == "raises" else "raises"
        return (
            f"the last {_IN_A_ROW} moves went the wrong way: here clockwise {other} the reading, "
            f"and the sheet says that it {adjuster.clockwise} it. Check that it is the right "
            "screw, the gauge's direction key, and the sheet's 'clockwise'"
        )
    if any(each.kind == "effect" for each in seen):
        return (
            f"the last {_IN_A_ROW} moves had hardly any effect, and earlier ones had. The screw "
            "may slip or be at its end, or the plunger may be stuck: lift it and let it back"
        )
    return (
        f"{_IN_A_ROW} moves had hardly any effect, less than a fifth of what the sheet says. Check "
        "that it is the right screw, that the lock nut is loose, and that the plunger is free and "
        "rests on the part"
    )


def _remarks(moves: Sequence[Move], seen: Sequence[_Seen]) -> list[str]:
    counts = (
        (sum(not move.told_turns for move in moves), "nobody said how far it was turned"),
        (sum(each.kind == "no effect" for each in seen), "no effect"),
        (sum(each.kind == "wrong way" for each in seen), "the wrong way"),
    )
    return [
        f"{count} {'move is' if count == 1 else 'moves are'} not counted: {why}"
        for count, why in counts
        if count
    ]

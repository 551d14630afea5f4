"""What to tell the hand for the next turn of a screw, from the sheet and from the moves seen."""

from dataclasses import dataclass
from decimal import Decimal

from daq.jobs.learning import Learned, Move, learn
from daq.jobs.standing import TargetStanding
from daq.logbook.job import JobGate, JobResult
from daq.spec import Adjuster, guide


@dataclass(frozen=True, slots=True)
class TurnTold:
    """A turn to make.

    ``words`` is the guidance, ``turns`` the same, clockwise above zero. ``adjuster`` is the screw
    as it is now known, ``notes`` what the moves have taught and what seems wrong with them.
    """

    words: str
    turns: Decimal
    adjuster: Adjuster
    notes: tuple[str, ...] = ()


def turn_told(target: TargetStanding) -> TurnTold | None:
    """How to turn the screw of a target to its aim; None without a screw or a result."""
    planned = target.work.planned
    latest = target.results[-1] if target.results else None
    screw = planned.step.adjuster
    if screw is None or latest is None or latest.deviation is None:
        return None
    learned = learn(screw, moves_of(target))
    guidance = guide(latest.deviation - planned.spec.aim_mm, learned.adjuster)
    sign = {"clockwise": 1, "anticlockwise": -1}.get(guidance.direction, 0)
    turns = Decimal(repr(round(sign * float(guidance.turns), 4)))
    return TurnTold(guidance.words, turns, learned.adjuster, notes_of(learned))


def notes_of(learned: Learned) -> tuple[str, ...]:
    """What has been learned of a screw, for the fitter."""
    return (*learned.warnings, *([learned.words] if learned.words else ()))


def moves_of(target: TargetStanding) -> list[Move]:
    """Every move between two results of a target for which it is known what was told."""
    moves: list[Move] = []
    before: JobResult | None = None
    told: JobGate | None = None
    for record in target.records:
        if isinstance(record, JobGate) and record.gate == "adjusted":
            told = record
        elif isinstance(record, JobResult):
            if before is not None and told is not None and told.asked_turns is not None:
                moves.append(_move(before, record, float(told.asked_turns)))
            before, told = record, None
    return moves


def _move(before: JobResult, after: JobResult, turns: float) -> Move:
    # What both share, gauge and mastering, cancels in the change; the scatter of each stays.
    return Move(
        float(before.value),
        _own_u(before),
        float(after.value),
        _own_u(after),
        turns,
        (*before.captures, *after.captures),
    )


def _own_u(result: JobResult) -> float:
    own = result.components[0]
    return abs(float(own.u * own.sensitivity))

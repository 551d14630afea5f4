"""Where a calibration stands, worked out from its records and nothing else.

A run is as found until somebody says that the gauge was adjusted, and as left from then on. Only
what came since the run was begun counts: it begins again from its zero after the gate ``anew``, and
as left after each ``adjusted``. What a note has taken back does not count: a point, the capture
behind it, a gate, a result or the end.

A result counts as long as it is of just those points that count.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal

from daq.calibration.forms import GaugeIdentity
from daq.calibration.guided.soundness import refuse_unsound, sound_gauge
from daq.calibration.kept import KeptCalibration
from daq.calibration.plan import PreparedPlan
from daq.calibration.points import Point, Run
from daq.calibration.sequence import WantedPoint, counted, next_point, point_again
from daq.logbook.calibration import (
    CalibrationBegun,
    CalibrationEnded,
    CalibrationGate,
    CalibrationPoint,
    CalibrationRecord,
    CalibrationResult,
)

_FINEST_K = Decimal("0.001")

Numbered = tuple[int, CalibrationRecord]
"""A record that counts, with its place among all records of the calibration, from 0."""


@dataclass(slots=True)
class RunStanding:
    """One run: what has come since it was begun, oldest first.

    ``since`` is the place among the calibration's records from which on they count. ``points`` are
    those that count, in the plan's order; ``taken`` all of them in the order of their taking. A
    point's ``uid`` is that of its record in ``records``.
    """

    run: Run
    prepared: PreparedPlan
    since: int = 0
    points: tuple[Point, ...] = ()
    taken: tuple[Point, ...] = ()
    records: dict[str, CalibrationPoint] = field(default_factory=dict)
    returns: list[int] = field(default_factory=list)
    """The places of the points that only showed that the gauge still reads what it did."""
    places: dict[str, int] = field(default_factory=dict)
    conditions: list[tuple[int, CalibrationGate]] = field(default_factory=list)
    result: CalibrationResult | None = None
    """What the points come to; None too after one of them was taken back."""
    resulted: int = -1
    """The place of that result."""

    @property
    def first_temperature_c(self) -> Decimal | None:
        """Of gauge and standard, as first said in this run."""
        return self.conditions[0][1].temperature_c if self.conditions else None

    @property
    def temperature_c(self) -> Decimal | None:
        """As last said in this run."""
        return self.conditions[-1][1].temperature_c if self.conditions else None

    @property
    def wanted(self) -> WantedPoint | None:
        """The point that comes next; None if all are there."""
        return next_point(self.prepared, self.taken)

    @property
    def missing(self) -> int:
        """How many points are still to be taken."""
        return len(self.prepared.plan.stops) - len(self.points)

    @property
    def is_measured(self) -> bool:
        """Whether every point is there."""
        return self.missing == 0

    @property
    def missing_words(self) -> str:
        """What is missing, and of which run: ``3 points as found``."""
        if self.is_measured:
            return f"its result {self.run}"
        return f"{self.missing} {'point' if self.missing == 1 else 'points'} {self.run}"

    def mean_temperature_c(self, *more: CalibrationPoint) -> Decimal:
        """The mean over the points that count, and ``more``; there must be one."""
        own = [self.records[each.uid].temperature_c for each in self.points]
        said = [*own, *(each.temperature_c for each in more)]
        return (sum(said, Decimal(0)) / len(said)).quantize(_FINEST_K)


@dataclass(slots=True)
class Standing:
    """The whole calibration.

    ``taken_up`` is how many records it had when it was taken up again after an interruption: what
    was said of the temperature before counts no more, and in mid-run the gauge has to show that it
    still reads what it did. ``not_adjusted`` is the gate that says so of the result as found.
    """

    kept: KeptCalibration
    prepared: PreparedPlan
    gauge: GaugeIdentity
    as_found: RunStanding
    as_left: RunStanding | None = None
    not_adjusted: CalibrationGate | None = None
    ended: CalibrationEnded | None = None
    taken_up: int = 0

    @property
    def begun(self) -> CalibrationBegun:
        """Its first record."""
        return self.kept.begun

    @property
    def current(self) -> RunStanding:
        """The run it is in."""
        return self.as_left or self.as_found

    @property
    def run(self) -> Run:
        """Which run it is in."""
        return self.current.run

    @property
    def is_adjusted(self) -> bool:
        """Whether somebody has said that the gauge was adjusted."""
        return self.as_left is not None

    @property
    def left(self) -> CalibrationResult | None:
        """The result by which the gauge works from now on; None while that is not known."""
        if self.as_left is not None:
            return self.as_left.result
        return self.as_found.result if self.not_adjusted is not None else None

    @property
    def on(self) -> date:
        """The day, in UTC, of the last point that counts; else the one it was begun on."""
        points = self.current.records.values()
        return max((each.at for each in points), default=self.begun.at).date()

    @property
    def may_be_adjusted(self) -> bool:
        """Whether an adjustment may be said: how the gauge was found is complete."""
        return self.is_adjusted or self.as_found.result is not None

    @property
    def needs_conditions(self) -> bool:
        """Whether the temperature has yet to be said, in this run or since it was taken up."""
        said_at = [place for place, _ in self.current.conditions]
        return not said_at or said_at[-1] < self.taken_up

    @property
    def return_wanted(self) -> WantedPoint | None:
        """The point to go back to before the run goes on after an interruption; None for none."""
        run = self.current
        if not self.taken_up or any(
            place >= self.taken_up for place in (*run.places.values(), *run.returns)
        ):
            return None
        return point_again(self.prepared, run.taken)


def standing(kept: KeptCalibration, taken_up: int = 0) -> Standing:
    """Where a calibration stands after its records.

    Args:
        kept: the calibration.
        taken_up: ``len(kept.records)`` at the moment at which it was taken up again: when the
            program was begun anew, or the gauge came back after it had gone. 0 before anything.

    Raises:
        CalibrationError: the records contradict each other or their plan, as those may that were
            written by something else; or it was taken back as a whole.
    """
    gauge = sound_gauge(kept)
    prepared = kept.prepared()
    refuse_unsound(kept)
    records = list(_that_count(kept))
    found = _run("as found", prepared, records)
    now = Standing(kept, prepared, gauge, found, taken_up=taken_up)
    if any(isinstance(each, CalibrationGate) and each.gate == "adjusted" for _, each in records):
        now.as_left = _run("as left", prepared, records)
    for place, record in records:
        match record:
            case CalibrationGate(gate="not adjusted") if found.result and place > found.resulted:
                now.not_adjusted = record
            case CalibrationEnded() if now.ended is None:
                now.ended = record
            case _:
                pass
    return now


def _that_count(kept: KeptCalibration) -> Iterator[Numbered]:
    gone = {note.about for note in kept.withdrawn}
    for place, record in enumerate(kept.records):
        behind = record.capture if isinstance(record, CalibrationPoint) else None
        if record.uid not in gone and behind not in gone - {None}:
            yield place, record


def _run(run: Run, prepared: PreparedPlan, records: list[Numbered]) -> RunStanding:
    stands = RunStanding(run, prepared, since=_begun_at(run, records))
    taken: list[Point] = []
    results: list[tuple[int, CalibrationResult]] = []
    for place, record in records:
        if place < stands.since:
            continue
        match record:
            case CalibrationGate(gate="conditions") if record.run == run:
                stands.conditions.append((place, record))
            case CalibrationPoint(is_return=True) if record.run == run:
                stands.returns.append(place)
            case CalibrationPoint() if record.run == run:
                stands.records[record.uid] = record
                stands.places[record.uid] = place
                taken.append(point_of(record))
            case CalibrationResult() if record.run == run:
                results.append((place, record))
            case _:
                pass
    stands.taken = tuple(taken)
    stands.points = counted(prepared, taken)
    _take_result(stands, results)
    return stands


def _begun_at(run: Run, records: list[Numbered]) -> int:
    since = 0
    for place, record in records:
        if isinstance(record, CalibrationGate) and (
            (record.gate == "anew" and record.run == run)
            or (record.gate == "adjusted" and run == "as left")
        ):
            since = place + 1
    return since


def _take_result(stands: RunStanding, results: list[tuple[int, CalibrationResult]]) -> None:
    own = {each.place: each.uid for each in stands.points}
    for place, result in results:
        if stands.is_measured and {each.place: each.point for each in result.points} == own:
            stands.result, stands.resulted = result, place


def point_of(record: CalibrationPoint) -> Point:
    """The point that a record holds; its ``uid`` is the record's."""
    return Point(
        place=record.place,
        series=record.series,
        nominal_mm=record.nominal_mm,
        direction=record.direction,
        reference_mm=record.reference_mm,
        u_reference_mm=record.u_reference_mm,
        reading_mm=record.reading_mm,
        u_reading_mm=record.u_reading_mm,
        run=record.run,
        uid=record.uid,
    )

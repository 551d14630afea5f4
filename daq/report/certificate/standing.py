"""Which records of a calibration count for its certificate, and whether there may be one at all.

What a note has taken back does not count. A certificate is issued from a calibration that was ended
with one, of which nothing that it rests on was taken back, and whose records agree. Anything else
is a draft or void.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from daq.calibration.kept import KeptCalibration
from daq.logbook import Note
from daq.logbook.calibration import (
    CalibrationEnded,
    CalibrationGate,
    CalibrationPoint,
    CalibrationRecord,
    CalibrationResult,
    RunName,
)
from daq.report.certificate.model import State

RUNS: tuple[RunName, ...] = ("as found", "as left")


@dataclass(frozen=True, slots=True)
class Counted:
    """What counts of a calibration.

    ended: the record that ends it. undone: one that did, and was taken back, where no other ends
    it. results: the newest of each run since it was last begun anew, as found first. points: those
    that the results name, by uid. adjusted: the answers to whether it was adjusted, oldest first.
    conditions: every temperature that was read. anew: why runs were begun again. taken_back: all
    notes that take something back.
    """

    ended: CalibrationEnded | None
    undone: CalibrationEnded | None
    results: tuple[CalibrationResult, ...]
    points: dict[str, CalibrationPoint]
    adjusted: tuple[CalibrationGate, ...]
    conditions: tuple[CalibrationGate, ...]
    anew: tuple[CalibrationGate, ...]
    taken_back: tuple[Note, ...]
    state: State = "issued"
    why: tuple[str, ...] = ()

    @property
    def is_adjusted(self) -> bool:
        """Whether somebody has said that the gauge was adjusted."""
        return any(each.gate == "adjusted" for each in self.adjusted)


def counted(kept: KeptCalibration) -> Counted:
    """What counts of a calibration, and what kind of document may be made of it."""
    gone = {note.about for note in kept.withdrawn}
    live = [each for each in kept.records if each.uid not in gone]
    ended, ever = _last_end(live), _last_end(kept.records)
    gates = [each for each in live if isinstance(each, CalibrationGate)]
    results = tuple(each for run in RUNS if (each := _newest(live, run)) is not None)
    named = {each.point for result in results for each in result.points}
    found = Counted(
        ended=ended,
        undone=ever if ended is None else None,
        results=results,
        points={
            each.uid: each
            for each in kept.records
            if isinstance(each, CalibrationPoint) and each.uid in named
        },
        adjusted=tuple(each for each in gates if each.gate in ("adjusted", "not adjusted")),
        conditions=tuple(each for each in gates if each.gate == "conditions"),
        anew=tuple(each for each in gates if each.gate == "anew"),
        taken_back=tuple(kept.withdrawn),
    )
    state, why = _state(kept, found)
    return replace(found, state=state, why=why)


def _last_end(records: Sequence[CalibrationRecord]) -> CalibrationEnded | None:
    ends = [each for each in records if isinstance(each, CalibrationEnded)]
    return ends[-1] if ends else None


def _newest(live: Sequence[CalibrationRecord], run: RunName) -> CalibrationResult | None:
    found: CalibrationResult | None = None
    for each in live:
        match each:
            case CalibrationResult() if each.run == run:
                found = each
            case CalibrationGate(gate="anew") if each.run == run:
                found = None
            case CalibrationGate(gate="adjusted") if run == "as left":
                found = None
            case _:
                pass
    return found


def _state(kept: KeptCalibration, found: Counted) -> tuple[State, tuple[str, ...]]:
    ended = found.ended
    if ended is not None and ended.how == "broken off":
        return "void", (f"The calibration was broken off: {ended.reason}",)
    back = tuple(_bearing(kept, found))
    if found.undone is not None:
        return "void", back
    if ended is None:
        return "draft", ("The calibration has not been ended.", *back)
    if against := (*back, *_contradictions(found, ended)):
        return "void", against
    return "issued", ()


def _bearing(kept: KeptCalibration, found: Counted) -> Iterator[str]:
    """Notes that take back what the certificate rests on.

    What was taken back before the end, and does not count since, is none of these.
    """
    always = dict(_entries(kept))
    for point in found.points.values():
        always[point.uid] = always[point.capture] = f"reading {point.place} {point.run}"
    if found.undone is not None:
        always[found.undone.uid] = "the end of the calibration"
    after_the_end = dict(_said(kept)) if found.ended is not None else {}
    for note in found.taken_back:
        what = always.get(note.about or "", "")
        if not what and found.ended is not None and note.at >= found.ended.at:
            what = after_the_end.get(note.about or "", "")
        if what and note.about is not None:
            by = f" by {note.operator}" if note.operator else ""
            yield (
                f"Record {kept.sequences[note.about]}, {what}, was taken back{by} on "
                f"{note.at:%Y-%m-%d}: {note.text or 'no reason was given'}"
            )


def _entries(kept: KeptCalibration) -> Iterator[tuple[str, str]]:
    yield kept.begun.uid, "the beginning of the calibration"
    yield kept.gauge.uid, "the entry of the gauge"
    yield kept.standard.uid, "the entry of the standard"
    if kept.flat is not None:
        yield kept.flat.uid, "the entry of the flat"


def _said(kept: KeptCalibration) -> Iterator[tuple[str, str]]:
    for each in kept.records:
        if isinstance(each, CalibrationResult):
            yield each.uid, f"a result {each.run}"
        elif isinstance(each, CalibrationGate):
            yield each.uid, f"the answer '{each.gate}' {each.run}"


def _contradictions(found: Counted, ended: CalibrationEnded) -> Iterator[str]:
    """What the records say in two ways, or do not say although they must."""
    by_run = {each.run: each for each in found.results}
    last = found.results[-1] if found.results else None
    if last is None:
        yield "It was ended with a certificate, and there is no result."
        return
    if found.is_adjusted and "as left" not in by_run:
        yield "The gauge was adjusted, and there is no result as left."
    elif ended.as_left != last.word:
        yield (
            f"The record that ends it says '{ended.as_left}' as left, its result {last.run} says "
            f"'{last.word}'."
        )
    if "as left" in by_run and not found.is_adjusted:
        yield "There is a result as left, and nobody said that the gauge was adjusted."
    as_found = by_run.get("as found")
    if ended.as_found is not None and (as_found is None or as_found.word != ended.as_found):
        says = f"its result says '{as_found.word}'" if as_found else "there is no such result"
        yield f"The record that ends it says '{ended.as_found}' as found, {says}."
    for result in found.results:
        if missing := [each.place for each in result.points if each.point not in found.points]:
            places = ", ".join(map(str, missing))
            yield f"The result {result.run} names readings that are not at hand: {places}."

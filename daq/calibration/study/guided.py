"""A guided study: what comes next by its records, and what an answer becomes.

Pure: the records in, tasks and records out. Where a study stands is worked out anew each time, so
that stopping at any moment and going on later is the same as never having stopped.
"""

from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import PurePath
from typing import Any, Literal

from daq.calibration.study.errors import StudyError
from daq.calibration.study.guided_kept import KeptStudy
from daq.calibration.study.guided_plan import StudyPlan
from daq.logbook import Capture, Note, new_uid
from daq.logbook.study import StudyBegun, StudyEnded, StudyPoint, StudyTurn

SAME_SESSION = timedelta(hours=4)
"""Values of a check standard that lie further apart are not of one session."""


@dataclass(frozen=True, slots=True)
class StudyTask:
    """What is to be done next.

    ``measure`` takes the value at ``place``; ``end`` confirms that all values are there. ``title``
    says who measures what, ``words`` what to do, ``more`` what else may be known. ``done`` of
    ``of`` values are there; ``of`` is that of the session for a study of stability.
    """

    kind: Literal["measure", "end"]
    title: str
    words: str
    done: int
    of: int
    place: int = 0
    turn: StudyTurn | None = None
    more: tuple[str, ...] = ()
    asks: Literal[""] = ""
    """Nothing but to go on; there as in a job's task."""


@dataclass(frozen=True, slots=True)
class Stamp:
    """Who answers, and when (aware)."""

    operator: str
    at: datetime

    def on(self, study: KeptStudy) -> dict[str, Any]:
        """What every record of a study begins with."""
        uid = study.begun.uid
        return {"uid": new_uid(), "at": self.at, "operator": self.operator, "study": uid}


def next_task(study: KeptStudy, *, session: int = 1) -> StudyTask | None:
    """What is to be done next; None if the study has ended, or the session of stability has.

    Args:
        study: as the logbook has it.
        session: stability only: the place of the session's first value, by `session_at`.
    """
    if study.ended is not None:
        return None
    if study.begun.design == "stability":
        return _stability_task(study, session)
    order, points = study.begun.order, study.standing_points
    done, of = len(points), len(order)
    for place, turn in enumerate(order, 1):
        if place not in points:
            more = _more(study, turn)
            return StudyTask("measure", _title(turn), _WORDS, done, of, place, turn, more)
    words = "Every value is there. Go on to end the study, or go back to take the last one again."
    return StudyTask("end", study.begun.title, words, done, of)


_WORDS = "Place the part as always, let the reading come to rest, and go on."


def session_at(study: KeptStudy, at: datetime) -> int:
    """The place of the first value of the session of stability that goes on, or begins, now.

    A session that was interrupted goes on within `SAME_SESSION`; after that it stays incomplete,
    and counts for nothing, for a session is of one time.
    """
    size = study.begun.trials
    if not study.points:
        return 1
    first = (max(each.place for each in study.points) - 1) // size * size + 1
    of_session = [each for each in study.points if each.place >= first]
    full = all(first + n in study.standing_points for n in range(size))
    if full or at - of_session[0].at > SAME_SESSION:
        return first + size
    return first


def _stability_task(study: KeptStudy, session: int) -> StudyTask | None:
    size, points = study.begun.trials, study.standing_points
    place = next((n for n in range(session, session + size) if n not in points), None)
    if place is None:
        return None
    trial = place - session + 1
    turn = StudyTurn(part=study.begun.parts[0], appraiser="", trial=trial)
    title = f"{turn.part}: value {trial} of this round" if size > 1 else turn.part
    words = "Place the check standard as always, let the reading come to rest, and go on."
    done = sum(n in points for n in range(session, session + size))
    return StudyTask("measure", title, words, done, size, place, turn, _more(study, turn))


def _title(turn: StudyTurn) -> str:
    who = f"{turn.appraiser}: " if turn.appraiser else ""
    return f"{who}part {turn.part}, trial {turn.trial}"


def _more(study: KeptStudy, turn: StudyTurn) -> tuple[str, ...]:
    """Earlier values of the same part, where whoever measures may see them."""
    if study.begun.blind:
        return ()
    return tuple(
        f"before: {each.value_mm:f} mm{' by ' + each.appraiser if each.appraiser else ''}"
        for each in study.standing_points.values()
        if each.part == turn.part
    )[-3:]


def begun(
    plan: StudyPlan,
    *,
    stamp: Stamp,
    station: str,
    gauge: dict[str, Any],
) -> StudyBegun:
    """The first record of a study.

    Args:
        plan: what is to be studied.
        stamp: who begins it, and when.
        station: where.
        gauge: its ``gauge_label``, ``identity``, ``profile`` and ``resolution_mm``.
    """
    return StudyBegun(
        uid=new_uid(),
        at=stamp.at,
        station=station,
        operator=stamp.operator,
        title=plan.title,
        design=plan.design,
        **gauge,
        parts=plan.parts,
        appraisers=plan.appraisers,
        trials=plan.trials,
        references_mm=plan.references_mm,
        tolerance_mm=plan.tolerance_mm,
        blind=plan.blind,
        seed=plan.seed,
        order=plan.order,
        plan_name=PurePath(plan.name).name,
        plan_sha256=plan.fingerprint,
        plan_toml=plan.text,
    )


def captured(study: KeptStudy, task: StudyTask, capture: Capture, stamp: Stamp) -> StudyPoint:
    """A value was captured for a ``measure`` task; kept in the same transaction."""
    assert task.turn is not None
    return StudyPoint(
        **stamp.on(study),
        place=task.place,
        part=task.turn.part,
        appraiser=task.turn.appraiser,
        trial=task.turn.trial,
        capture=capture.uid,
        value_mm=capture.value_mm,
        u_mm=capture.u_mm,
        words=f"{task.title}. {task.words}",
    )


def taken_back(
    study: KeptStudy, reason: str, stamp: Stamp, place: int | None = None, *, session: int = 1
) -> Note:
    """A value is to be taken again: the note that takes the former back.

    Args:
        study: as the logbook has it.
        reason: why.
        stamp: who says so, and when.
        place: which value; the one taken last without it.
        session: stability only: the place of the first value that may still be taken again.

    Raises:
        StudyError: there is no such value.
    """
    points = {n: each for n, each in study.standing_points.items() if n >= session}
    standing = {each.uid for each in points.values()}
    last = next((each for each in reversed(study.points) if each.uid in standing), None)
    point = last if place is None else points.get(place)
    if point is None:
        raise StudyError("there is no value yet that could be taken again")
    return Note(
        uid=new_uid(),
        at=stamp.at,
        operator=stamp.operator,
        purpose="withdrawal",
        about=point.uid,
        text=f"to be taken again: {reason}",
    )


def ended(
    study: KeptStudy, how: Literal["complete", "broken off"], reason: str, stamp: Stamp
) -> StudyEnded:
    """The study is over."""
    return StudyEnded(**stamp.on(study), how=how, reason=reason)

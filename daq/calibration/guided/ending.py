"""How a calibration ends: with a certificate's number and the next due date, or broken off."""

import re
from collections.abc import Callable, Collection
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from daq.calibration.checks import Refusal
from daq.calibration.due import Calibrated, Proposal
from daq.calibration.errors import CalibrationError
from daq.calibration.fields import brief_mm
from daq.calibration.guided.standing import Standing
from daq.calibration.guided.working_out import Stamp
from daq.logbook.calibration import CalibrationEnded

_DIGITS = 4
"""Digits of the calibration's own id in a certificate number, more where that is taken already."""

_GOOD = ("pass", "conditional pass")


@dataclass(frozen=True, slots=True, kw_only=True)
class Ending:
    """What a person says at the end; ``proposed`` has it filled in as far as it can be.

    ``authorised_by`` is who answers for the certificate, as typed by that person; empty if nobody
    does, and never filled in by the program. ``from_mm`` and ``to_mm`` bound the range that the
    gauge may be used in, None for all of it. ``due_words`` say what the day rests on.
    """

    certificate: str
    due: date | None = None
    due_words: str = ""
    authorised_by: str = ""
    from_mm: Decimal | None = None
    to_mm: Decimal | None = None
    remarks: str = ""


def certificate_number(stands: Standing, taken: Collection[str]) -> str:
    """A number for the certificate: the gauge's label, the day, the last digits of the record's id.

    Args:
        stands: where the calibration stands.
        taken: the numbers that the logbook has already.
    """
    label = re.sub(r"[^A-Za-z0-9]+", "-", stands.begun.gauge_label).strip("-") or "gauge"
    own = stands.begun.uid.replace("-", "")
    used = {each.casefold() for each in taken}
    for digits in range(_DIGITS, len(own) + 1):
        number = f"{label}-{stands.on:%Y%m%d}-{own[-digits:]}"
        if number.casefold() not in used:
            return number
    more = 2  # the same calibration has had a certificate already that was taken back
    while f"{label}-{stands.on:%Y%m%d}-{own[-_DIGITS:]}-{more}".casefold() in used:
        more += 1
    return f"{label}-{stands.on:%Y%m%d}-{own[-_DIGITS:]}-{more}"


def calibrated_as(stands: Standing, ending: Ending) -> Calibrated:
    """The calibration as the gauge's history will have it, to see when it would be due next.

    Raises:
        CalibrationError: it is not complete.
    """
    left = stands.left
    if left is None:
        raise CalibrationError(_not_complete(stands))
    found = stands.as_found.result
    return Calibrated(
        on=stands.on,
        certificate=ending.certificate,
        as_found=found.word if found is not None else None,
        as_left=left.word,
        from_mm=ending.from_mm,
        to_mm=ending.to_mm,
        due=ending.due,
    )


def proposed(
    stands: Standing, taken: Collection[str], next_due: Callable[[Calibrated], Proposal]
) -> Ending:
    """What is proposed at the end: a number, and the day by the gauge's policy.

    Args:
        stands: where the calibration stands.
        taken: as for ``certificate_number``.
        next_due: when the gauge is due next as if it had been calibrated so; by
            ``daq.calibration.due.next_due`` or from the whole fleet. Not asked where it did not
            pass: such a gauge may not be used, and no day makes that good.

    Raises:
        CalibrationError: it is not complete.
    """
    bare = Ending(certificate=certificate_number(stands, taken))
    calibrated = calibrated_as(stands, bare)
    if calibrated.as_left not in _GOOD:
        words = f"No day is set: as left it is {calibrated.as_left}."
        return Ending(certificate=bare.certificate, due_words=words)
    proposal = next_due(calibrated)
    return Ending(certificate=bare.certificate, due=proposal.due, due_words=proposal.words)


def completed(
    stands: Standing, ending: Ending, taken: Collection[str], stamp: Stamp
) -> CalibrationEnded | Refusal:
    """The calibration is complete.

    Args:
        stands: where it stands.
        ending: what was said.
        taken: as for ``certificate_number``.
        stamp: who ends it, and when.

    Returns:
        The record; or why what was typed cannot be: a number that the logbook has already, a day
        that is past, a range that is none.

    Raises:
        CalibrationError: something is still to be done.
    """
    left, found = stands.left, stands.as_found.result
    if left is None or stands.ended is not None:
        raise CalibrationError(_not_complete(stands))
    if why := _why_not(stands, ending, taken):
        return Refusal("answer", why)
    return CalibrationEnded(
        **stamp.on(stands),
        how="complete",
        reason="",
        certificate=ending.certificate.strip(),
        as_found=found.word if found is not None else None,
        as_left=left.word,
        from_mm=ending.from_mm,
        to_mm=ending.to_mm,
        due=ending.due,
        due_words=ending.due_words,
        authorised_by=ending.authorised_by.strip(),
        remarks=ending.remarks,
    )


def broken_off(stands: Standing, reason: str, stamp: Stamp) -> CalibrationEnded:
    """The calibration is over without a certificate; how the gauge was found stays on record.

    Raises:
        CalibrationError: there is no reason, or it has ended already.
    """
    if stands.ended is not None:
        raise CalibrationError("The calibration has ended already.")
    if not reason.strip():
        raise CalibrationError("A calibration that is broken off needs a reason. Say why.")
    found = stands.as_found.result
    return CalibrationEnded(
        **stamp.on(stands),
        how="broken off",
        reason=reason.strip(),
        certificate="",
        as_found=found.word if found is not None else None,
        as_left=None,
        from_mm=None,
        to_mm=None,
        due=None,
        due_words="",
        authorised_by="",
        remarks="",
    )


def _not_complete(stands: Standing) -> str:
    if stands.ended is not None:
        return "The calibration has ended already."
    label, run = stands.begun.gauge_label, stands.current
    if run.result is None:
        return f"The calibration of {label} lacks {run.missing_words}. Go on with it first."
    return f"Nobody has said yet whether {label} was adjusted. Say so first."


def _why_not(stands: Standing, ending: Ending, taken: Collection[str]) -> str:
    number = ending.certificate.strip()
    if not number:
        return "A certificate needs a number. Type one, or take the one that is proposed."
    if number.casefold() in {each.casefold() for each in taken}:
        return f"There is a certificate {number} already. Type another number."
    if ending.due is not None and ending.due <= stands.on:
        return f"It was calibrated on {stands.on} and cannot be due on {ending.due}. Check the day."
    range_mm = stands.gauge.range_mm
    from_mm = ending.from_mm if ending.from_mm is not None else Decimal(0)
    to_mm = ending.to_mm if ending.to_mm is not None else range_mm
    if not 0 <= from_mm < to_mm <= range_mm:
        return (
            f"From {brief_mm(from_mm)} to {brief_mm(to_mm)} is no piece of a range of "
            f"{brief_mm(range_mm)}. Check both ends."
        )
    return ""

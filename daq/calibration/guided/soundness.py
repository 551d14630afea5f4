"""What no calibration may have in its records, told before anything rests on them."""

from collections.abc import Iterator

from pydantic import ValidationError

from daq.calibration.errors import CalibrationError
from daq.calibration.fields import brief_mm
from daq.calibration.forms import GaugeIdentity
from daq.calibration.kept import KeptCalibration
from daq.logbook.calibration import (
    CalibrationBegun,
    CalibrationEnded,
    CalibrationGate,
    CalibrationPoint,
    CalibrationRecord,
    CalibrationResult,
)


def sound_gauge(kept: KeptCalibration) -> GaugeIdentity:
    """The gauge as it was entered, after gauge, standard and flat were read.

    Raises:
        CalibrationError: one of the entries could not have been entered so.
    """
    try:
        _ = kept.reference
        return kept.identity
    except ValidationError as error:
        told = "; ".join(each["msg"].removeprefix("Value error, ") for each in error.errors())
        raise CalibrationError(
            f"{_calibration(kept)} names an entry of the register that is not sound: {told}. "
            "Enter it again, and begin another."
        ) from error


def refuse_unsound(kept: KeptCalibration) -> None:
    """Raise if the records contradict each other.

    Raises:
        CalibrationError: with everything that is wrong, and what to do.
    """
    for note in kept.withdrawn:
        if note.about == kept.begun.uid:
            raise CalibrationError(
                f"{_calibration(kept)} was taken back: {note.text}. Begin another."
            )
    problems = [*_of_points(kept), *_of_order(kept)]
    if problems:
        raise CalibrationError(
            *(f"{_calibration(kept)}: {each}." for each in problems),
            "Its records cannot be trusted. Verify the logbook, and begin another calibration.",
        )


def _calibration(kept: KeptCalibration) -> str:
    return f"The calibration of {kept.begun.gauge_label} of {kept.begun.at:%Y-%m-%d}"


def _of_points(kept: KeptCalibration) -> Iterator[str]:
    for record in kept.records:
        if isinstance(record, CalibrationBegun) or record.calibration != kept.begun.uid:
            yield f"the record {record.uid} is of another calibration"
        if isinstance(record, CalibrationGate):
            if record.gate == "conditions" and record.temperature_c is None:
                yield "its conditions were confirmed without a temperature"
        elif isinstance(record, CalibrationPoint):
            capture = kept.captures.get(record.capture)
            at = f"the point at {brief_mm(record.nominal_mm)} ({record.series} {record.run})"
            if capture is None:
                yield f"{at} names a capture that does not stand before it"
            elif (capture.value_mm, capture.u_mm) != (record.reading_mm, record.u_reading_mm):
                yield (
                    f"{at} says {brief_mm(record.reading_mm)} (u = "
                    f"{brief_mm(record.u_reading_mm)}), and its capture "
                    f"{brief_mm(capture.value_mm)} (u = {brief_mm(capture.u_mm)})"
                )


def _of_order(kept: KeptCalibration) -> Iterator[str]:
    """As found comes before anything was adjusted, as left after; nothing comes after the end."""
    gone = {note.about for note in kept.withdrawn}
    found = was_adjusted = is_adjusted = ended = False
    for record in kept.records:
        if ended:
            yield "it goes on after its end"
            return
        if isinstance(record, CalibrationBegun):
            continue
        if _adjusts(record):
            if not found:
                yield "the gauge was adjusted before it was known how it was found"
            was_adjusted = True
            is_adjusted = is_adjusted or record.uid not in gone
        elif isinstance(record, CalibrationEnded):
            ended = record.uid not in gone
        elif record.run == "as left" and not was_adjusted:
            yield "there are records as left, and nobody has said that the gauge was adjusted"
            return
        elif record.run == "as found" and is_adjusted:
            yield "there are records as found from after the gauge was adjusted"
            return
        elif isinstance(record, CalibrationResult):
            found = True


def _adjusts(record: CalibrationRecord) -> bool:
    return isinstance(record, CalibrationGate) and record.gate == "adjusted"

"""Records of an invented register, as a logbook keeps them."""

from datetime import UTC, datetime, time

from daq.calibration.entered import gauge_record, standard_record
from daq.logbook import Note, new_uid
from daq.logbook.calibration import CalibrationBegun, CalibrationEnded
from daq.logbook.register import StatusChanged
from tests.daq.calibration.invented import PLAN, gauge, standard

WHO = "M. Ostby"


def noon(day):
    return datetime.combine(day, time(12), UTC)


def gauge_entry(day, **changes):
    return gauge_record(gauge(**changes), WHO, noon(day), "lab.toml")


def standard_entry(day, **changes):
    return standard_record(standard(**changes), WHO, noon(day), "lab.toml")


def change(day, name, what, about="gauge"):
    return StatusChanged(
        uid=new_uid(), at=noon(day), operator=WHO, about=about, name=name, what=what,
        reason="dropped" if what == "withdrawn" else "looked at", by="B. Lunde",
    )  # fmt: skip


def take_back(day, record):
    return Note(
        uid=new_uid(), at=noon(day), operator=WHO, purpose="withdrawal", about=record.uid,
        text="a slip",
    )  # fmt: skip


def begun(day, entry, reference="00000000-0000-4000-8000-000000000000"):
    return CalibrationBegun(
        uid=new_uid(), at=noon(day), station="lab 1", operator=WHO, gauge=entry.uid,
        gauge_label=entry.label, identity=entry.identity, standard=reference, flat=None,
        plan_name="p.toml", plan_sha256="0" * 64, plan_toml=PLAN, rule="simple",
        largest_expanded_mm=None, level="0.95", place="", customer="", order="",
    )  # fmt: skip


def calibration(day, entry, found="pass", left="pass", **more):
    """The first record and the last of a calibration that was completed on one day."""
    first = begun(day, entry)
    facts = {
        "how": "complete", "reason": "", "certificate": f"C-{entry.label}-{day:%y%m%d}",
        "as_found": found, "as_left": left, "from_mm": None, "to_mm": None, "due": None,
        "due_words": "", "authorised_by": "", "remarks": "",
    }  # fmt: skip
    ended = CalibrationEnded(
        uid=new_uid(), at=noon(day), operator=WHO, calibration=first.uid, **facts | more
    )
    return first, ended

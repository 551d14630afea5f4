"""What the register comes to, as lines and as facts."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING, Any, Literal

from daq.calibration.due import Calibrated, ReturnedToUse, Withdrawn
from daq.calibration.errors import CalibrationError, RegisterError
from daq.logbook.fields import new_uid
from daq.logbook.register import StatusChanged

if TYPE_CHECKING:
    from daq.calibration.fleet import Fleet

_URGENCY = (
    "withdrawn", "overdue", "never calibrated", "not yet valid", "due", "limited range", "in date",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Shown:
    """How one gauge or standard stands, to be printed."""

    about: Literal["gauge", "standard"]
    name: str
    standing: str
    words: str
    is_usable: bool
    due: date | None
    certificate: str = ""
    remarks: tuple[str, ...] = ()

    @property
    def facts(self) -> dict[str, Any]:
        """As JSON has it."""
        return {
            "about": self.about,
            "name": self.name,
            "standing": self.standing,
            "usable": self.is_usable,
            "due": self.due.isoformat() if self.due else None,
            "certificate": self.certificate,
            "words": self.words,
            "remarks": list(self.remarks),
        }

    @property
    def place(self) -> tuple[int, date, str]:
        """Where it comes: the most urgent first, then by date, then by name."""
        return _URGENCY.index(self.standing), self.due or date.max, self.name


def shown(fleet: "Fleet", on: date, names: Sequence[str], within: int | None) -> list[Shown]:
    """Gauges and standards, the most urgent first.

    Args:
        fleet: the register.
        on: the day.
        names: which; all if none is named.
        within: only those that are due in so many days, or may not be used; None for all.

    Raises:
        RegisterError: a name that is neither a gauge's nor a standard's.
    """
    there = {*fleet.gauges, *fleet.standards}
    if unknown := [name for name in names if name not in there]:
        known = ", ".join(sorted(there)) or "none"
        raise RegisterError(
            *(f"There is no gauge or standard {n!r}; known: {known}." for n in unknown)
        )
    found = [*(_gauge(fleet, each, on) for each in fleet.gauges)]
    found += [_standard(fleet, each, on) for each in fleet.standards]
    wanted = [each for each in found if not names or each.name in names]
    if within is not None:
        last = on + timedelta(days=within)
        wanted = [each for each in wanted if not each.is_usable or (each.due or last) <= last]
    return sorted(wanted, key=lambda each: each.place)


def _gauge(fleet: "Fleet", label: str, on: date) -> Shown:
    status = fleet.status(label, on)
    return Shown(
        "gauge",
        label,
        status.standing,
        status.words,
        status.is_usable,
        status.due,
        status.rests_on.certificate if status.rests_on is not None else "",
        fleet.remarks.get(label, ()),
    )


def _standard(fleet: "Fleet", id: str, on: date) -> Shown:
    status = fleet.standard_status(id, on)
    return Shown(
        "standard",
        id,
        status.standing,
        status.words,
        status.is_usable,
        status.due,
        fleet.standards[id].certificate,
    )


def lines_of(found: Sequence[Shown]) -> Iterator[str]:
    """A line each, in columns, and under it what somebody should see to."""
    if not found:
        yield "Nothing to show."
        return
    wide = max(len(each.name) for each in found)
    for each in found:
        due = each.due.isoformat() if each.due else "-"
        yield f"{each.name:<{wide}}  {each.about:<8}  {each.standing:<16}  {due:<10}  {each.words}"
        yield from (f"{'':{wide}}  ! {remark}" for remark in each.remarks)


def history_lines(fleet: "Fleet", label: str, on: date) -> Iterator[tuple[dict[str, Any], str]]:
    """What befell a gauge, oldest first, then how it stands and when it is due: facts and line.

    Nothing dated later than the day is told.

    Raises:
        RegisterError: it was never entered.
    """
    fleet.entry(label)
    for each in sorted(fleet.history(label), key=lambda each: each.on):
        if each.on > on:
            break
        day = each.on.isoformat()
        match each:
            case Calibrated():
                found = each.as_found or "not measured"
                facts = {"on": day, "certificate": each.certificate, "as_found": each.as_found}
                yield (
                    {**facts, "as_left": each.as_left},
                    f"{day}  {each.certificate}: as found {found}, as left {each.as_left}",
                )
            case Withdrawn():
                yield (
                    {"on": day, "withdrawn": each.reason, "by": each.by},
                    f"{day}  withdrawn by {each.by}: {each.reason}",
                )
            case ReturnedToUse():
                yield (
                    {"on": day, "returned": each.reason, "by": each.by},
                    f"{day}  returned to use by {each.by}: {each.reason}",
                )
    status = fleet.status(label, on)
    facts = {"on": on.isoformat(), "standing": status.standing, "words": status.words}
    yield {**facts, "usable": status.is_usable}, f"{on}  {status.words}"
    for remark in fleet.remarks.get(label, ()):
        yield {"remark": remark}, f"{'':10}  ! {remark}"
    try:
        proposal = fleet.next_due(label, on)
    except CalibrationError:
        return  # never calibrated, and that was said
    yield (
        {"due": proposal.due.isoformat(), "months": proposal.months, "rests_on": proposal.words},
        f"{'':10}  next on {proposal.due}: {proposal.words}",
    )


def change_of(
    fleet: "Fleet",
    named: tuple[Literal["gauge", "standard"] | None, str],
    what: Literal["withdrawn", "returned to use"],
    reason: str,
    who: tuple[str, str | None],
    at: datetime,
) -> StatusChanged:
    """The record that takes something out of use or returns it.

    Args:
        fleet: the register.
        named: whether a gauge or a standard is meant, None where the name says it; and the name.
        what: what is done.
        reason: why.
        who: the operator, and who answers for it; None for the operator.
        at: when (aware).

    Raises:
        RegisterError: there is nothing of this name, or two things are; or it stands like that
            already.
    """
    about, name = named[0] or _about(fleet, named[1]), named[1]
    if name not in (fleet.gauges if about == "gauge" else fleet.standards):
        raise RegisterError(f"There is no {about} {name!r}.")
    before = fleet.changes.get((about, name), [])
    if what == (before[-1].what if before else "returned to use"):
        already = "is withdrawn already" if what == "withdrawn" else "was not withdrawn by anybody"
        raise RegisterError(f"{name} {already}; nothing was written.")
    return StatusChanged(
        uid=new_uid(),
        at=at,
        operator=who[0],
        about=about,
        name=name,
        what=what,
        reason=reason,
        by=who[1] or who[0],
    )


def _about(fleet: "Fleet", name: str) -> Literal["gauge", "standard"]:
    is_gauge, is_standard = name in fleet.gauges, name in fleet.standards
    if is_gauge and is_standard:
        raise RegisterError(
            f"{name} is a gauge and a standard too. Say which: --about gauge or --about standard."
        )
    if not is_gauge and not is_standard:
        known = ", ".join(sorted({*fleet.gauges, *fleet.standards})) or "none"
        raise RegisterError(f"There is no gauge or standard {name!r}; known: {known}.")
    return "gauge" if is_gauge else "standard"

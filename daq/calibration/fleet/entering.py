"""What a register file would change in a logbook, before anything is written."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from daq.calibration.entered import gauge_of, gauge_record, standard_of, standard_record
from daq.calibration.errors import RegisterError
from daq.calibration.fleet.fleet import Fleet, is_same_adapter
from daq.calibration.forms import GaugeIdentity, ReferenceStandard
from daq.calibration.register_file import Register
from daq.logbook.register import GaugeEntered, StandardEntered


@dataclass(frozen=True, slots=True)
class Entering:
    """One standard or gauge of a file, and the record that would enter it; None if unchanged.

    ``changed`` are the fields that differ from the entry before, by name.
    """

    about: Literal["standard", "gauge"]
    name: str
    what: Literal["new", "changed", "unchanged"]
    record: StandardEntered | GaugeEntered | None
    changed: tuple[str, ...] = ()

    def __str__(self) -> str:
        fields = f": {', '.join(self.changed)}" if self.changed else ""
        return f"{self.about} {self.name}: {self.what}{fields}"


def entering(fleet: Fleet, register: Register, operator: str, at: datetime) -> list[Entering]:
    """What entering a register comes to, in the order of the file.

    Args:
        fleet: what the logbook has.
        register: the file, sound.
        operator: who enters it.
        at: when.

    Raises:
        RegisterError: an adapter would serve two gauges; all such.
    """
    if problems := list(_two_on_one_adapter(fleet, register)):
        raise RegisterError(*problems)
    found: list[Entering] = []
    for standard in register.standards:
        before = fleet.standards.get(standard.id)
        what, changed = _change(standard, standard_of(before) if before is not None else None)
        record = standard_record(standard, operator, at, register.name)
        kept = record if what != "unchanged" else None
        found.append(Entering("standard", standard.id, what, kept, changed))
    for gauge in register.gauges:
        entry = fleet.gauges.get(gauge.label)
        what, changed = _change(gauge, gauge_of(entry) if entry is not None else None)
        entered = gauge_record(gauge, operator, at, register.name)
        new = entered if what != "unchanged" else None
        found.append(Entering("gauge", gauge.label, what, new, changed))
    return found


def _change(
    now: ReferenceStandard | GaugeIdentity, before: ReferenceStandard | GaugeIdentity | None
) -> tuple[Literal["new", "changed", "unchanged"], tuple[str, ...]]:
    if before is None:
        return "new", ()
    fields = type(now).model_fields
    names = {name: field.alias or name for name, field in fields.items()}
    changed = [names[name] for name in fields if getattr(now, name) != getattr(before, name)]
    return ("changed" if changed else "unchanged"), tuple(changed)


def _two_on_one_adapter(fleet: Fleet, register: Register) -> Iterator[str]:
    """An adapter that serves another gauge in the logbook, unless the file moves that one too."""
    in_file = {each.label: each.identity for each in register.gauges}
    for label, entry in fleet.gauges.items():
        identity = in_file.get(label, entry.identity)
        if not identity:
            continue
        for each in register.gauges:
            same = is_same_adapter(each.identity or "", identity)
            if same and each.label != label:
                yield (
                    f"{register.name}: gauge {each.label}: its adapter {identity} serves {label} "
                    f"in the logbook. An adapter serves one gauge: enter {label} with another "
                    "identity, or without one."
                )

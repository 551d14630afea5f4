"""What the sheet of a job asks of its gauges, read from the sheet as the job's record keeps it."""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from daq.audit.export.rows import nm
from daq.audit.layout import KINDS_OF_GAUGE, NULL
from daq.logbook.job import JobBegun
from daq.spec import SpecError, length_mm
from drivers.toml_form import toml_tables

Asked = dict[str, int | str]
"""``asked_kind``, ``asked_step_nm`` and ``asked_range_nm`` of a capture; missing if not known."""

NOTHING: Asked = {"asked_kind": "", "asked_step_nm": NULL, "asked_range_nm": NULL}


@dataclass(frozen=True, slots=True)
class SheetAsks:
    """What a sheet asks of a gauge, by the role, and which role each step has."""

    by_role: Mapping[str, Asked] = field(default_factory=dict)
    role_of: Mapping[str, str] = field(default_factory=dict)

    def of(self, step: str, role: str) -> Asked:
        """What is asked at a step; of one that the sheet does not name, by the gauge's role."""
        return self.by_role.get(self.role_of.get(step, role), NOTHING)


def asked_by(job: JobBegun) -> SheetAsks:
    """What a job's sheet asks; nothing if the sheet in the record cannot be read."""
    try:
        sheet = toml_tables(job.sheet_toml)
    except tomllib.TOMLDecodeError:
        return SheetAsks()
    gauges, steps = _tables(sheet, "gauges"), _tables(sheet, "steps")
    return SheetAsks(
        {str(each.get("role")): _asked(each) for each in gauges},
        {str(each.get("name")): str(each["gauge"]) for each in steps if "gauge" in each},
    )


def _tables(sheet: Mapping[str, Any], name: str) -> list[dict[str, Any]]:
    found = sheet.get(name)
    return [each for each in found if isinstance(each, dict)] if isinstance(found, list) else []


def _asked(gauge: Mapping[str, Any]) -> Asked:
    kind = gauge.get("kind")
    return {
        "asked_kind": kind if isinstance(kind, str) and kind in KINDS_OF_GAUGE else "",
        "asked_step_nm": _length(gauge.get("resolution")),
        "asked_range_nm": _length(gauge.get("range")),
    }


def _length(given: Any) -> int:
    try:
        return nm(length_mm(given)) if isinstance(given, str) else NULL
    except SpecError:
        return NULL

"""An impact as rows: of CSV, one a capture, with its Table Schema; of JSON, one a period."""

import csv
import io
import json
import math
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from typing import Any, NamedTuple

import numpy as np

from daq.audit.impact.impact import Impact, tallies
from daq.audit.impact.touched import FLIPS, GROUPS, Touched

EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


class Column(NamedTuple):
    """A column of the CSV; ``unit`` is empty for text and counts."""

    name: str
    type: str
    description: str
    unit: str = ""


COLUMNS = (
    Column("gauge", "string", "the gauge, by the name in the log"),
    Column("calibration", "string", "the calibration that says the gauge was out of limits"),
    Column("group", "string", "what becomes of the capture: " + ", ".join(GROUPS)),
    Column("seq", "integer", "number of the capture in the log"),
    Column("at_utc", "datetime", "when it was taken, ISO 8601, UTC"),
    Column("job", "string", "the job it belongs to; empty if none"),
    Column("feature", "string", "what was measured"),
    Column("document", "string", "where its limits come from"),
    Column("operator", "string", "who took it"),
    Column("value_mm", "number", "the value as kept", "mm"),
    Column("lower_mm", "number", "lower limit, as a length; empty if none", "mm"),
    Column("upper_mm", "number", "upper limit, as a length; empty if none", "mm"),
    Column("error_mm", "number", "what the gauge erred by there", "mm"),
    Column("corrected_mm", "number", "the value less the error", "mm"),
    Column("u_mm", "number", "standard uncertainty of the value", "mm"),
    Column("corrected_u_mm", "number", "standard uncertainty of the corrected value", "mm"),
    Column("within_before", "boolean", "whether the value is within its limits"),
    Column("within_after", "boolean", "whether the corrected value is"),
    Column("p_before", "number", "probability that the true value is within, by the value"),
    Column("p_after", "number", "probability that the true value is within, by the corrected one"),
    Column("outside", "boolean", "whether the value lies beyond the calibrated lengths"),
)
"""The columns in order. New ones are added at the end."""


def table_schema_of() -> dict[str, Any]:
    """The Table Schema of the CSV: a JSON object that says what each column is."""
    fields = []
    for column in COLUMNS:
        said = {"name": column.name, "type": column.type, "description": column.description}
        if column.type == "datetime":
            said["format"] = "%Y-%m-%dT%H:%M:%S.%fZ"
        if column.unit:
            said["unit"] = column.unit
        fields.append(said)
    return {"fields": fields, "missingValues": [""]}


def schema_text() -> str:
    """The Table Schema as the text of a file."""
    return json.dumps(table_schema_of(), indent=2, ensure_ascii=False) + "\n"


def csv_of(impact: Impact) -> str:
    """Every capture that was touched, the header first; lines end in CR LF."""
    out = io.StringIO()
    writer = csv.writer(out)  # the default dialect writes what RFC 4180 says
    writer.writerow([column.name for column in COLUMNS])
    for each in impact.touched:
        for row in capture_rows(each, range(each.captures.seq.size)):
            writer.writerow([_cell(row[column.name]) for column in COLUMNS])
    return out.getvalue()


def capture_rows(each: Touched, which: Any) -> Iterator[dict[str, Any]]:
    """Captures of a period by the names of ``COLUMNS``; None where there is no figure.

    Args:
        each: the period.
        which: their places in it, in order.
    """
    taken = each.captures
    for i in which:
        is_judged = each.group[i] < GROUPS.index("not judged")
        is_corrected = each.group[i] != GROUPS.index("not corrected")
        yield {
            "gauge": each.period.gauge,
            "calibration": each.period.run.run,
            "group": GROUPS[each.group[i]],
            "seq": int(taken.seq[i]),
            "at_utc": utc(int(taken.at_us[i])),
            "job": taken.job[i],
            "feature": taken.feature[i],
            "document": taken.document[i],
            "operator": taken.operator[i],
            "value_mm": figure(taken.value_mm[i]),
            "lower_mm": figure(taken.lower_mm[i]),
            "upper_mm": figure(taken.upper_mm[i]),
            "error_mm": figure(each.error_mm[i]),
            "corrected_mm": figure(each.corrected_mm[i]),
            "u_mm": figure(taken.u_mm[i]),
            "corrected_u_mm": figure(each.corrected_u_mm[i]),
            "within_before": bool(each.within_before[i]) if is_judged else None,
            "within_after": bool(each.within_after[i]) if is_judged else None,
            "p_before": figure(each.p_before[i]) if is_judged else None,
            "p_after": figure(each.p_after[i]) if is_judged else None,
            "outside": bool(each.outside[i]) if is_corrected else None,
        }


def period_facts(each: Touched) -> dict[str, Any]:
    """A period as JSON has it: when, by which calibration, how many captures, which flip."""
    period = each.period
    return {
        "gauge": period.gauge,
        "calibration": period.run.run,
        "what": f"{period.what} out of limits",
        "calibrated_utc": utc(period.run.first_us),
        "calibration_before": period.before.run if period.before is not None else None,
        "after_utc": None if period.after_us is None else utc(period.after_us),
        "until_utc": None if period.until_us is None else utc(period.until_us),
        "worst_error_mm": None if period.curve is None else period.curve.worst_mm,
        "why_not_corrected": period.why_not or None,
        "captures": int(each.group.size),
        **{_key(name): each.count(i) for i, name in enumerate(GROUPS)},
        "outside": int(each.outside.sum()),
        "jobs": [
            {
                "job": tally.job,
                "feature": tally.feature,
                "document": tally.document,
                **{_key(name): count for name, count in zip(GROUPS, tally.counts, strict=True)},
            }
            for tally in tallies(each)
        ],
        "flipping": list(capture_rows(each, np.flatnonzero(each.group == FLIPS).tolist())),
    }


def _key(group: str) -> str:
    return group.replace(" ", "_")


def utc(at_us: int) -> str:
    """A time as ISO 8601, such as 2026-05-29T08:15:00.000000Z."""
    return (EPOCH + timedelta(microseconds=at_us)).strftime("%Y-%m-%dT%H:%M:%S.%fZ")


def figure(value: float) -> float | None:
    """A figure as JSON can have it; None where there is none."""
    return float(value) if math.isfinite(value) else None


def _cell(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    # Every digit of a float that is needed to read the same one again, and never an exponent.
    if isinstance(value, float):
        return np.format_float_positional(value, trim="-")
    return str(value)

"""The figures of a certificate as CSV, and a Table Schema that says what each column is.

CSV after RFC 4180: UTF-8, a decimal point whatever the locale, times in UTC after ISO 8601, every
figure as recorded. One row a number: a point, a characteristic, a row of the correction table. What
a row does not have is left empty.
"""

import csv
import io
import json
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import get_args

from daq.logbook.calibration import CalibrationWord
from daq.logbook.fields import time_text
from daq.report.certificate.lines import (
    CharacteristicLine,
    CorrectionRow,
    PointLine,
    RunReport,
)
from daq.report.certificate.model import CertificateModel
from daq.report.certificate.runs import CORRECTION_K
from daq.report.csv import cell

Row = dict[str, object]


@dataclass(frozen=True, slots=True)
class Column:
    """A column: its name, Table Schema type, meaning, unit and constraints."""

    name: str
    type: str
    description: str
    unit: str = ""
    constraints: dict[str, object] = field(default_factory=dict)


_NEEDED: dict[str, object] = {"required": True}
_U: dict[str, object] = {"minimum": 0}

COLUMNS: tuple[Column, ...] = (
    Column("row", "integer", "number of the row", "", {**_NEEDED, "unique": True, "minimum": 1}),
    Column(
        "document",
        "string",
        "whether it is a certificate; figures of a draft or void document are none of one",
        "",
        {**_NEEDED, "enum": ["issued", "draft", "void"]},
    ),
    Column("certificate", "string", "number of the certificate; empty if it is none"),
    Column("calibration_uid", "string", "uid of the calibration's first record", "", _NEEDED),
    Column("gauge_label", "string", "the gauge's label", "", _NEEDED),
    Column("gauge_identity", "string", "identity of its adapter; empty if it has none"),
    Column(
        "run",
        "string",
        "before or after the gauge was adjusted",
        "",
        {**_NEEDED, "enum": ["as found", "as left"]},
    ),
    Column(
        "kind",
        "string",
        "what the row is",
        "",
        {**_NEEDED, "enum": ["point", "characteristic", "correction"]},
    ),
    Column("name", "string", "what the value is", "", _NEEDED),
    Column("place", "integer", "of a point: which of the plan's readings", "", {"minimum": 1}),
    Column("series", "string", "of a point", "", {"enum": ["up", "down", "repeat"]}),
    Column("direction", "string", "from which side it was reached", "", {"enum": ["up", "down"]}),
    Column("nominal_mm", "number", "nominal travel from the zero", "mm"),
    Column("reference_mm", "number", "travel by the standard's certificate, at 20 °C", "mm"),
    Column("reading_mm", "number", "what the gauge showed", "mm"),
    Column("value_mm", "number", "the error, the characteristic or the correction", "mm", _NEEDED),
    Column("u_mm", "number", "combined standard uncertainty of value_mm, k = 1", "mm",
           {**_NEEDED, **_U}),
    Column("dof", "number", "effective degrees of freedom; empty for infinitely many", "", _U),
    Column("k", "number", "coverage factor of expanded_u_mm", "", {**_NEEDED, "minimum": 1}),
    Column("expanded_u_mm", "number", "expanded uncertainty of value_mm", "mm", {**_NEEDED, **_U}),
    Column("limit_mm", "number", "largest permissible error", "mm", _U),
    Column("guard_mm", "number", "guard band of the decision", "mm", _U),
    Column(
        "word",
        "string",
        "by the decision rule; empty where there is no limit",
        "",
        {"enum": list(get_args(CalibrationWord))},
    ),
    Column(
        "p_conform",
        "number",
        "probability that the true value is within the limit",
        "",
        {"minimum": 0, "maximum": 1},
    ),
    Column("rule", "string", "decision rule of word"),
    Column("between_ways_mm", "number", "of a correction: how far the two ways differ", "mm", _U),
    Column("temperature_c", "number", "of gauge and standard", "°C"),
    Column("insisted", "string", "why a point was taken although it looked like a mistake"),
    Column("operator", "string", "who was at it"),
    Column("at_utc", "datetime", "when, ISO 8601, UTC"),
    Column("record", "integer", "number of the record in the logbook", "", {"minimum": 1}),
    Column("capture", "integer", "number of the capture in the logbook", "", {"minimum": 1}),
)  # fmt: skip
"""The columns in order. New ones are added at the end."""


def table_schema_of() -> dict[str, object]:
    """The Table Schema of the CSV: a JSON object that says what each column is."""
    fields: list[dict[str, object]] = []
    for column in COLUMNS:
        said: dict[str, object] = {
            "name": column.name,
            "type": column.type,
            "description": column.description,
        }
        if column.type == "datetime":
            said["format"] = "%Y-%m-%dT%H:%M:%S.%fZ"
        if column.unit:
            said["unit"] = column.unit
        if column.constraints:
            said["constraints"] = column.constraints
        fields.append(said)
    return {"fields": fields, "missingValues": [""], "primaryKey": ["row"]}


def schema_text() -> str:
    """The Table Schema as the text of a file."""
    return json.dumps(table_schema_of(), indent=2, ensure_ascii=False) + "\n"


def csv_of(model: CertificateModel) -> str:
    """The figures as CSV, the header first; lines end in CR LF."""
    out = io.StringIO()
    writer = csv.writer(out)  # the default dialect writes what RFC 4180 says
    writer.writerow([column.name for column in COLUMNS])
    same: Row = {
        "document": model.state,
        "certificate": model.number or None,
        "calibration_uid": model.calibration,
        "gauge_label": model.gauge.label,
        "gauge_identity": model.gauge.identity or None,
    }
    for number, row in enumerate(_rows(model), 1):
        said = {**same, **row, "row": number}
        writer.writerow([cell(column.type, said.get(column.name)) for column in COLUMNS])
    return out.getvalue()


def _rows(model: CertificateModel) -> Iterator[Row]:
    for run in model.runs:
        same: Row = {"run": run.run}
        for point in run.points:
            yield same | _of_point(point)
        for each in run.characteristics:
            yield same | _of_characteristic(each, run, model.decision.rule)
        for row in run.correction:
            yield same | _of_correction(row, run)


def _of_point(point: PointLine) -> Row:
    error = point.error
    return {
        "kind": "point",
        "name": "error",
        "place": point.place,
        "series": point.series,
        "direction": point.direction,
        "nominal_mm": point.nominal.exact,
        "reference_mm": point.reference.exact,
        "reading_mm": point.reading.exact,
        "value_mm": error.value.exact,
        "u_mm": error.u_mm,
        "dof": error.dof,
        "k": error.k,
        "expanded_u_mm": error.expanded.exact,
        "temperature_c": point.temperature_c,
        "insisted": point.insisted or None,
        "operator": point.operator or None,
        "at_utc": None if point.at is None else time_text(point.at),
        "record": point.record,
        "capture": point.capture,
    }


def _of_characteristic(each: CharacteristicLine, run: RunReport, rule: str) -> Row:
    result = each.result
    return {
        "kind": "characteristic",
        "name": each.what,
        "value_mm": result.value.exact,
        "u_mm": result.u_mm,
        "dof": result.dof,
        "k": result.k,
        "expanded_u_mm": result.expanded.exact,
        "limit_mm": None if each.limit is None else each.limit.exact,
        "guard_mm": None if each.guard is None else each.guard.exact,
        "word": each.word,
        "p_conform": each.p_conform,
        "rule": rule if each.word else None,
        **_by(run),
    }


def _of_correction(row: CorrectionRow, run: RunReport) -> Row:
    return {
        "kind": "correction",
        "name": "correction",
        "nominal_mm": row.nominal.exact,
        "reading_mm": row.reading.exact,
        "value_mm": row.correction.exact,
        "u_mm": row.u_mm,
        "k": CORRECTION_K,
        "expanded_u_mm": row.expanded.exact,
        "between_ways_mm": row.between_ways.exact,
        **_by(run),
    }


def _by(run: RunReport) -> Row:
    return {"operator": run.operator, "at_utc": time_text(run.at), "record": run.record}

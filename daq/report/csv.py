"""The results of a job as CSV, and a Table Schema that says what each column is.

CSV after RFC 4180: UTF-8, a decimal point whatever the locale, times in UTC after ISO 8601, every
figure as recorded with its unit in a column of its own. One row a number: a result, a part of one,
a limit across, a check on the setting master. What a row does not have is left empty.
"""

import csv
import io
import json
import re
from collections.abc import Iterator
from decimal import Decimal
from typing import NamedTuple

from daq.logbook.fields import decimal_text, time_text
from daq.report.lines import AcrossLine, MasterLine, ResultLine
from daq.report.model import JobReport, StepReport, TargetReport

_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")
_PLAIN_NUMBER = re.compile(r"[+-]?[0-9]+(\.[0-9]+)?")


class Column(NamedTuple):
    """A column: its name, Table Schema type and meaning."""

    name: str
    type: str
    description: str


COLUMNS: tuple[Column, ...] = (
    Column("row", "integer", "number of the row"),
    Column("job_uid", "string", "uid of the job's first record"),
    Column("engine", "string", "which engine"),
    Column("sheet_sha256", "string", "SHA-256 of the job sheet"),
    Column("variant", "string", "variant of the sheet"),
    Column("step", "string", "step of the sheet"),
    Column("target", "string", "what it was done on; empty for the step as a whole"),
    Column("kind", "string", "result, part, across or master"),
    Column("name", "string", "what the number is"),
    Column("of", "string", "of a part or a limit across: which one"),
    Column("phase", "string", "as found, adjusted or as left; of a master check: before or after"),
    Column("counts_as", "string", "found, left, found and left, or newest where nothing is left"),
    Column("target_state", "string", "what the target comes to"),
    Column("value", "number", "the number as recorded, in the unit of the column unit"),
    Column("unit", "string", "unit of value, u, expanded_u and deviation"),
    Column("u", "number", "standard uncertainty, k = 1"),
    Column("expanded_u", "number", "expanded uncertainty, coverage_factor times u"),
    Column("coverage_factor", "number", "k of the expanded uncertainty"),
    Column("nominal_mm", "number", "specified length; of a master check what it was held against"),
    Column("lower_mm", "number", "lower limit of the deviation"),
    Column("upper_mm", "number", "upper limit of the deviation, or the limit across"),
    Column("deviation", "number", "value minus nominal"),
    Column("verdict", "string", "by the decision rule"),
    Column("rule", "string", "decision rule"),
    Column("gauge_label", "string", "the gauge's label"),
    Column("operator", "string", "who was at it"),
    Column("at_utc", "datetime", "when, ISO 8601, UTC"),
    Column("record", "integer", "number of the record in the logbook"),
    Column("captures", "array", "numbers of the captures in the logbook"),
    Column("gauge_standing", "string", "by the register, as last asked before; empty without one"),
    Column("gauge_certificate", "string", "of the gauge's last calibration, as known then"),
)
"""The columns in order. New ones are added at the end."""

Row = dict[str, object]


def table_schema() -> dict[str, object]:
    """The Table Schema of the CSV: a JSON object that says what each column is."""
    return {
        "fields": [column._asdict() for column in COLUMNS],
        "primaryKey": "row",
        "missingValues": [""],
    }


def schema_text() -> str:
    """The Table Schema as the text of a file."""
    return json.dumps(table_schema(), indent=2, ensure_ascii=False) + "\n"


def csv_of(report: JobReport) -> str:
    """The results as CSV, the header first; lines end in CR LF."""
    out = io.StringIO()
    writer = csv.writer(out)  # the default dialect writes what RFC 4180 says
    writer.writerow([column.name for column in COLUMNS])
    head = report.heading
    same: Row = {
        "job_uid": head.job,
        "engine": head.engine,
        "sheet_sha256": head.sheet_sha256,
        "variant": head.variant,
        "coverage_factor": report.coverage_factor,
    }
    for number, row in enumerate(_rows(report), 1):
        said = {**same, **row, "row": number}
        writer.writerow([cell(column.type, said.get(column.name)) for column in COLUMNS])
    return out.getvalue()


def _rows(report: JobReport) -> Iterator[Row]:
    for step in report.steps:
        same: Row = {
            "step": step.name,
            "gauge_label": step.gauge_label,
            "rule": report.heading.rule,
        }
        for target in step.targets:
            for result in target.results:
                gauge = _gauge_at(report, step, result.record)
                for row in _of_result(report, step, target, result):
                    yield same | gauge | row
        for line in step.across:
            yield same | _of_across(line)
        for check in step.masters:
            yield same | _gauge_at(report, step, check.record) | _of_master(check)


def _gauge_at(report: JobReport, step: StepReport, record: int) -> Row:
    """How the step's gauge stood by its calibration when a record was made."""
    known = [
        each
        for gauge in report.gauges
        if gauge.role == step.gauge_role
        for each in gauge.calibrations
        if each.record < record
    ]
    if not known:
        return {}
    return {"gauge_standing": known[-1].standing, "gauge_certificate": known[-1].certificate}


def _of_result(
    report: JobReport, step: StepReport, target: TargetReport, result: ResultLine
) -> Iterator[Row]:
    same: Row = {
        "target": target.name,
        "phase": result.phase,
        "counts_as": _counts_as(target, result),
        "target_state": target.state,
        "rule": result.rule,
        "operator": result.operator,
        "at_utc": time_text(result.at),
        "record": result.record,
        "captures": list(result.captures),
    }
    yield same | {
        "kind": "result",
        "name": result.what,
        "value": result.value,
        "unit": result.unit,
        "u": result.u,
        "expanded_u": report.coverage_factor * result.u,
        "nominal_mm": step.nominal_mm,
        "lower_mm": step.lower_mm,
        "upper_mm": step.upper_mm,
        "deviation": result.deviation,
        "verdict": result.verdict,
    }
    for part in result.parts:
        yield same | {
            "kind": "part",
            "name": part.name,
            "of": part.of,
            "value": part.value,
            "unit": part.unit,
            "u": part.u,
            "expanded_u": None if part.u is None else report.coverage_factor * part.u,
        }


def _counts_as(target: TargetReport, result: ResultLine) -> str:
    names = (("found", target.as_found), ("left", target.as_left), ("newest", target.latest))
    return " and ".join(name for name, each in names if each and each.record == result.record)


def _of_across(line: AcrossLine) -> Row:
    return {
        "kind": "across",
        "name": line.name,
        "of": ", ".join(line.targets),
        "value": line.value.exact,
        "unit": line.value.unit,
        "expanded_u": line.expanded.exact if line.expanded else None,
        "upper_mm": line.limit.exact,
        "verdict": line.verdict,
    }


def _of_master(check: MasterLine) -> Row:
    return {
        "kind": "master",
        "name": check.what,
        "phase": check.when,
        "value": check.value.exact,
        "unit": check.value.unit,
        "expanded_u": check.expanded.exact,
        "nominal_mm": check.reference_mm,
        "deviation": check.deviation.exact if check.deviation else None,
        "verdict": check.verdict,
        "operator": check.operator,
        "at_utc": time_text(check.at),
        "record": check.record,
        "captures": list(check.captures),
    }


def cell(kind: str, value: object) -> str:
    """A value as a cell of a column of a Table Schema type; empty for None.

    Words that a spreadsheet would take for a formula get an apostrophe in front.
    """
    if value is None:
        return ""
    if isinstance(value, Decimal):
        return decimal_text(value)
    if isinstance(value, list):
        return json.dumps(value)
    text = str(value)
    if kind == "string" and text.startswith(_FORMULA_STARTS) and not _PLAIN_NUMBER.fullmatch(text):
        return "'" + text
    return text

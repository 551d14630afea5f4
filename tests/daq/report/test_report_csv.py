"""The CSV: read back by its own Table Schema, each figure with its unit, as recorded."""

import csv
import io
import json
from datetime import datetime
from decimal import Decimal

import pytest

from daq.report.csv import COLUMNS, csv_of, schema_text
from tests.daq.report.making import Job, good_job, poor_job

READ = {
    "integer": int,
    "number": Decimal,
    "string": str,
    "datetime": datetime.fromisoformat,
    "array": json.loads,
}
"""How a cell of each type of the Table Schema is read."""


def rows_of(report):
    """The rows of a CSV, each cell read as the schema beside it says."""
    schema = json.loads(schema_text())
    types = {field["name"]: field["type"] for field in schema["fields"]}
    rows = list(csv.reader(io.StringIO(csv_of(report), newline="")))
    assert rows[0] == list(types)
    return [
        {
            name: None if cell in schema["missingValues"] else READ[types[name]](cell)
            for name, cell in zip(rows[0], row, strict=True)
        }
        for row in rows[1:]
    ]


@pytest.fixture
def log(tmp_path):
    return tmp_path / "log"


def test_every_result_comes_back_as_it_was_recorded(log):
    job = poor_job(log)
    report = job.report()
    rows = rows_of(report)
    results = [each for each in job.facts.job_records if each.kind == "job result"]
    numbers = job.facts.numbers
    by_record = {each["record"]: each for each in rows if each["kind"] in ("result", "master")}
    assert len(by_record) == len(results)
    for each in results:
        row = by_record[numbers[each.uid]]
        assert (row["value"], row["unit"], row["deviation"]) == (each.value, "mm", each.deviation)
        # Every digit: 0.110 is not 0.11.
        assert (str(row["value"]), str(row["u"] or each.u)) == (str(each.value), str(each.u))
        assert row["expanded_u"] == row["coverage_factor"] * each.u
        assert row["verdict"] == each.verdict.outcome
        assert row["captures"] == [numbers[uid] for uid in each.captures]
        assert row["at_utc"] == each.at
        assert (row["operator"], row["engine"]) == (each.operator, "No. 2, port side")


def test_parts_and_limits_across_have_rows_of_their_own(log):
    rows = rows_of(poor_job(log).report())
    within = [each for each in rows if each["name"] == "range within"]
    assert [each["value"] for each in within] == [
        Decimal("0.010"), Decimal("0.034"), Decimal("0.008"), Decimal("0.012")
    ]  # fmt: skip
    assert {(each["kind"], each["u"], each["phase"]) for each in within} == {
        ("part", Decimal("0.0030"), "as found")
    }
    (spread,) = [each for each in rows if each["name"] == "spread"]
    assert (spread["kind"], spread["value"], spread["upper_mm"]) == (
        "across", Decimal("0.0911"), Decimal("0.06")
    )  # fmt: skip
    assert (spread["verdict"], spread["target"]) == ("too large", None)


def test_a_row_says_what_its_result_counts_as(log):
    rows = rows_of(poor_job(log).report())
    third = [each for each in rows if each["target"] == "injector 3" and each["kind"] == "result"]
    assert [each["counts_as"] for each in third] == ["found", None, None, "left"]
    assert {each["target_state"] for each in third} == {"overruled"}
    assert {each["counts_as"] for each in rows if each["step"] == "liner"} == {
        "found and left", None
    }  # fmt: skip


def test_rows_are_numbered_and_lines_end_as_rfc_4180_has_it(log):
    report = good_job(log).report()
    rows = rows_of(report)
    assert [each["row"] for each in rows] == list(range(1, len(rows) + 1))
    assert json.loads(schema_text())["primaryKey"] == "row"
    text = csv_of(report)
    assert text.count("\r\n") == text.count("\n") == len(rows) + 1


def test_the_schema_says_what_every_column_is():
    assert {column.type for column in COLUMNS} <= set(READ)
    assert all(column.description for column in COLUMNS)
    assert len({column.name for column in COLUMNS}) == len(COLUMNS)


def test_words_that_a_spreadsheet_would_run_are_made_harmless(log):
    job = Job(log, engine="=1+1", operator="@home")
    job.result("stop", "engine", "as found", "14.24", operator="-0.5")
    (row,) = rows_of(job.report())
    assert (row["engine"], row["operator"], row["deviation"]) == (
        "'=1+1", "-0.5", Decimal("-0.0094")
    )  # fmt: skip

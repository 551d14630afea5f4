"""The CSV of a certificate fits its Table Schema, cell by cell, and holds every figure exactly.

The rules are those of Table Schema (Frictionless Data): types, formats, constraints, missing
values, primary key; written out here from memory.
"""

import csv
import io
import json
from datetime import datetime
from decimal import Decimal

import pytest

from daq.report.certificate.csv import COLUMNS, csv_of, schema_text, table_schema_of
from tests.daq.report.certificate.making import STORIES, adjusted, unfinished

TYPES = {"string", "number", "integer", "datetime"}
RULES = {"required", "unique", "minimum", "maximum", "enum"}


def rows_of(text):
    return list(csv.DictReader(io.StringIO(text, newline="")))


def value_of(field, text):
    match field["type"]:
        case "integer":
            assert text == str(int(text))
            return int(text)
        case "number":
            assert "e" not in text.lower()
            return Decimal(text)
        case "datetime":
            return datetime.strptime(text, field["format"])
        case _:
            return text


def problems_in(text, schema):
    """Where a CSV does not fit its schema."""
    header = next(csv.reader(io.StringIO(text, newline="")))
    if header != [field["name"] for field in schema["fields"]]:
        yield "header"
    rows = rows_of(text)
    for field in schema["fields"]:
        rules, seen = field.get("constraints", {}), set()
        for number, row in enumerate(rows, 1):
            where, cell = f"{field['name']} of row {number}", row[field["name"]]
            if cell in schema["missingValues"]:
                if rules.get("required") or field["name"] in schema["primaryKey"]:
                    yield f"{where} is missing"
                continue
            value = value_of(field, cell)
            if value in seen and (rules.get("unique") or field["name"] in schema["primaryKey"]):
                yield f"{where} is there twice"
            seen.add(value)
            if "enum" in rules and value not in rules["enum"]:
                yield f"{where} is {value}"
            if "minimum" in rules and value < rules["minimum"]:
                yield f"{where} is {value}"
            if "maximum" in rules and value > rules["maximum"]:
                yield f"{where} is {value}"


@pytest.mark.parametrize("story", STORIES)
def test_every_cell_fits_the_schema(story):
    text = csv_of(STORIES[story]().model())
    assert len(rows_of(text)) > 50
    assert list(problems_in(text, table_schema_of())) == []


def test_a_cell_that_does_not_fit_would_be_found():
    text = csv_of(adjusted().model())
    spoilt = text.replace(",as found,", ",as it was,", 1).replace("\r\n2,", "\r\n1,", 1)
    assert list(problems_in(spoilt, table_schema_of())) == [
        "row of row 2 is there twice", "run of row 1 is as it was",
    ]  # fmt: skip


def test_the_schema_is_one():
    schema = json.loads(schema_text())
    assert schema == table_schema_of()
    names = [field["name"] for field in schema["fields"]]
    assert len(set(names)) == len(names)
    assert set(schema["primaryKey"]) <= set(names)
    assert schema["missingValues"] == [""]
    for field in schema["fields"]:
        assert field["type"] in TYPES
        assert field["description"]
        assert set(field.get("constraints", {})) <= RULES
        assert field.get("unit") == ("mm" if field["name"].endswith("_mm") else field.get("unit"))


def test_every_figure_is_as_recorded():
    model = adjusted().model()
    rows = rows_of(csv_of(model))
    points = [row for row in rows if row["kind"] == "point" and row["run"] == "as left"]
    assert [Decimal(row["value_mm"]) for row in points] == [
        point.error.value.exact for point in model.runs[1].points
    ]
    assert points[0]["expanded_u_mm"] == "0.001172238"
    words = {row["name"]: row["word"] for row in rows if row["run"] == "as found"}
    assert (words["span error"], words["one-way span"], words["hysteresis"]) == ("fail", "", "pass")
    corrections = [row for row in rows if row["kind"] == "correction"]
    assert len(corrections) == sum(len(run.correction) for run in model.runs)


def test_a_draft_says_so_in_every_row():
    rows = rows_of(csv_of(unfinished().model()))
    assert {(row["document"], row["certificate"]) for row in rows} == {("draft", "")}


def test_words_that_a_spreadsheet_takes_for_a_formula_are_held_back():
    story = adjusted(ended={"certificate": "=1+1"})
    assert {row["certificate"] for row in rows_of(csv_of(story.model()))} == {"'=1+1"}


def test_lines_end_as_rfc_4180_has_it():
    text = csv_of(unfinished().model())
    assert text.count("\r\n") == text.count("\n") > 50
    assert text.startswith("row,document,certificate,")
    assert len(COLUMNS) == text.split("\r\n")[0].count(",") + 1

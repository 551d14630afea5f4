"""Exports: every digit and every record, readable elsewhere, harmless in a spreadsheet."""

import csv
import io
import json
from decimal import Decimal

import pytest

from daq.logbook import (
    CapturedGauge,
    CapturedReading,
    ExportError,
    Logbook,
    verify_jsonl,
    write_csv,
    write_jsonl,
)
from daq.logbook.canonical import canonical
from daq.logbook.export import COLUMNS, csv_lines, jsonl_lines, table_schema


def rows_of(book):
    return list(csv.DictReader(io.StringIO("".join(csv_lines(book.entries())), newline="")))


@pytest.fixture
def kept(book_path):
    """Keeps records in a logbook and gives the CSV rows of them, the cover left out."""

    def keep(*records):
        with Logbook.open(book_path) as book:
            book.append_many(records)
            return rows_of(book)[1:]

    return keep


def test_a_capture_is_a_row_with_its_figures_digit_by_digit(kept, capture):
    record = capture(4, value_mm=Decimal("12.3440"))
    (row,) = kept(record)
    expected = {
        "sequence": "2",
        "kind": "capture",
        "format": "1",
        "intact": "true",
        "at_utc": "2026-03-01T08:15:34.250000Z",
        "uid": record.uid,
        "gauge_label": "G-17",
        "nominal_mm": "12.300",
        "lower_mm": "-0.100",
        "upper_mm": "0.100",
        "value_mm": "12.3440",
        "u_mm": "0.00041",
        "n": "3",
        "rest_seen": "true",
        "deviation_mm": "0.044",
        "outcome": "in",
        "guard_mm": "0",
        "trigger": "settled",
        "readings": '["+0012.343","+0012.344","+0012.344"]',
        "readings_t_s": "[104,104.1,104.2]",
        "readings_status": "[[],[],[]]",
        "text": "",
        "unreadable": "",
    }
    assert {name: row[name] for name in expected} == expected
    assert json.loads(row["frames_hex"]) == list(record.frames)


def test_what_a_record_does_not_have_is_left_empty(kept, capture, note):
    bare = capture(spec=None, deviation_mm=None, verdict=None)
    capture_row, note_row = kept(bare, note("seen"))
    for name in ("nominal_mm", "lower_mm", "deviation_mm", "outcome", "guard_mm", "about_uid"):
        assert capture_row[name] == ""
    assert note_row["value_mm"] == note_row["n"] == note_row["readings"] == ""
    assert (note_row["purpose"], note_row["text"]) == ("remark", "seen")


def test_no_column_stays_empty_for_every_kind_of_record(written, tamper, capture, note):
    """So that each column's place in the record is spelled right."""
    with Logbook.open(written) as book:
        book.append(note(about=book.entry(2).record.uid))
        book.append(capture(note="a word"))
    with tamper(written) as connection:
        connection.execute("UPDATE records SET body = '{}' WHERE sequence = 5")
    with Logbook.read(written) as book:
        rows = rows_of(book)
    assert {name for name in rows[0] if not any(row[name] for row in rows)} == set()
    assert len(rows) == 14


def test_a_record_that_cannot_be_read_is_exported_with_the_reason(written, tamper):
    with tamper(written) as connection:
        connection.execute("UPDATE records SET body = 'x' WHERE sequence = 3")
    with Logbook.read(written) as book:
        rows = rows_of(book)
    assert [row["sequence"] for row in rows if row["intact"] == "false"] == ["3"]
    assert "not JSON" in rows[2]["unreadable"]


@pytest.mark.parametrize(
    "text",
    ["=1+1", "+1+1", "-1+1", "@SUM(A1)", "\t=1", "\r=1", "\n=1", "＝1+1", '=HYPERLINK("x")', "-"],
)
def test_words_no_spreadsheet_may_take_for_a_formula_are_made_harmless(kept, note, text):
    (row,) = kept(note(text))
    assert row["text"] == "'" + text


@pytest.mark.parametrize("text", ["-0.5", "+12.345", "17", "a = b", "", "'quoted'", "1-2"])
def test_numbers_and_ordinary_words_are_left_as_they_are(kept, note, text):
    (row,) = kept(note(text))
    assert row["text"] == text


def test_a_negative_length_stays_a_number(kept, capture):
    low = capture(
        value_mm=Decimal("-0.250"),
        spec=None,
        deviation_mm=None,
        verdict=None,
        readings=(CapturedReading(t_s=100.0, text="-0.250", unit="mm", status=()),),
        frames=("2d",),
        n=1,
        span_readings=1,
    )
    (row,) = kept(low)
    assert row["value_mm"] == "-0.250"


def test_commas_quotes_line_ends_and_umlauts_come_back_whole(kept, note):
    text = 'prüfen, "dann"\r\nnoch einmal; µm 😂'
    (row,) = kept(note(text))
    assert row["text"] == text


def test_every_line_has_every_column_and_ends_as_rfc_4180_says(kept, written):
    with Logbook.read(written) as book:
        lines = list(csv_lines(book.entries()))
    assert len(lines) == 13
    assert all(line.endswith("\r\n") for line in lines)
    assert {len(next(csv.reader([line]))) for line in lines} == {len(COLUMNS)}


def test_the_unit_of_a_length_or_a_time_is_in_the_columns_name():
    for column in COLUMNS:
        if column.type == "number":
            assert column.name.endswith(("_mm", "_s")), column.name


def test_the_table_schema_says_what_each_column_is(written, tmp_path):
    path = tmp_path / "captures.csv"
    with Logbook.read(written) as book:
        assert write_csv(book.entries(), path) == 12
    schema = json.loads((tmp_path / "captures.schema.json").read_text(encoding="utf-8"))
    assert schema == table_schema()
    with open(path, newline="", encoding="utf-8") as file:
        header, *rows = csv.reader(file)
    assert [field["name"] for field in schema["fields"]] == header
    check = {"integer": int, "number": Decimal, "array": json.loads, "boolean": ["true"].index}
    for row in rows:
        for field, cell in zip(schema["fields"], row, strict=True):
            if cell and field["type"] in check:
                check[field["type"]](cell)


@pytest.mark.parametrize("write", [write_csv, write_jsonl])
def test_an_export_writes_over_nothing(written, tmp_path, write):
    path = tmp_path / "export"
    path.write_text("precious")
    for taken in (path, written):
        before = taken.read_bytes()
        with (
            Logbook.read(written) as book,
            pytest.raises(ExportError, match="it is already there"),
        ):
            write(book.entries(), taken)
        assert taken.read_bytes() == before
    assert not list(tmp_path.glob("*.schema.json"))


def test_an_export_into_a_folder_that_is_not_there_is_refused(written, tmp_path):
    with Logbook.read(written) as book, pytest.raises(ExportError, match="No such file"):
        write_csv(book.entries(), tmp_path / "missing" / "a.csv")


def test_an_export_that_fails_leaves_no_half_file(written, tmp_path):
    def failing():
        with Logbook.read(written) as book:
            yield from book.entries(1, 3)
        raise KeyboardInterrupt

    for write in (write_csv, write_jsonl):
        with pytest.raises(KeyboardInterrupt):
            write(failing(), tmp_path / "half")
        assert list(tmp_path.glob("half*")) == []


def test_a_json_line_is_canonical_json(written):
    with Logbook.read(written) as book:
        for line in jsonl_lines(book.entries()):
            assert line == canonical(json.loads(line)) + b"\n"


def test_a_record_that_is_no_line_of_json_does_not_break_the_file(written, tamper):
    with tamper(written) as connection:
        for sequence, body in ((3, "x"), (4, '{"a":\n1}'), (5, "[" * 9999), (6, '"\n"')):
            connection.execute("UPDATE records SET body = ? WHERE sequence = ?", (body, sequence))
    path = written.with_suffix(".jsonl")
    with Logbook.read(written) as book:
        assert write_jsonl(book.entries(), path) == 12
    lines = path.read_bytes().splitlines()
    assert [json.loads(line)["sequence"] for line in lines] == list(range(1, 13))
    assert json.loads(lines[3])["record"] == '{"a":\n1}'
    assert [problem.sequence for problem in verify_jsonl(path).problems] == [3]
    assert verify_jsonl(path).problems[0].through == 6


def test_a_gauge_label_is_free_text_too(kept, capture):
    gauge = CapturedGauge(label="=G17", profile="p", identity="", port="")
    (row,) = kept(capture(gauge=gauge))
    assert row["gauge_label"] == "'=G17"


def test_notes_and_captures_share_one_file(kept, capture, note):
    rows = kept(capture(), note())
    assert [row["kind"] for row in rows] == ["capture", "note"]

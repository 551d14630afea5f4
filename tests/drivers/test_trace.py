"""Recorded traces are read strictly, with the line that is wrong."""

import io
from decimal import Decimal

import pytest

from drivers.errors import TraceError
from drivers.reading import Unit
from drivers.trace import LinkMark, RawBytes, read_trace, write_raw


def test_values_keep_their_digits_and_their_unit():
    rows = list(read_trace(["t_s,value,unit\n", "0.1,12.350,mm\n", "0.2,-0.48600,in\n"], "t.csv"))
    assert [(r.t_s, str(r.value), r.unit) for r in rows] == [
        (0.1, "12.350", Unit.MM),
        (0.2, "-0.48600", Unit.INCH),
    ]
    assert rows[1].value_mm == Decimal("-12.3444")


def test_values_without_a_unit_are_millimetres():
    assert next(read_trace(["t_s,value\n", "1e3,1\n"], "t.csv")).unit is Unit.MM


def test_raw_bytes_come_back_as_they_were_written():
    pieces = [
        LinkMark(0.1, "opened"),
        RawBytes(0.25, b"\x00\xff\r\n"),
        RawBytes(16420.123456789012, b"A"),
        LinkMark(16421.5, "lost"),
    ]
    file = io.StringIO()
    write_raw(file, pieces)
    assert list(read_trace(file.getvalue().splitlines(keepends=True), "t.csv")) == pieces


@pytest.mark.parametrize(
    ("lines", "words"),
    [
        (["time,length\n"], "t.csv:1: the header is 'time,length'; a trace begins with"),
        ([], "t.csv:1: the header is ''"),
        (["t_s,value\n", "0,1\n", '0,"12,345"\n'], "t.csv:3: value is '12,345'"),
        (["t_s,value\n", "0,12,345\n"], "t.csv:2: 3 cells where the header has 2"),
        (["t_s,value\n", "soon,1\n"], "t.csv:2: t_s is 'soon'"),
        (["t_s,value\n", "nan,1\n"], "t.csv:2: t_s is 'nan'"),
        (["t_s,value\n", "0,inf\n"], "t.csv:2: value is 'inf'"),
        (["t_s,value,unit\n", "0,1,cm\n"], "t.csv:2: unit is 'cm'; write mm or in"),
        (["t_s,bytes\n", "0,2G\n"], "t.csv:2: bytes are '2G'; write hex such as 2B30, opened"),
    ],
)
def test_a_wrong_row_is_named_by_file_and_line(lines, words):
    with pytest.raises(TraceError, match=words.replace("?", r"\?")):
        list(read_trace(lines, "t.csv"))


def test_the_rows_before_a_wrong_one_are_read():
    rows = read_trace(["t_s,value\n", "0,1.5\n", "0,x\n"], "t.csv")
    assert next(rows).value == Decimal("1.5")
    with pytest.raises(TraceError):
        next(rows)

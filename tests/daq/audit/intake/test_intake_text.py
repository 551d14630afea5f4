"""Foreign CSV and JSON lines: exact values, exact counts, and every rejected row by its line."""

import csv
import json
from datetime import UTC, datetime

import pytest

from daq.audit.errors import IntakeError, MappingError
from daq.audit.layout import NULL
from tests.daq.audit.intake.foreign import columns, csv_text, points_mapping, row, source, told


def us(*when):
    return int(datetime(*when, tzinfo=UTC).timestamp()) * 1_000_000


def test_a_length_is_rounded_half_to_even_to_whole_nanometres(tmp_path):
    readings = ["0.0000005", "0.0000015", "0.0000025", "-0.0000005", "12.3456784999999999999999"]
    rows = [row(n, reading=each) for n, each in enumerate(readings, 1)]
    (tmp_path / "a.csv").write_text(csv_text(rows))
    with source(tmp_path, points_mapping()) as found:
        assert columns(found, "points", "indicated_nm")["indicated_nm"] == [0, 2, 2, 0, 12345678]
        assert not found.rejects


def test_an_inch_is_25_4_mm_exactly(tmp_path):
    (tmp_path / "a.csv").write_text(csv_text([row(1, reading="10.00001")]))
    with source(tmp_path, points_mapping(unit="in")) as found:
        assert columns(found, "points", "indicated_nm")["indicated_nm"] == [254_000_254]


def test_decimal_commas_are_read_where_the_mapping_says_so(tmp_path):
    rows = [
        row(1, reading="5,001", Nominal="5", Reference="5,0001"),
        row(2, reading="5.002", Reference="5,0001"),
        row(3, reading="1.005,002", Reference="5,0001"),
    ]
    (tmp_path / "a.csv").write_text(csv_text(rows, ";"))
    mapping = points_mapping(options='separator = ";"\ndecimal = ","')
    with source(tmp_path, mapping) as found:
        assert columns(found, "points", "indicated_nm")["indicated_nm"] == [5_001_000]
        why = 'has "." where the decimal mark is ","'
        assert told(found) == [("a.csv", 3, "Reading", why), ("a.csv", 4, "Reading", why)]
        assert found.rejects.count == 2


def test_decimal_commas_nobody_spoke_of_are_rejected_and_never_guessed(tmp_path):
    (tmp_path / "a.csv").write_text(csv_text([row(1, reading="5,001"), row(2)], ";"))
    with source(tmp_path, points_mapping(options='separator = ";"')) as found:
        assert found.rows("points") == 1
        assert told(found) == [
            ("a.csv", 2, "Reading", 'has "," where the decimal mark is "."'),
        ]


def test_dates_of_three_forms_are_read_by_the_first_that_fits(tmp_path):
    whens = ["2026-03-01 08:00:00", "01.03.2026 08:00", "03/01/2026 08:00 AM", "1 March 2026"]
    rows = [row(n, when=each) for n, each in enumerate(whens, 1)]
    (tmp_path / "a.csv").write_text(csv_text(rows))
    time = 'time = ["iso", "%d.%m.%Y %H:%M", "%m/%d/%Y %I:%M %p"]'
    with source(tmp_path, points_mapping(time=time)) as found:
        assert columns(found, "points", "at_us")["at_us"] == [us(2026, 3, 1, 8)] * 3
        ((_, line, column, reason),) = told(found)
        assert (line, column) == (5, "When")
        assert reason.startswith("is no time of the form iso or %d.%m.%Y")


@pytest.mark.parametrize(
    ("form", "zone", "cell", "expected_us"),
    [
        ("iso", "Europe/Berlin", "2026-07-01T10:00:00", us(2026, 7, 1, 8)),
        ("iso", "Europe/Berlin", "2026-01-01T10:00:00", us(2026, 1, 1, 9)),
        ("iso", "Europe/Berlin", "2026-07-01T10:00:00+00:00", us(2026, 7, 1, 10)),
        ("iso", "-05:00", "2026-07-01T10:00:00", us(2026, 7, 1, 15)),
        ("iso", "UTC", "2026-07-01T10:00:00.1234569", us(2026, 7, 1, 10) + 123456),
        ("s", "UTC", "1782900000.0000019", 1782900000_000001),
        ("ms", "UTC", "1782900000123", 1782900000_123000),
        ("us", "UTC", "1782900000123456", 1782900000_123456),
    ],
)
def test_a_time_comes_to_whole_microseconds_of_utc(tmp_path, form, zone, cell, expected_us):
    (tmp_path / "a.csv").write_text(csv_text([row(1, when=cell)]))
    mapping = points_mapping(time=f'time = "{form}", zone = "{zone}"')
    with source(tmp_path, mapping) as found:
        assert columns(found, "points", "at_us")["at_us"] == [expected_us]


@pytest.mark.parametrize(
    ("form", "cell", "reason"),
    [
        ("iso", "2026-10-25T02:30:00", "comes twice on that day"),
        ("iso", "2026-03-29T02:30:00", "is left out on that day"),
        ("s", "1782900000123", "is no time in the years 1900 to 9999, taken as s since 1970"),
    ],
)
def test_a_time_that_nobody_can_tell_is_rejected(tmp_path, form, cell, reason):
    (tmp_path / "a.csv").write_text(csv_text([row(1, when=cell)]))
    mapping = points_mapping(time=f'time = "{form}", zone = "Europe/Berlin"')
    with source(tmp_path, mapping) as found:
        assert told(found) == [("a.csv", 2, "When", reason)]


def test_mixed_encodings_lose_no_row_and_no_letter(tmp_path):
    head, *lines = csv_text([row(1, by="Jürgen"), row(2, by="Jürgen"), row(3)]).splitlines(True)
    raw = [head.encode(), lines[0].encode("utf-8"), lines[1].encode("cp1252"), lines[2].encode()]
    (tmp_path / "a.csv").write_bytes(b"".join(raw))
    with source(tmp_path, points_mapping(options='encoding = ["utf-8", "cp1252"]')) as found:
        codes = next(found.blocks("points", ["operator"]))["operator"]
        assert found.names("operator", codes) == ["Jürgen", "Jürgen", "A. Fitter"]
    with source(tmp_path, points_mapping()) as found:
        assert found.rows("points") == 2
        assert told(found) == [("a.csv", 3, "", "is not utf-8 text")]


def test_utf_16_is_read_and_a_broken_end_is_told(tmp_path):
    raw = csv_text([row(1, by="Łukasz"), row(2)]).encode("utf-16")
    (tmp_path / "a.csv").write_bytes(raw)
    mapping = points_mapping(options='encoding = "utf-16"')
    with source(tmp_path, mapping) as found:
        codes = next(found.blocks("points", ["operator"]))["operator"]
        assert found.names("operator", codes) == ["Łukasz", "A. Fitter"]
    (tmp_path / "a.csv").write_bytes(raw[:-3])
    with source(tmp_path, mapping) as found:
        assert found.rejects.count == 1


def test_a_million_malformed_lines_are_counted_exactly_and_all_written_down(tmp_path):
    good = csv_text([row(1), row(2)])
    head, first, second = good.splitlines(True)
    (tmp_path / "a.csv").write_text(head + first + "nonsense\n" * 1_000_000 + second)
    listed = tmp_path / "rejects.list"
    with source(tmp_path, points_mapping(), rejects_to=listed) as found:
        assert found.rows("points") == 2
        assert found.rejects.count == 1_000_000
        assert len(found.rejects.kept) == 1000
        assert found.rejects.kept[0].line == 3
        lines = [each.line for each in found.where("points", _gauge(found), 1, 2)]
        assert lines == [2, 1_000_003]
    with open(listed, newline="") as file:
        last = None
        for count, last in enumerate(csv.reader(file)):  # noqa: B007
            pass
    assert count == 1_000_000
    assert last[1:] == ["1000002", "", "has not the 9 cells of the header", "nonsense"]


def _gauge(found):
    return int(next(found.blocks("points", ["gauge"]))["gauge"][0])


def test_a_row_with_several_faults_is_rejected_once(tmp_path):
    (tmp_path / "a.csv").write_text(csv_text([row(1, reading="x", when="y"), row("z")]))
    with source(tmp_path, points_mapping()) as found:
        assert found.rejects.count == 2
        assert [(line, column) for _, line, column, _ in told(found)] == [(2, "When"), (3, "No")]


def test_a_quote_that_is_not_closed_costs_its_own_line_alone(tmp_path):
    rows = [row(1, by='"A, then B'), row(2), row(3, by='"C\nand ""D"""'), row(4)]
    (tmp_path / "a.csv").write_text(csv_text(rows))
    with source(tmp_path, points_mapping()) as found:
        assert columns(found, "points", "seq")["seq"] == [2, 3, 4]
        assert told(found) == [("a.csv", 2, "", "has a quote that is not closed or not doubled")]
        codes = next(found.blocks("points", ["operator"]))["operator"]
        assert found.names("operator", codes)[1] == 'C\nand "D"'
        assert [each.line for each in found.where("points", _gauge(found), 3, 4)] == [4, 6]


def test_a_word_that_is_none_of_the_layouts_is_rejected_and_no_word_is_missing(tmp_path):
    states = ["before", "after", "as left", "", "during"]
    rows = [row(n, State=each) for n, each in enumerate(states, 1)]
    (tmp_path / "a.csv").write_text(csv_text(rows))
    with source(tmp_path, points_mapping()) as found:
        assert columns(found, "points", "found")["found"] == [0, 1, 1, -1]
        assert told(found) == [("a.csv", 6, "State", "is none of the words it may be")]


def test_json_lines_keep_every_digit_and_reject_by_line(tmp_path):
    lines = [
        json.dumps(row(1)).replace('"5.001"', "5.00100000000000000001"),
        "{",
        "[1]",
        json.dumps({**row(2), "By": None}),
        json.dumps({**row(3), "By": ["A"]}),
        json.dumps({name: cell for name, cell in row(4).items() if name != "Reading"}),
    ]
    (tmp_path / "a.jsonl").write_text("\n".join(lines))
    with source(tmp_path, points_mapping("*.jsonl", "jsonl")) as found:
        got = columns(found, "points", "indicated_nm", "operator")
        assert got["indicated_nm"] == [5_001_000, 5_001_000]
        assert got["operator"][1] == -1
        assert told(found) == [
            ("a.jsonl", 2, "", "is no JSON"),
            ("a.jsonl", 3, "", "is no JSON object"),
            ("a.jsonl", 5, "By", "is neither a text nor a number"),
            ("a.jsonl", 6, "Reading", "is empty"),
        ]


def test_rows_out_of_order_are_sorted_and_that_is_said(tmp_path):
    (tmp_path / "a.csv").write_text(csv_text([row(2), row(1, "G-2"), row(1)]))
    with source(tmp_path, points_mapping()) as found:
        assert columns(found, "points", "seq")["seq"] == [1, 2, 1]
        (note,) = found.notes
        assert note.endswith("a.csv is not in the order of gauge and seq; it was sorted")


def test_a_file_without_a_wanted_column_is_lost_and_told_while_others_are_read(tmp_path):
    (tmp_path / "a.csv").write_text("Gauge,Run\nG-1,1\n")
    (tmp_path / "b.csv").write_text(csv_text([row(1)]))
    (tmp_path / "c.csv").write_text("")
    with source(tmp_path, points_mapping()) as found:
        assert found.rows("points") == 1
        words = [str(each) for each in found.rejects.lost_files]
        assert len(words) == 2
        assert 'it has no column "No"' in words[0]
        assert "it has no header line" in words[1]


def test_a_missing_integer_is_the_null_of_the_layout(tmp_path):
    text = POINTS_WITH_U
    (tmp_path / "a.jsonl").write_text(json.dumps({**row(1), "U": None}) + "\n")
    from daq.audit.intake import mapping_from

    with source(tmp_path, mapping_from(text.encode(), "m.toml")) as found:
        assert columns(found, "points", "u_reference_nm")["u_reference_nm"] == [NULL]


POINTS_WITH_U = """
[mapping]
format = 1
[points]
files = "*.jsonl"
format = "jsonl"
[points.columns]
gauge = "Gauge"
run = "Run"
seq = "No"
at_us = { column = "When", time = "iso" }
nominal_nm = { column = "Nominal", unit = "mm" }
reference_nm = { column = "Reference", unit = "mm" }
indicated_nm = { column = "Reading", unit = "mm" }
u_reference_nm = { column = "U", unit = "µm" }
site = { value = "hall 3" }
"""


def test_a_constant_is_the_same_in_every_row_and_must_be_a_value(tmp_path):
    from daq.audit.intake import mapping_from

    (tmp_path / "a.jsonl").write_text(json.dumps({**row(1), "U": "0.05"}) + "\n")
    with source(tmp_path, mapping_from(POINTS_WITH_U.encode(), "m.toml")) as found:
        block = next(found.blocks("points", ["site", "u_reference_nm"]))
        assert found.names("site", block["site"]) == ["hall 3"]
        assert block["u_reference_nm"].tolist() == [50]
    wrong = POINTS_WITH_U.replace('{ column = "U", unit', '{ value = "fifty", unit')
    with pytest.raises(MappingError, match="u_reference_nm: value 'fifty' is not a number"):
        source(tmp_path, mapping_from(wrong.encode(), "m.toml"))


def test_nothing_to_read_is_an_error(tmp_path):
    with pytest.raises(IntakeError, match="There is no log in"):
        source(tmp_path, points_mapping())
    with pytest.raises(IntakeError, match=r"There is no .*gone"):
        source(tmp_path / "gone", points_mapping())

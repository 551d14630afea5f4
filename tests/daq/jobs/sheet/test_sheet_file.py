"""Sheet files: no text breaks the reading, and one broken line does not hide the rest."""

import hashlib
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from daq.jobs import EngineError
from daq.jobs.sheet import NoSheetError, SheetError, engine_in, load_sheet, sheet_from_bytes
from tests.daq.jobs.engines import V6
from tests.daq.jobs.sheet.planted import BASE, problems_of

LINES = BASE.split("\n")
VALUES = [
    "[]",
    "{}",
    '""',
    '"…"',
    "0",
    "-1",
    "99999999999999999999",
    "1e400",
    "nan",
    "true",
    "1979-05-27",
    "12:00:00",
    "[[]]",
    "[{}]",
    '{ a = "b" }',
    '["rack", "rack"]',
    '"any"',
    '"± 0 mm"',
    '"0 mm"',
    '"1e9 mm"',
    '"manual"',
    '"\\u0000"',
    '"1/2 in"',
    "76,20",
    "rack",
    '"half',
    "[",
]


def read(text):
    """What becomes of a text: a sheet, or problems that each name a line that is there."""
    told = problems_of(text)
    last = len(text.split("\n"))
    for problem in told:
        assert problem.startswith("s.toml:"), problem
        assert 1 <= int(problem.split(":")[1]) <= last, problem
    return told


@settings(deadline=None, max_examples=60)
@given(st.text())
def test_no_text_at_all_breaks_it(text):
    assert read(text)


@settings(deadline=None, max_examples=60)
@given(st.binary(max_size=200))
def test_no_bytes_at_all_break_it(raw):
    with pytest.raises(SheetError):
        sheet_from_bytes(raw, "s.toml")


@settings(deadline=None, max_examples=60)
@given(st.data())
def test_no_value_in_the_wrong_place_breaks_it(data):
    lines = list(LINES)
    settable = [number for number, line in enumerate(lines) if " = " in line]
    for number in data.draw(st.lists(st.sampled_from(settable), min_size=1, max_size=4)):
        key = lines[number].partition(" = ")[0]
        lines[number] = f"{key} = {data.draw(st.sampled_from(VALUES))}"
    read("\n".join(lines))


@settings(deadline=None, max_examples=60)
@given(st.data())
def test_no_lines_missing_or_moved_break_it(data):
    lines = list(LINES)
    for _ in range(data.draw(st.integers(1, 5))):
        line = lines.pop(data.draw(st.integers(0, len(lines) - 1)))
        if data.draw(st.booleans()):
            lines.insert(data.draw(st.integers(0, len(lines))), line)
    read("\n".join(lines))


def test_broken_lines_are_told_and_what_else_is_wrong_too():
    text = BASE.replace('title = "Invented set-up"', "title = Invented set-up")
    text = text.replace('nominal = "1.20 mm"', "nominal = 1,20 mm")
    text = text.replace('gauge = "deep"\nmaster', 'gauge = "deap"\nmaster')
    told = problems_of(text)
    assert [problem.split(": ")[1][:11] for problem in told] == [
        "cannot read", "cannot read", "steps.11.ga"
    ]  # fmt: skip
    assert 'title = "Invented set-up"' in told[0]
    assert '"1.20"' in told[1]


def test_a_broken_name_is_not_told_again_where_it_is_used():
    told = problems_of(BASE.replace('name = "rack"', "name = rack"))
    assert len(told) == 1
    assert 'text stands in quotes: name = "rack"' in told[0]


def test_a_bracket_left_open_is_told_alone_and_no_innocent_line_with_it():
    told = problems_of(BASE.replace('after = ["height", "intake"]', 'after = ["height", "intake"'))
    assert len(told) == 1


def test_a_file_without_tables_is_told_what_it_needs():
    told = problems_of("")
    assert {problem.split(": ", 1)[1] for problem in told} == {
        "sheet: is missing; add the table [sheet]",
        "sources: is missing; add at least one [[sources]]",
        "engine: is missing; add the table [engine]",
        "variants: is missing; add at least one [[variants]]",
        "gauges: is missing; add at least one [[gauges]]",
        "steps: is missing; add at least one [[steps]]",
    }


def test_a_sheet_is_read_from_disk_and_known_by_its_bytes(tmp_path):
    path = tmp_path / "s.toml"
    marked = b"\xef\xbb\xbf" + BASE.encode()  # as some editors save it
    path.write_bytes(marked)
    sheet = load_sheet(path)
    assert sheet.name == str(path)
    assert sheet.fingerprint == hashlib.sha256(marked).hexdigest()
    path.write_bytes(BASE.encode())
    assert load_sheet(path).fingerprint != sheet.fingerprint
    assert load_sheet(path).steps == sheet.steps


@pytest.mark.parametrize(
    ("raw", "said"),
    [(BASE.encode("utf-16"), r":1: it is not UTF-8 text"), (b"#" * 100_001, "far too large")],
)
def test_what_is_no_text_for_a_sheet_is_refused(tmp_path, raw, said):
    path = tmp_path / "s.toml"
    path.write_bytes(raw)
    with pytest.raises(NoSheetError, match=said):
        load_sheet(path)
    with pytest.raises(NoSheetError, match=said):
        sheet_from_bytes(raw, str(path))


def test_a_file_that_is_not_there_is_named():
    with pytest.raises(NoSheetError, match=r"none\.toml cannot be read"):
        load_sheet(Path("none.toml"))


def test_an_engine_is_taken_from_a_sheet_or_from_a_file_of_its_own(tmp_path):
    path = tmp_path / "any.toml"
    path.write_text(BASE, "utf-8")
    assert engine_in(path) == sheet_from_bytes(BASE.encode(), "s.toml").engine
    path.write_text(V6, "utf-8")
    assert engine_in(path).firing_order == ("1", "6", "5", "4", "3", "2")
    path.write_text(V6.replace("[150, 90, 150", "[150, 90, 151"), "utf-8")
    with pytest.raises(EngineError, match="sum to 721°"):
        engine_in(path)
    path.write_text(BASE.replace("exercise = 3", "exercise = -3"), "utf-8")
    with pytest.raises(SheetError, match="must be at least 0"):
        engine_in(path)

"""The square code in the terminal is the code, with its quiet border, whatever it is drawn in."""

import pytest
import segno

from daq.page.door.code import can_print_halves, code_lines

TEXT = "http://192.168.100.100:8420/?t=" + "x" * 32

UPPER = {" ": 0, "▄": 0, "▀": 1, "█": 1}
LOWER = {" ": 0, "▀": 0, "▄": 1, "█": 1}


def modules(lines, halves):
    """The modules that a camera would see, row by row."""
    if not halves:
        return [[int(line[at] == "#") for at in range(0, len(line), 2)] for line in lines]
    return [[half[sign] for sign in line] for line in lines for half in (UPPER, LOWER)]


@pytest.fixture
def expected():
    code = segno.make(TEXT, micro=False, error="m", boost_error=False)
    return [list(row) for row in code.matrix_iter(border=4)]


@pytest.mark.parametrize("halves", [True, False])
@pytest.mark.parametrize("light_on_dark", [True, False])
def test_what_is_drawn_is_the_code(halves, light_on_dark, expected):
    seen = modules(code_lines(TEXT, halves=halves, light_on_dark=light_on_dark), halves)
    if light_on_dark:
        seen = [[1 - module for module in row] for row in seen]
    assert seen[: len(expected)] == expected
    assert not any(map(any, seen[len(expected) :]))


def test_four_light_modules_are_all_round(expected):
    assert not any(map(any, expected[:4] + expected[-4:]))
    assert not any(any(row[:4] + row[-4:]) for row in expected)


def test_it_fits_a_terminal_of_80_by_24():
    lines = code_lines(TEXT)
    assert {len(line) for line in lines} == {len(lines[0])}
    assert len(lines[0]) <= 60
    assert len(lines) <= 23


@pytest.mark.parametrize(
    ("encoding", "can"),
    [
        ("utf-8", True),
        ("cp437", True),
        ("ascii", False),
        ("iso8859-1", False),
        (None, False),
        ("none", False),
    ],
)
def test_a_terminal_has_half_blocks_or_not(encoding, can):
    assert can_print_halves(encoding) is can


def test_without_half_blocks_the_code_is_plain_ascii():
    assert all(line.isascii() for line in code_lines(TEXT, halves=False))

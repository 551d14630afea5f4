"""On which line each part of a TOML file stands."""

import tomllib
from importlib import resources

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.toml_lines import lines_of
from tests.drivers.wire_tools import LOOKS, NAMES

DOCUMENT = '''# a comment with [brackets] and "quotes
top = 1
"quoted key" = 'a # no comment'
text = """
several = "lines"
""" # after them
dotted.key = 2

[table]
inline = { a = 1, b = [1, 2], "c" = { d = "}" } }
array = [
  # nothing here
  { first = 1 },

  "second, with a comma]", [3,
    4],
]
  [table.inner]  # indented
  x = [ ]

[[list]]
name = "a"
[[list]]
name = "b"
[list.under]
deep = true
[[list.sub]]
n = 1
'''


def test_every_part_is_found_on_its_line():
    tomllib.loads(DOCUMENT)
    assert lines_of(DOCUMENT) == {
        ("top",): 2,
        ("quoted key",): 3,
        ("text",): 4,
        ("dotted",): 7,
        ("dotted", "key"): 7,
        ("table",): 9,
        ("table", "inline"): 10,
        ("table", "inline", "a"): 10,
        ("table", "inline", "b"): 10,
        ("table", "inline", "b", 0): 10,
        ("table", "inline", "b", 1): 10,
        ("table", "inline", "c"): 10,
        ("table", "inline", "c", "d"): 10,
        ("table", "array"): 11,
        ("table", "array", 0): 13,
        ("table", "array", 0, "first"): 13,
        ("table", "array", 1): 15,
        ("table", "array", 2): 15,
        ("table", "array", 2, 0): 15,
        ("table", "array", 2, 1): 16,
        ("table", "inner"): 18,
        ("table", "inner", "x"): 19,
        ("list",): 21,
        ("list", 0): 21,
        ("list", 0, "name"): 22,
        ("list", 1): 23,
        ("list", 1, "name"): 24,
        ("list", 1, "under"): 25,
        ("list", 1, "under", "deep"): 26,
        ("list", 1, "sub"): 27,
        ("list", 1, "sub", 0): 27,
        ("list", 1, "sub", 0, "n"): 28,
    }


def _paths(node, path=()):
    if path:
        yield path
    if isinstance(node, dict):
        for key, value in node.items():
            yield from _paths(value, (*path, key))
    if isinstance(node, list):
        for at, value in enumerate(node):
            yield from _paths(value, (*path, at))


@pytest.mark.parametrize("name", NAMES)
def test_every_part_of_a_built_in_profile_is_found_where_it_is_written(name):
    text = (resources.files("drivers.profiles") / f"{name}.toml").read_text("utf-8")
    found, rows = lines_of(text), text.splitlines()
    for path in _paths(tomllib.loads(text)):
        key = next(part for part in reversed(path) if isinstance(part, str))
        assert path in found
        if isinstance(path[-1], str):
            assert key in rows[found[path] - 1]


@LOOKS
@given(text=st.text(alphabet="ab=[]{},.\"'#\\\n 1", max_size=60))
def test_a_walk_over_anything_ends(text):
    """Only valid TOML is walked over; anything else must still not hang or raise."""
    assert all(1 <= line <= text.count("\n") + 1 for line in lines_of(text).values())


@LOOKS
@given(text=st.text(alphabet="ab=[]{},.\"'#\n 1", max_size=60))
def test_every_part_of_any_valid_text_has_a_line(text):
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        return
    assert set(_paths(data)) <= set(lines_of(text))

"""A profile with a mistake says file, line, field, what is wrong and what would be right."""

import re
import tomllib
from importlib import resources
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.errors import ProfileError
from drivers.profile import GaugeProfile
from drivers.profiles import load_profile
from drivers.toml_form import check_toml
from tests.drivers.wire_tools import LOOKS, NAMES

TABLE = Path(__file__).parent.parent / "data" / "profile_mistakes.toml"
MISTAKES = tomllib.loads(TABLE.read_text("utf-8"))["mistakes"]

JARGON = re.compile(r"pydantic|validation|Input should|instance|NoneType|dict|tuple|frozenset|\bb'")


def builtin_text(name: str) -> str:
    return (resources.files("drivers.profiles") / f"{name}.toml").read_text("utf-8")


def problems_of(text: str) -> list[str]:
    profile, problems = check_toml(text, "gauge.toml", GaugeProfile)
    assert (profile is None) == bool(problems)
    return problems


@pytest.mark.parametrize("mistake", MISTAKES, ids=lambda each: each["to"][:30].strip() or "-")
def test_a_mistake_is_told_with_line_field_and_what_would_be_right(mistake):
    text = builtin_text(mistake["profile"])
    assert mistake["change"] in text
    problems = problems_of(text.replace(mistake["change"], mistake["to"], 1))
    assert problems == [f"gauge.toml:{words}" for words in mistake["says"]]
    assert not JARGON.search("".join(problems))


def test_the_table_of_mistakes_is_long():
    assert len(MISTAKES) >= 80


def test_every_mistake_in_a_file_is_told_at_once_in_the_order_of_the_file():
    text = (
        builtin_text("decimal-line").replace("baud = 9600", "baud = 1").replace("rate_hz", "rate")
    )
    text = text.replace('number = "12.345"', 'number = "12,345"')
    assert problems_of(text) == [
        "gauge.toml:8: serial.baud: 1 must be at least 50",
        'gauge.toml:12: sends.rate: unknown name; did you mean "rate_hz"?',
        'gauge.toml:30: samples.1.number: "12,345" has a comma; write a point: "12.345"',
    ]


def test_the_line_is_found_in_an_array_of_many_lines_with_brackets_and_signs_in_text():
    text = (
        builtin_text("fixed-fields")
        .replace('"G" }', '"]#G[" }')
        .replace("digits = 4", "digits = 0")
    )
    (problem,) = problems_of(text)
    assert problem == "gauge.toml:25: layout.fields.3.digits: 0 must be at least 1"


def test_an_empty_file_says_what_belongs_in_it():
    problems = problems_of("")
    assert "gauge.toml:1: sends: is missing; add the table [sends]" in problems
    assert "gauge.toml:1: samples: is missing; add at least one [[samples]]" in problems
    assert all(problem.startswith("gauge.toml:1: ") for problem in problems)


def test_a_profile_error_shows_all_its_lines(tmp_path):
    file = tmp_path / "my-gauge.toml"
    file.write_text(
        builtin_text("decimal-line").replace("9600", "1").replace("= 32", "= 1"), "utf-8"
    )
    with pytest.raises(ProfileError) as caught:
        load_profile(str(file))
    assert str(caught.value).splitlines() == [
        f"{file}:8: serial.baud: 1 must be at least 50",
        f"{file}:17: frame.max_bytes: 1 must be at least 4",
    ]
    assert len(caught.value.problems) == 2


@LOOKS
@given(data=st.data())
def test_no_damage_to_a_file_makes_the_check_itself_fail(data):
    """Whatever somebody does to a profile, the answer is a profile or lines about it."""
    lines = builtin_text(data.draw(st.sampled_from(NAMES))).splitlines()
    for _ in range(data.draw(st.integers(1, 3))):
        at = data.draw(st.integers(0, len(lines) - 1))
        match data.draw(st.integers(0, 3)):
            case 0:
                del lines[at]
                lines = lines or [""]
            case 1:
                lines[at] = lines[at].replace(
                    "=", data.draw(st.sampled_from(["", ":", "= -", "= ["]))
                )
            case 2:
                value = data.draw(
                    st.sampled_from(['"x"', "5", "0.5", "[]", "{}", "true", "{hex=1}"])
                )
                lines[at] = re.sub(r"= .*", f"= {value}", lines[at])
            case _:
                lines.insert(at, data.draw(st.text(max_size=10)))
    for problem in problems_of("\n".join(lines)):
        assert re.match(r"gauge\.toml:\d+: \S", problem)
        assert "\n" not in problem

"""Spoilt inputs in short: every parser takes them or refuses them in our own words."""

import pytest

from drivers.errors import RestpointError, TraceError
from drivers.profile import GaugeProfile
from drivers.toml_form import check_toml
from drivers.trace import read_trace
from tests.fuzz.__main__ import fuzzed
from tests.fuzz.parsers import parsers

NAMES = [parser.name for parser in parsers("")]


@pytest.fixture
def parser(request, tmp_path):
    return next(each for each in parsers(tmp_path) if each.name == request.param)


@pytest.mark.parametrize("parser", NAMES, indirect=True)
def test_it_takes_or_refuses_and_never_breaks(parser):
    _, _, _, found = fuzzed(parser, 150, seed=11)
    assert found == []


@pytest.mark.parametrize("parser", NAMES, indirect=True)
def test_what_it_begins_from_is_sound(parser):
    def is_taken(seed):
        try:
            parser.read(seed)
        except RestpointError:
            return False
        return True

    assert any(is_taken(seed) for seed in parser.seeds)


@pytest.mark.parametrize("text", ["name = " + "[" * 5000, "x" + ".x" * 3000 + " = 1"])
def test_a_deep_file_is_refused_like_any_other_nonsense(text):
    profile, problems = check_toml(text, "deep.toml", GaugeProfile)
    assert profile is None
    assert problems[0].startswith("deep.toml:1: ")


def test_a_carriage_return_in_a_trace_is_refused_with_its_line():
    with pytest.raises(TraceError, match=r"x:2: is no line of a table"):
        list(read_trace(["t_s,value\n", "1.0\r,2\n"], "x"))

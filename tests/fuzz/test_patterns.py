"""No regular expression of ours gets slow on any text: its time grows with the length alone."""

import re

import pytest

from tests.fuzz.patterns import LONGEST_S, attacks, patterns, slowest_s

FOUND = [pytest.param(pattern, searched, id=name) for name, pattern, searched in patterns()]


@pytest.mark.parametrize(("pattern", "is_searched"), FOUND)
def test_a_pattern_is_linear(pattern, is_searched):
    slow = [
        part
        for part, end in attacks(pattern)
        if slowest_s(pattern, is_searched, part, end) > LONGEST_S
        and slowest_s(pattern, is_searched, part, end) > LONGEST_S  # twice: a busy machine
    ]
    assert slow == []


@pytest.mark.parametrize("bad", [r"(a+)+b", r"(?:[ \t]+|#.*)*x", r" *-? *[0-9]+", r"[0-9]*[0-9]+x"])
def test_a_bad_pattern_is_found_out(bad):
    pattern = re.compile(bad)
    assert any(slowest_s(pattern, False, part, end) > LONGEST_S for part, end in attacks(pattern))


def test_there_are_many():
    assert len(FOUND) > 80

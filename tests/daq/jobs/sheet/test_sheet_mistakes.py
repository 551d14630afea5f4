"""Every mistake on a sheet is told once, at its line, with what would be right."""

import pytest

from tests.daq.jobs.sheet.planted import BASE, MISTAKES, line_of, problems_of, with_mistakes

TOGETHER = [mistake for mistake in MISTAKES if mistake.together]


def test_the_sheet_without_mistakes_is_sound():
    assert problems_of(BASE) == []


@pytest.mark.parametrize("mistake", MISTAKES, ids=lambda mistake: mistake.told[:50])
def test_a_mistake_alone_is_told_once_at_its_line_with_what_would_be_right(mistake):
    text = with_mistakes(mistake)
    assert problems_of(text) == [f"s.toml:{line_of(mistake.at, text)}: {mistake.told}"]


def test_mistakes_all_on_one_sheet_are_told_at_once_in_the_order_of_the_lines():
    assert len(TOGETHER) >= 25
    text = with_mistakes(*TOGETHER)
    planted = {f"s.toml:{line_of(each.at, text)}: {each.told}" for each in TOGETHER}
    told = problems_of(text)
    assert len(told) == len(TOGETHER)
    assert set(told) == planted
    lines = [int(problem.split(":")[1]) for problem in told]
    assert lines == sorted(lines)

"""The screen as it is seen: whole pictures, and what holds for every view at every size."""

import dataclasses
import math
import os
import re
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from rich.cells import cell_len

from daq.screen.drawing import rows_of
from daq.screen.view import BenchView

from .bench_views import STATES, at_rest, bench_view

PICTURES = Path(__file__).parent / "pictures"
SIZES = [(80, 24), (120, 40), (40, 15), (60, 20), (20, 6), (200, 60)]
BLOCKS = set("█▀▄")


def lines_of(view, width=80, height=24, **options):
    rows = rows_of(view, width, height, **options)
    return ["".join(text for text, _ in row) for row in rows]


def rows_with(view, role, width=80, height=24):
    rows = rows_of(view, width, height)
    return [y for y, row in enumerate(rows) if any(piece[1] == role for piece in row)]


@pytest.mark.parametrize("state", sorted(STATES))
def test_each_state_looks_like_its_picture(state):
    # To draw the pictures anew after a change of the look: RESTPOINT_DRAW_PICTURES=1
    drawn = "\n".join(line.rstrip() for line in lines_of(STATES[state])) + "\n"
    path = PICTURES / f"{state}.txt"
    if "RESTPOINT_DRAW_PICTURES" in os.environ:
        path.write_text(drawn, encoding="utf-8")
    assert drawn == path.read_text(encoding="utf-8")


lengths = st.decimals(-200, 200, places=5) | st.decimals() | st.none()
floats = st.none() | st.floats()
texts = st.text(max_size=60) | st.sampled_from(
    ["位置ゲージ", "e\u0301" * 9, "a\ufe0fb", "👩\u200d🔧 x"]
)


@st.composite
def views(draw):
    limits = sorted(
        draw(st.lists(st.decimals(-9, 9, places=4), min_size=2, max_size=2, unique=True))
    )
    lower, upper = (limit if draw(st.booleans()) else None for limit in limits)
    choose = lambda *choices: draw(st.sampled_from(choices))  # noqa: E731
    return BenchView(
        gauge_label=draw(texts),
        profile=draw(texts),
        spec_name=draw(texts),
        notice=draw(texts),
        doubt=choose("", draw(texts)),
        guide_words=draw(texts),
        amount=choose("", "1/8", "hair", "15 7/8", "3 clicks", draw(texts)),
        link_state=choose("live", "live", "live", "no signal", "cable out", "opening", "key"),
        unit=choose("mm", "in"),
        step_mm=choose(*(Decimal(step) for step in ("0.001", "0.01", "0.00254", "0.0001", "1"))),
        deviation_mm=draw(lengths),
        length_mm=draw(lengths),
        nominal_mm=draw(st.none() | st.decimals(0, 300, places=4)),
        lower_mm=lower,
        upper_mm=upper,
        motion=choose("moving", "coming to rest", "at rest", "vibrating", None),
        settled_mm=draw(floats),
        u_mm=draw(floats),
        n=draw(st.none() | st.integers(0, 10**9)),
        outcome=choose("in", "low", "high", "too close to call", None),
        way=choose("clockwise", "anticlockwise", "raise", "lower", "leave it", None),
        age_s=draw(st.sampled_from([0.1, 0.1, 0.1, 0.7, 1e9, math.inf, math.nan, None])),
        captured=draw(st.integers(0, 10**9)),
        captured_ago_s=draw(floats),
        refused_ago_s=draw(floats),
        bad_frames=draw(st.integers(0, 10**9)),
        statuses=tuple(draw(st.lists(texts, max_size=2))),
    )


@settings(max_examples=150, deadline=None)
@given(view=views(), width=st.integers(1, 140), height=st.integers(1, 50), ascii_only=st.booleans())
def test_the_drawing_fills_the_terminal_exactly(view, width, height, ascii_only):
    lines = lines_of(view, width, height, ascii_only=ascii_only)

    assert len(lines) == height
    assert {cell_len(line) for line in lines} == {width}
    assert all(line.isprintable() for line in lines)
    if ascii_only:
        assert all(line.isascii() for line in lines)


def number_of(view, size):
    """The number's rows on the screen, and the column where it ends."""
    rows, end = [], 0
    for y, row in enumerate(rows_of(view, *size)):
        column = 0
        for text, role in row:
            if role == "number":
                rows.append(y)
                end = max(end, column + len(text.rstrip()))
            column += len(text)
    return rows, end


MOVING = st.builds(
    lambda mils, motion, way: bench_view(str(Decimal(mils) / 1000), motion=motion, way=way),
    mils=st.integers(-9_999, 9_999).filter(lambda mils: mils % 10 not in (1, 4, 7)),
    motion=st.sampled_from(["moving", "coming to rest", "at rest", "vibrating"]),
    way=st.sampled_from(["clockwise", "anticlockwise", "raise", "lower", "leave it"]),
)


@settings(deadline=None)
@given(one=MOVING, other=MOVING, size=st.sampled_from(SIZES[:5]))
def test_nothing_jumps_while_the_value_moves(one, other, size):
    # Figures with a blank right edge (1, 4, 7) are left out: the end is seen by its ink.
    assert number_of(one, size) == number_of(other, size)
    assert rows_with(one, "wall", *size) == rows_with(other, "wall", *size)


@pytest.mark.parametrize("size", SIZES)
def test_the_point_stays_where_it_is_when_the_number_gets_longer(size):
    assert number_of(bench_view("9.999"), size) == number_of(bench_view("-10.000"), size)


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("state", sorted(STATES))
def test_an_old_reading_leaves_no_number_no_needle_and_no_guidance(state, size):
    old = dataclasses.replace(
        STATES[state], age_s=0.51, notice="", doubt="", last_capture="", length_mm=None
    )
    drawn = "\n".join(lines_of(old, *size))

    assert rows_of(old, *size) == rows_of(
        dataclasses.replace(old, deviation_mm=None, way=None, amount="", guide_words=""), *size
    )
    assert not set(drawn) & set("◄►↷↶↑↓▐")
    assert not re.search(r"clockwise|lower|leave", drawn)


@pytest.mark.parametrize("size", SIZES)
def test_the_states_are_told_apart_without_colour(size):
    drawn = {state: "\n".join(lines_of(view, *size)) for state, view in STATES.items()}

    assert len(set(drawn.values())) == len(drawn)


WORDS_FOR = {
    "moving": ["moving", "clockwise 1/8 turn"],
    "coming-to-rest": ["coming to rest"],
    "in": ["at rest", "within limits", "leave it", "+0.0020 mm ± 0.0012 mm (k=2)", "n 41"],
    "low": ["below the lower limit", "anticlockwise about 1/16 turn"],
    "high": ["above the upper limit", "lower 0.093 mm"],
    "too-close-to-call": ["too close to call"],
    "beyond-scale": ["off the scale", "above the upper limit"],
    "vibrating": ["vibrating"],
    "refused": ["not captured: the reading is still moving"],
    "doubt": ["the display changed from mm to in"],
    "no-signal": ["no reading for 1.2 s"],
    "cable-out": ["cable out", "plug the cable in again"],
}


@pytest.mark.parametrize("state", sorted(WORDS_FOR))
def test_plain_words_near_the_screen_say_what_the_shapes_say(state):
    drawn = "\n".join(lines_of(STATES[state]))

    assert [words for words in WORDS_FOR[state] if words not in drawn] == []
    assert "BENCH 3" in drawn
    assert "rack reference" in drawn


def test_all_is_well_is_a_filled_slab_and_nothing_else_is():
    def ink(state):
        rows = rows_with(STATES[state], STATES_MOOD[state])
        lines = lines_of(STATES[state])
        return sum(lines[y].count("█") for y in rows if lines[y].count("█") > 40)

    assert ink("in") > 200
    assert ink("captured") > 200
    assert ink("moving") == ink("coming-to-rest") == ink("refused") == 0


STATES_MOOD = {
    "in": "good",
    "captured": "good",
    "moving": "turn",
    "coming-to-rest": "wait",
    "refused": "stop",
}


def test_the_floor_is_whole_only_at_rest():
    def floor(motion):
        (line,) = (
            line
            for line in lines_of(bench_view("0.002", motion=motion))
            if line.endswith(f"  {motion}  ")
        )
        return line.strip().removesuffix(motion).rstrip()

    assert set(floor("at rest")) == {"▀"}
    for motion in ("moving", "coming to rest", "vibrating"):
        assert set(floor(motion)) != {"▀"}


@pytest.mark.parametrize("way", ["clockwise", "anticlockwise"])
@pytest.mark.parametrize("amount", ["1/16", "1/8", "3/16", "1/3", "7/8", "hair", "1", "12 3/4"])
def test_every_turn_is_told_in_block_letters_on_80_columns(way, amount):
    lines = lines_of(bench_view("0.080", way=way, amount=amount))
    rows = rows_with(bench_view("0.080", way=way, amount=amount), "turn")

    assert len([y for y in rows if len(set(lines[y]) & BLOCKS) and "▒" not in lines[y]]) >= 6


@pytest.mark.parametrize(("width", "height"), [(80, 24), (100, 30), (120, 40), (200, 60)])
def test_the_number_grows_with_the_terminal(width, height):
    rows, _ = number_of(bench_view("0.080"), (width, height))

    assert len(rows) >= height * 2 // 5


def test_a_number_that_has_no_room_is_not_shown_in_part():
    drawn = "\n".join(lines_of(at_rest("12.345", "high"), 5, 3))

    assert not re.search(r"\d", drawn)


@pytest.mark.parametrize("height", range(1, 24))
@pytest.mark.parametrize("width", [10, 20, 40, 80])
def test_on_a_small_terminal_the_number_and_the_headline_stay_to_the_last(width, height):
    drawn = "\n".join(lines_of(bench_view("0.080", way="clockwise", amount="1/8"), width, height))

    if height >= 2:
        assert "+0.080" in drawn or set(drawn) & BLOCKS
    assert "↷" in drawn or "CLOCKWISE" in drawn.replace(" ", "") or set(drawn) & BLOCKS


def test_a_wide_character_keeps_its_room_in_ascii():
    view = bench_view("0.080", way="clockwise", amount="位")

    assert {len(line) for line in lines_of(view, 40, 15, ascii_only=True)} == {40}

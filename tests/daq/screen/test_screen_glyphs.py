"""The block letters: one width for every figure, and readable from three metres."""

import itertools
import math
import string
from fractions import Fraction

import pytest

from daq.screen.glyphs import FIGURES, LETTERS, MARKS, TALL, block, half_blocks, inverted, width_of
from daq.screen.view import BenchView, Headline, headline

THIRDS = [Fraction(thirds, 3) for thirds in range(1, 13)]
FIGURE_CELLS = string.digits + "+- "

COLUMN_MM = 345 / 80
"""A column of an 80-column screen that fills a 15.6 inch, 16:9 display (345 mm wide)."""

DISTANCE_MM = 3000


def minutes_of_arc(size_mm: float) -> float:
    return math.degrees(math.atan(size_mm / DISTANCE_MM)) * 60


@pytest.mark.parametrize("font", [TALL, FIGURES, LETTERS, MARKS])
def test_the_rows_of_a_picture_have_one_length(font):
    for name, picture in font.pictures.items():
        assert len(picture) == font.height, name
        assert len({len(row) for row in picture}) == 1, name


@pytest.mark.parametrize("scale", THIRDS)
@pytest.mark.parametrize("font", [TALL, FIGURES])
def test_figures_signs_and_blank_have_one_width(font, scale):
    assert len({len(block(char, font, (scale, scale))[0]) for char in FIGURE_CELLS}) == 1


@pytest.mark.parametrize("scale", THIRDS)
def test_the_width_foretold_is_the_width_drawn(scale):
    for font, text in ((TALL, "+0.080"), (FIGURES, "-12.5"), (LETTERS, "NO SIGNAL")):
        assert width_of(text, font, scale) == len(block(text, font, (scale, scale))[0])


@pytest.mark.parametrize("scale", THIRDS[1:])
def test_scaled_strokes_stay_even(scale):
    zero = block("0", TALL, (scale, scale))
    stroke = 3 * scale.numerator // scale.denominator
    middle = zero[len(zero) // 2]

    assert middle.startswith("#" * stroke + ".")
    assert middle.endswith("." + "#" * stroke)
    assert sum(row[len(row) // 2] == "#" for row in zero) >= 2 * stroke


def test_strokes_are_two_columns_wide_at_least():
    narrowest = min(
        len(run)
        for name, picture in TALL.pictures.items()
        for row in picture
        for run in row.split(".")
        if run and name not in "2457"  # the tips of their slopes and flags
    )

    assert narrowest >= 2


@pytest.mark.parametrize("font", [TALL, FIGURES])
def test_no_two_figures_look_alike(font):
    for one, other in itertools.combinations(string.digits, 2):
        pairs = zip("".join(font.pictures[one]), "".join(font.pictures[other]), strict=True)
        differing = sum(a != b for a, b in pairs)
        assert differing >= 5, f"{one} and {other} differ in {differing} pixels"


def test_the_number_is_readable_from_three_metres():
    # 22 minutes of arc of capital height read comfortably (common ergonomic guidance, from
    # memory); twice that is asked for here, because somebody glances up from an engine.
    assert minutes_of_arc(TALL.height * COLUMN_MM) > 44
    assert minutes_of_arc(LETTERS.height * COLUMN_MM) > 44


def test_every_headline_can_be_set_in_block_letters():
    views = [
        BenchView(gauge_label="A", link_state=state)
        for state in ("no signal", "cable out", "opening", "key")
    ]
    said: list[Headline] = [headline(view) for view in views]

    assert LETTERS.has(string.ascii_uppercase + string.digits + "/+-. ")
    assert all(LETTERS.has(text) for each in said for text in each.texts)


def test_half_blocks_set_two_rows_of_pixels_in_one_line():
    assert half_blocks(("#.#.", "##..", "#..#")) == ("█▄▀ ", "▀  ▀")


def test_a_picture_inverted_twice_is_itself():
    picture = block("IN 1/8", LETTERS, (Fraction(1), Fraction(1)))

    assert inverted(picture) != picture
    assert inverted(inverted(picture)) == picture

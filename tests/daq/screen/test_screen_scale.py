"""The limits scale: the needle is on the right side of each limit, and the scale stands still."""

from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daq.screen.scale import FEWEST_COLUMNS, Spot, scale_of

from .bench_views import at_rest, bench_view

LENGTHS = st.decimals(-2, 2, places=4)
WIDTHS = st.integers(FEWEST_COLUMNS, 200)


@st.composite
def limited_views(draw):
    lower, upper = sorted(draw(st.lists(LENGTHS, min_size=2, max_size=2, unique=True)))
    which = draw(st.sampled_from(["both", "lower", "upper"]))
    aim = draw(st.sampled_from([Decimal(0), (lower + upper) / 2]))
    return bench_view(
        str(draw(LENGTHS)),
        lower_mm=None if which == "upper" else lower,
        upper_mm=None if which == "lower" else upper,
        aim_mm=aim,
    )


@given(view=limited_views(), width=WIDTHS)
def test_the_needle_is_on_the_side_of_each_limit_that_the_value_is_on(view, width):
    scale = scale_of(view, width)

    if view.lower_mm is not None:
        assert (scale.needle.column <= scale.lower) == (view.deviation_mm < view.lower_mm)
    if view.upper_mm is not None:
        assert (scale.needle.column >= scale.upper) == (view.deviation_mm > view.upper_mm)


@given(view=limited_views(), other=LENGTHS, width=WIDTHS)
def test_the_scale_stands_still_while_the_value_moves(view, other, width):
    one, two = scale_of(view, width), scale_of(replace(view, deviation_mm=other), width)

    assert (one.aim, one.lower, one.upper) == (two.aim, two.lower, two.upper)


@given(view=limited_views(), width=WIDTHS)
def test_everything_marked_is_on_the_scale(view, width):
    scale = scale_of(view, width)
    marked = [scale.aim, scale.needle.column, scale.lower, scale.upper]

    assert all(0 <= column < width for column in marked if column is not None)


@pytest.mark.parametrize(
    ("deviation", "spot"),
    [
        ("-0.101", Spot(0, "left")),
        ("-0.100", Spot(0)),
        ("-0.051", Spot(10)),
        ("-0.050", Spot(11)),
        ("0", Spot(20)),
        ("0.050", Spot(29)),
        ("0.051", Spot(30)),
        ("0.100", Spot(40)),
        ("0.101", Spot(40, "right")),
    ],
)
def test_the_needle_has_its_place(deviation, spot):
    assert scale_of(bench_view(deviation), 41).needle == spot


def test_there_is_no_needle_without_a_fresh_number():
    assert scale_of(bench_view("0.080", age_s=0.6), 41).needle is None
    assert scale_of(bench_view(None), 41).needle is None


def test_the_band_is_as_wide_as_the_expanded_uncertainty():
    # u = 0.010 mm, so ± 0.020 mm about 0.010 mm; a column is 0.005 mm.
    view = at_rest("0.010", "in", settled_mm=0.010, u_mm=0.010)

    assert scale_of(view, 41).band == (18, 26)


@pytest.mark.parametrize(
    "fields", [{"u_mm": None}, {"u_mm": float("nan")}, {"settled_mm": None}, {"motion": "moving"}]
)
def test_there_is_no_band_unless_at_rest_with_an_uncertainty(fields):
    assert scale_of(at_rest("0.010", "in", **fields), 41).band is None


def test_a_limit_at_zero_alone_still_makes_a_scale():
    view = bench_view("0.010", lower_mm=None, upper_mm=Decimal(0))

    assert scale_of(view, 41).needle.column > scale_of(view, 41).upper

"""Settled values, results and their uncertainty."""

import math
import subprocess
import sys
from decimal import Decimal

import pytest

from daq.jobs.recipes import Component, Part, RecipeError, Refusal, Result, Settled


def result(value=1.0, unit="mm", components=(), **more):
    return Result("length", value, unit, tuple(components), ("c1",), **more)


def test_the_uncertainty_is_the_root_sum_of_squares_of_the_components():
    """JCGM 100:2008, H.1: 25, 5.8, 3.9, 6.7, 2.9 and 16.6 nm give 32 nm (31.67 unrounded)."""
    shares = (25, 5.8, 3.9, 6.7, 2.9, 16.6)
    made = result(components=[Component(f"input {i}", nm * 1e-6) for i, nm in enumerate(shares)])
    assert f"{made.u_mm * 1e6:.0f}" == "32"
    assert made.u == pytest.approx(31.67e-6, abs=0.01e-6)


def test_a_component_counts_with_the_size_of_its_sensitivity():
    """JCGM 100:2008, H.1: 50 mm, 11.5e-6 /K and 0.05 K/sqrt(3) are 16.6 nm."""
    share = Component("temperature", 0.05 / math.sqrt(3), "K", -50.000623 * 11.5e-6)
    assert share.contribution * 1e6 == pytest.approx(16.6, abs=0.05)
    assert result(components=[share, Component("other", 12e-6)]).u == pytest.approx(
        math.hypot(16.599e-6, 12e-6), rel=1e-4
    )


def test_a_result_is_recorded_to_the_nanometre_with_an_uncertainty_that_is_never_nothing():
    made = result(12.3456784999, components=[Component("repeats", 0.00012345678)])
    assert made.recorded == (Decimal("12.345678"), Decimal("0.000123"))
    assert result().recorded[1] == Decimal("0.000001")


def test_an_angle_is_not_taken_for_a_length():
    made = result(0.3, unit="deg", components=[Component("angles", 0.1, "deg")])
    assert (made.value, made.u) == (0.3, 0.1)
    for name in ("value_mm", "u_mm"):
        with pytest.raises(RecipeError, match="deg, not a length"):
            getattr(made, name)


def test_a_part_is_found_by_its_name_and_what_it_is_of():
    made = result(parts=(Part("mean", 1.0, "mm", of="1"), Part("mean", 2.0, "mm", of="2")))
    assert made.part("mean", "2").value == 2.0
    with pytest.raises(RecipeError, match="no part 'mean' of 3"):
        made.part("mean", "3")


def test_doubts_are_added_and_empty_ones_left_out():
    made = result(doubts=("first",)).with_doubts("", "second")
    assert made.doubts == ("first", "second")


@pytest.mark.parametrize(
    ("facts", "words"),
    [
        ({"value_mm": math.nan}, "a settled value is nan"),
        ({"value_mm": math.inf}, "finite"),
        ({"u_mm": -0.001}, "0 or more"),
        ({"u_mm": math.nan}, "finite"),
        ({"n": 0}, "1 or more"),
        ({"angle_deg": math.inf}, "an angle"),
        ({"at_s": math.nan}, "a time"),
    ],
)
def test_a_settled_value_that_means_nothing_is_refused(facts, words):
    with pytest.raises(RecipeError, match=words):
        Settled(**{"value_mm": 1.0, "u_mm": 0.001, "n": 5, "uid": "c1", **facts})


@pytest.mark.parametrize("facts", [{"u": -1.0}, {"u": math.nan}, {"sensitivity": math.inf}])
def test_a_component_that_means_nothing_is_refused(facts):
    with pytest.raises(RecipeError):
        Component(**{"name": "x", "u": 1.0, **facts})


def test_a_refusal_says_why_and_what_to_do():
    assert str(Refusal("the turn does not close", "Take it again", missing=False)) == (
        "the turn does not close. Take it again."
    )


def test_recipes_and_learning_load_no_slow_library():
    program = (
        "import sys, daq.jobs.recipes, daq.jobs.learning\n"
        "print(*sorted({'numpy', 'pint', 'scipy', 'serial', 'rich'} & set(sys.modules)))"
    )
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=True
    )
    assert done.stdout.split() == []

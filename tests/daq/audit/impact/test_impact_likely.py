"""Chances for many values at once, against those for one at a time."""

import math

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import norm

from daq.audit.impact.likely import likely
from daq.spec.probability import between

DEVIATIONS = st.one_of(st.floats(-40.0, 40.0), st.just(math.inf))


@given(st.lists(st.tuples(DEVIATIONS, st.floats(0.0, 20.0)), min_size=1))
def test_the_chance_of_each_is_what_it_is_by_itself_to_the_last_digit(pairs):
    below = np.array([low for low, _ in pairs])
    above = np.array([math.inf if math.isinf(low) else width - low for low, width in pairs])
    each = [between(-low, high) for low, high in zip(below, above, strict=True)]
    assert likely(below, above).tolist() == each


def test_far_outside_its_limits_a_value_still_has_a_chance():
    below, above = np.array([-12.0]), np.array([20.0])
    expected = norm.sf(12.0) - norm.sf(20.0)
    assert likely(below, above)[0] > 0
    assert math.isclose(likely(below, above)[0], expected, rel_tol=1e-12)


def test_without_limits_it_is_certain():
    assert likely(np.array([math.inf]), np.array([math.inf])).tolist() == [1.0]

"""Last digits: which can come, and how even they are, in open data sets."""

import math

import numpy as np
import pytest

from daq.audit.statistics import digit_test, even_digits, last_digit, last_digits

MICROMETRE = 1_000


@pytest.mark.parametrize(
    ("step_nm", "place_nm", "allowed"),
    [
        (1_000, 1_000, tuple(range(10))),
        (10_000, 10_000, tuple(range(10))),
        (5_000, 1_000, (0, 5)),
        (500, 100, (0, 5)),
        (2_000, 1_000, (0, 2, 4, 6, 8)),
        (25_400, 25_400, tuple(range(10))),  # 0.001 in
        (12_700, 2_540, (0, 5)),  # 0.0005 in
        (1_270, 254, (0, 5)),  # 0.00005 in
    ],
)
def test_the_step_says_which_last_digits_can_come(step_nm, place_nm, allowed):
    shown = last_digit(step_nm)
    assert (shown.place_nm, shown.allowed) == (place_nm, allowed)


def test_a_last_digit_has_no_sign():
    assert last_digits([12_343_000, -12_343_000, 0], MICROMETRE).tolist() == [3, 3, 0]


def test_a_value_between_two_steps_has_no_last_digit():
    assert last_digits([12_345_500], MICROMETRE).tolist() == [-1]
    assert digit_test([*range(0, 100_000, 1_000), 500], MICROMETRE).off_step == 1


# Counts of the last digits of open data sets (R datasets: faithful, waiting; rivers; NIST StRD:
# PiDigits; morley, speed) with chi-square and p by scipy.stats.chisquare on them.
@pytest.mark.parametrize(
    ("counts", "chi_square", "p", "within"),
    [
        ((466, 531, 496, 461, 508, 525, 513, 488, 491, 521), 10.356, 0.32244, 2e-5),
        ((29, 25, 23, 34, 30, 26, 27, 22, 29, 27), 4.102941, 0.90451, 1e-5),
        ((74, 8, 5, 4, 5, 22, 8, 5, 6, 4), 300.914894, 1.7e-59, 3e-2),
        # The speed of light in steps of 10 km/s: nine times n. Its p by scipy.stats.chi2.sf.
        ((100, 0, 0, 0, 0, 0, 0, 0, 0, 0), 900.0, 6.187e-188, 1e-2),
    ],
    ids=["digits of pi", "waiting for a geyser", "lengths of rivers", "speed of light"],
)
def test_even_digits_are_told_from_preferred_ones(counts, chi_square, p, within):
    found = even_digits(counts, MICROMETRE)
    assert found.chi_square == pytest.approx(chi_square, abs=5e-7)
    assert found.p == pytest.approx(p, rel=within)
    assert found.dof == 9


def test_a_coarse_step_that_shows_only_0_and_5_is_no_preference():
    values = np.arange(0, 10_000_000, 5_000)
    assert digit_test(values, 5_000).p == pytest.approx(1)
    assert digit_test(values, MICROMETRE).p < 1e-100


def test_a_preference_is_found_among_two_digits_too():
    assert even_digits([80, 0, 0, 0, 0, 20, 0, 0, 0, 0], 5_000).p == pytest.approx(
        1.973e-9, rel=1e-3
    )


def test_a_digit_that_cannot_come_is_counted_apart():
    found = even_digits([50, 3, 0, 0, 0, 50, 0, 0, 0, 0], 5_000)
    assert (found.counts, found.off_step) == ((50, 50), 3)


def test_too_few_values_are_not_tested():
    assert math.isnan(even_digits([40, 0, 0, 0, 0, 0, 0, 0, 0, 9], MICROMETRE).p)


def test_a_step_of_nothing_is_refused():
    with pytest.raises(ValueError, match="above 0"):
        last_digit(0)

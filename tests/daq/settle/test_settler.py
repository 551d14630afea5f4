"""The settler seen from outside: what it says of made-up motions with known truth."""

import math
import random

import pytest

from daq.settle import Settler

STEP = 0.001
T = 0.001


def run(settler, seconds, rate, length_mm, *, sd=0.0, seed=1, start_s=0.0, step=STEP):
    """Push `seconds` of readings of length_mm(t); give the list of (t, rest or None)."""
    rng = random.Random(seed)
    said = []
    for i in range(int(seconds * rate)):
        t = start_s + i / rate
        shown = round((length_mm(t) + rng.gauss(0, sd)) / step) * step
        said.append((t, settler.push(t, shown)))
    return said


@pytest.mark.parametrize("rate", [10, 50, 1000])
def test_a_constant_digit_comes_to_rest_with_u_of_step_over_root_12(rate):
    said = run(Settler(STEP, T, rate), 8, rate, lambda t: 12.345)
    first = next(t for t, rest in said if rest)
    assert 0.5 <= first <= 1.5
    rest = said[-1][1]
    assert rest.value_mm == pytest.approx(12.345, abs=1e-9)
    assert rest.u_mm == pytest.approx(STEP / math.sqrt(12), rel=0.05)
    assert rest.since_s < rest.until_s <= said[-1][0]
    assert rest.n >= 10


@pytest.mark.parametrize("rate", [10, 50, 1000])
def test_a_rest_is_given_at_every_push_while_it_lasts(rate):
    said = run(Settler(STEP, T, rate), 6, rate, lambda t: 3.0, sd=0.3 * T)
    first = next(i for i, (_, rest) in enumerate(said) if rest)
    assert all(rest is not None for _, rest in said[first:])


@pytest.mark.parametrize("rate", [10, 50])
def test_a_slow_ramp_never_rests(rate):
    """2 T a second shows equal digits for half a second at a time."""
    said = run(Settler(STEP, T, rate), 20, rate, lambda t: 5 + 2 * T * t, sd=0.1 * T)
    assert all(rest is None for _, rest in said)


@pytest.mark.parametrize("rate", [10, 50])
def test_a_slow_creep_is_no_rest_while_more_than_the_tolerance_is_to_come(rate):
    def length(t):
        return 5 + 12 * T * math.exp(-t / 1.5)

    for seed in range(10):
        said = run(Settler(STEP, T, rate), 12, rate, length, sd=0.1 * T, seed=seed)
        first = next(t for t, rest in said if rest)
        assert length(first) - 5 <= T


@pytest.mark.parametrize("rate", [10, 50, 1000])
def test_a_rest_is_withdrawn_when_the_part_moves(rate):
    said = run(Settler(STEP, T, rate), 6, rate, lambda t: 5.0 if t < 4 else 5.0 + 8 * T)
    before = [rest for t, rest in said if 3.5 < t < 4]
    after = [rest for t, rest in said if 4.25 < t < 4.5]
    assert all(before)
    assert not any(after)
    assert said[-1][1].value_mm == pytest.approx(5.0 + 8 * T, abs=0.2 * T)


def test_one_wrong_frame_neither_ends_a_rest_nor_enters_its_mean():
    settler = Settler(STEP, T, 50)
    run(settler, 4, 50, lambda t: 5.0)
    rest = settler.push(4.0, 0.0)
    assert rest is not None
    assert run(settler, 1, 50, lambda t: 5.0, start_s=4.02)[-1][1].value_mm == pytest.approx(5.0)


@pytest.mark.parametrize("bad", [math.nan, math.inf, -math.inf])
def test_values_that_are_no_numbers_are_passed_over(bad):
    settler = Settler(STEP, T, 50)
    assert settler.push(0.0, bad) is None
    for i in range(200):
        rest = settler.push(i / 50, 5.0 if i % 7 else bad)
    assert rest is not None
    assert rest.value_mm == pytest.approx(5.0)
    assert settler.push(bad, 5.0) is None or math.isfinite(settler.push(bad, 5.0).value_mm)


def test_equal_times_add_nothing():
    settler = Settler(STEP, T, 50)
    assert all(settler.push(1.0, 5.0) is None for _ in range(1000))


def test_a_clock_set_back_starts_anew():
    settler = Settler(STEP, T, 50)
    assert run(settler, 4, 50, lambda t: 5.0, start_s=100)[-1][1] is not None
    assert settler.push(20.0, 5.0) is None
    assert run(settler, 4, 50, lambda t: 5.0, start_s=20.02)[-1][1].since_s >= 20.0


def test_a_sign_flip_or_a_unit_change_starts_anew():
    settler = Settler(STEP, T, 50)
    run(settler, 4, 50, lambda t: 5.08)
    rest = run(settler, 3, 50, lambda t: -5.08, start_s=4)[-1][1]
    assert rest.value_mm == pytest.approx(-5.08)
    rest = run(settler, 3, 50, lambda t: -0.2, start_s=7)[-1][1]
    assert rest.value_mm == pytest.approx(-0.2)
    assert rest.since_s >= 7


@pytest.mark.parametrize("bad", [0.0, -1.0, math.nan, math.inf])
def test_a_step_or_tolerance_that_is_no_length_is_refused(bad):
    with pytest.raises(ValueError, match="resolution_mm"):
        Settler(bad, T)
    with pytest.raises(ValueError, match="tolerance_mm"):
        Settler(STEP, bad)


def test_the_rate_need_not_be_told():
    for rate in (10, 50, 1000):
        told = run(Settler(STEP, T, rate), 4, rate, lambda t: 5.0, sd=0.3 * T)
        untold = run(Settler(STEP, T), 4, rate, lambda t: 5.0, sd=0.3 * T)
        assert untold[-1][1].value_mm == pytest.approx(told[-1][1].value_mm, abs=0.1 * T)

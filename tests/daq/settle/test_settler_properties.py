"""What must not change what the settler says, and what must not break it."""

import math
import tracemalloc

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from daq.settle import Settler

STEP = T = 2.0**-10  # a power of two, so that scaling by two is exact
RATE = 25


def readings(seed):
    """A rest, a move, a creep and noise: readings on the display grid, in steps."""
    rng = np.random.default_rng(seed)
    t = np.arange(300) / RATE
    x = np.where(t < 4, 0.0, 40 + 8 * np.exp(-(t - 4) / 0.5))
    return [int(v) for v in np.round(x + rng.uniform(0.05, 0.8) * rng.standard_normal(300))]


def said(steps, *, offset=0, factor=1.0, shift_s=0.0, unit=STEP):
    settler = Settler(unit, unit, RATE)
    return [
        settler.push(i / RATE + shift_s, (s * factor + offset) * unit) for i, s in enumerate(steps)
    ]


def compare(before, after, value, u=1.0, shift_s=0.0):
    """Every rest of before has its counterpart in after."""
    assert [r is None for r in before] == [r is None for r in after]
    assert any(r is not None for r in before)
    for a, b in zip(before, after, strict=True):
        if a is not None:
            assert b.value_mm == pytest.approx(value(a.value_mm), abs=1e-9)
            assert b.u_mm == pytest.approx(u * a.u_mm, rel=1e-5)
            assert b.n == a.n
            assert b.since_s == pytest.approx(a.since_s + shift_s, abs=1e-6)


@settings(max_examples=15, deadline=None)
@given(seed=st.integers(0, 10**6), offset=st.integers(-(10**6), 10**6))
def test_adding_a_constant_moves_the_value_and_nothing_else(seed, offset):
    steps = readings(seed)
    compare(said(steps), said(steps, offset=offset), lambda v: v + offset * STEP)


@settings(max_examples=10, deadline=None)
@given(seed=st.integers(0, 10**6))
def test_reversing_the_sign_reverses_the_value_and_nothing_else(seed):
    steps = readings(seed)
    compare(said(steps), said(steps, factor=-1.0), lambda v: -v)


@settings(max_examples=10, deadline=None)
@given(seed=st.integers(0, 10**6), power=st.integers(-6, 6))
def test_another_unit_scales_value_and_u_alike(seed, power):
    steps, scale = readings(seed), 2.0**power
    compare(said(steps), said(steps, unit=STEP * scale), lambda v: v * scale, u=scale)


@settings(max_examples=10, deadline=None)
@given(seed=st.integers(0, 10**6), shift_s=st.integers(-(2**20), 2**20))
def test_another_start_of_the_clock_changes_times_alone(seed, shift_s):
    steps = readings(seed)
    compare(said(steps), said(steps, shift_s=shift_s), lambda v: v, shift_s=shift_s)


def test_five_times_the_readings_say_the_same_sooner_or_as_soon_with_less_u():
    firsts = []
    for rate in (20, 100):
        rng = np.random.default_rng(5)
        settler = Settler(STEP / 100, T, rate)
        for i in range(6 * rate):
            rest = settler.push(i / rate, 5 + 0.4 * T * rng.standard_normal())
            if rest is not None and len(firsts) < (1 if rate == 20 else 2):
                firsts.append(i / rate)
        assert rest.value_mm == pytest.approx(5, abs=3 * rest.u_mm)
    assert firsts[1] <= firsts[0]


@settings(max_examples=60, deadline=None)
@given(
    rows=st.lists(
        st.tuples(
            st.floats(allow_nan=True, allow_infinity=True),
            st.floats(allow_nan=True, allow_infinity=True),
        ),
        max_size=120,
    )
)
def test_no_times_and_values_break_it(rows):
    settler = Settler(STEP, T)
    for t_s, value_mm in rows:
        rest = settler.push(t_s, value_mm)
        assert rest is None or (math.isfinite(rest.value_mm) and rest.u_mm > 0)
        assert settler.state.kind


@settings(max_examples=30, deadline=None)
@given(
    gaps_ms=st.lists(st.integers(1, 400), min_size=150, max_size=150),
    values=st.lists(st.sampled_from([0.0, 1e300, -1e300, 5.0, 5.001, 1e-300, 7e9]), min_size=1),
)
def test_absurd_lengths_among_good_times_break_nothing(gaps_ms, values):
    settler, t_s = Settler(STEP, T, 10), 0.0
    for i, gap in enumerate(gaps_ms):
        t_s += gap / 1000
        rest = settler.push(t_s, values[i % len(values)])
        assert rest is None or math.isfinite(rest.value_mm)


def test_a_million_equal_readings_take_no_more_memory_and_stay_at_rest():
    settler = Settler(STEP, T, 1000)
    for i in range(60_000):
        settler.push(i / 1000, 5.0)
    tracemalloc.start()
    for i in range(60_000, 260_000):
        rest = settler.push(i / 1000, 5.0)
    used, _ = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert rest.value_mm == 5.0
    assert rest.u_mm == pytest.approx(STEP / math.sqrt(12), rel=0.01)
    assert used < 100_000


def test_the_screen_is_told_how_far_a_creep_has_to_go():
    settler = Settler(T / 100, T, 50)
    kinds = []
    for i in range(500):
        t = i / 50
        left = 10 * T * math.exp(-t / 1.2)
        settler.push(t, 5 + left)
        state = settler.state
        kinds.append(state.kind)
        if i == 100:
            assert state.remaining_mm == pytest.approx(-left, rel=0.2)
            assert state.remaining_s == pytest.approx(1.2 * math.log(left / (0.4 * T)), rel=0.3)
    assert kinds[100] == "coming to rest"
    assert kinds[-1] == "at rest"


def test_the_screen_is_told_of_a_slow_vibration_and_its_frequency():
    settler = Settler(T / 100, T, 10)
    for i in range(200):
        t = i / 10
        settler.push(t, 5 + 2 * T * math.sin(2 * math.pi * 0.4 * t))
    state = settler.state
    assert state.kind == "vibrating"
    assert state.frequency_hz == pytest.approx(0.4, abs=0.01)
    assert state.swing_mm == pytest.approx(4 * T, rel=0.05)
    assert "middle of the swing" in state.advice
    assert settler.push(20.0, 5.0).value_mm == pytest.approx(5.0, abs=0.1 * T)


def test_a_part_that_moves_while_it_vibrates_is_given_up_within_a_period():
    settler, said = Settler(T, T, 10), {}
    for i in range(400):
        t = i / 10
        moved = min(max((t - 20) / 2, 0.0), 1.0) * 4 * T
        x = 5 + moved + 1.5 * T * math.sin(2 * math.pi * 0.4 * t)
        said[i] = settler.push(t, round(x / T) * T)
    assert said[199].value_mm == pytest.approx(5.0, abs=0.2 * T)
    assert said[230] is None  # the move took from 20 s to 22 s; a period is 2.5 s
    assert said[399].value_mm == pytest.approx(5.0 + 4 * T, abs=0.2 * T)

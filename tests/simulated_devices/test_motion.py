"""Each motion against its closed form."""

import math
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from simulated_devices.motion import (
    Approach,
    Clicks,
    LockNut,
    LogCreep,
    Ramp,
    RingDown,
    Step,
    StickSlip,
    Still,
    Together,
    Vibration,
    Warming,
)

LATE = (
    Step(by_mm=1.5, start_s=4.0),
    Ramp(by_mm=-2.0, speed_mm_s=0.5, start_s=4.0),
    Approach(by_mm=1.0, tau_s=0.5, start_s=4.0),
    LogCreep(by_mm=0.01, start_s=4.0),
    Warming(length_mm=100.0, by_k=3.0, tau_s=60.0, start_s=4.0),
    RingDown(amplitude_mm=0.3, frequency_hz=5.0, damping_ratio=0.05, start_s=4.0),
    Vibration(amplitude_mm=0.1, frequency_hz=7.0, phase_rad=1.0, start_s=4.0),
    Clicks(by_mm=0.02, every_s=1.0, count=3, start_s=4.0),
    StickSlip(speed_mm_s=0.1, jump_mm=0.01, start_s=4.0),
    LockNut(by_mm=-0.006, start_s=4.0),
)
EVER = (*LATE, Still(3.25))


def kind(motion):
    return motion.kind


@pytest.mark.parametrize("motion", LATE, ids=kind)
def test_a_motion_is_exactly_zero_before_it_begins_and_something_later(motion):
    assert all(motion.at(t_s) == 0.0 for t_s in (0.0, 1.0, 3.999999))
    assert motion.at(7.77) != 0.0


@pytest.mark.parametrize("motion", EVER, ids=kind)
@settings(max_examples=30, derandomize=True)
@given(t_s=st.floats(0, 1e7))
def test_a_motion_is_a_finite_length_at_any_time(motion, t_s):
    assert math.isfinite(motion.at(t_s))
    assert motion.at(t_s) == motion.at(t_s)


def test_a_step_is_a_jump_at_its_moment():
    step = Step(by_mm=-0.7, start_s=25.0)
    assert step.at(math.nextafter(25.0, 0)) == 0.0
    assert step.at(25.0) == -0.7


@pytest.mark.parametrize("by_mm", [3.0, -3.0])
def test_a_ramp_goes_at_its_speed_and_stops_where_it_should(by_mm):
    ramp = Ramp(by_mm=by_mm, speed_mm_s=0.5, start_s=2.0)
    sign = math.copysign(1, by_mm)
    assert ramp.at(3.0) == 0.5 * sign
    assert ramp.at(7.0) == 2.5 * sign
    assert ramp.at(8.0) == ramp.at(1000.0) == by_mm


@pytest.mark.parametrize("tau_s", [0.05, 0.3, 40.0])
def test_an_approach_has_one_eth_of_the_way_left_after_each_time_constant(tau_s):
    approach = Approach(by_mm=5.0, tau_s=tau_s, start_s=1.0)
    for count in range(6):
        left_mm = 5.0 - approach.at(1.0 + count * tau_s)
        assert left_mm == pytest.approx(5.0 * math.e**-count, rel=1e-12)


def test_creep_goes_the_same_way_for_each_factor_of_ten_in_time():
    creep = LogCreep(by_mm=0.01, scale_s=2.0)
    for decade in range(1, 5):
        t_s = 2.0 * (10**decade - 1)  # 1 + t/scale is ten to the power of the decade
        assert creep.at(t_s) == pytest.approx(0.01 * decade, rel=1e-12)


def test_a_steel_length_of_100_mm_grows_by_1_15_micrometres_a_kelvin():
    """11.5e-6 /K is the customary coefficient of steel in length metrology (from memory)."""
    warming = Warming(length_mm=100.0, by_k=1.0, tau_s=60.0)
    assert warming.at(1e6) == pytest.approx(0.00115, rel=1e-12)
    assert warming.at(60.0) == pytest.approx(0.00115 * (1 - 1 / math.e), rel=1e-12)
    cooling = Warming(length_mm=100.0, by_k=-1.0, tau_s=60.0)
    assert cooling.at(33.0) == -warming.at(33.0)


@pytest.mark.parametrize("damping", [0.0, 0.02, 0.1, 0.6])
def test_a_ring_down_has_the_logarithmic_decrement_of_its_damping(damping):
    """ln of the ratio of swings one damped period apart: 2πζ/√(1-ζ²) (any text on vibration)."""
    motion = RingDown(amplitude_mm=0.2, frequency_hz=3.0, damping_ratio=damping, start_s=0.5)
    period_s = 1 / (3.0 * math.sqrt(1 - damping**2))
    decrement = 2 * math.pi * damping / math.sqrt(1 - damping**2)
    assert motion.at(0.5) == 0.2
    for count in range(1, 5):
        swing_mm = motion.at(0.5 + count * period_s)
        assert math.log(0.2 / swing_mm) == pytest.approx(count * decrement, abs=1e-9)


def test_a_ring_down_crosses_its_place_of_rest_a_quarter_period_after_it_was_let_go():
    motion = RingDown(amplitude_mm=0.2, frequency_hz=2.0, damping_ratio=0.0)
    assert motion.at(0.125) == pytest.approx(0.0, abs=1e-15)
    assert motion.at(0.25) == pytest.approx(-0.2)


def test_a_vibration_repeats_and_has_the_root_mean_square_of_a_sine():
    motion = Vibration(amplitude_mm=0.004, frequency_hz=5.0, phase_rad=0.3)
    swings = [motion.at(n / 1000) for n in range(200)]  # one period
    assert math.fsum(swings) == pytest.approx(0.0, abs=1e-15)
    rms_mm = math.sqrt(math.fsum(x * x for x in swings) / 200)
    assert rms_mm == pytest.approx(0.004 / math.sqrt(2), rel=1e-9)
    assert motion.at(0.0) == pytest.approx(0.004 * math.sin(0.3))


def test_clicks_are_a_staircase_that_ends():
    clicks = Clicks(by_mm=0.02, every_s=4.0, count=3, tau_s=0.03, start_s=1.0)
    heights = [clicks.at(t_s) for t_s in (0.9, 4.9, 8.9, 12.9, 16.9, 1000.0)]
    assert heights == pytest.approx([0.0, 0.02, 0.04, 0.06, 0.06, 0.06], abs=1e-12)
    assert clicks.at(5.03) == pytest.approx(0.02 + 0.02 * (1 - 1 / math.e))


@pytest.mark.parametrize("way", [1, -1])
def test_stick_slip_never_is_a_jump_behind_its_drive_nor_before_it(way):
    motion = StickSlip(speed_mm_s=0.02 * way, jump_mm=0.013, start_s=4.0, end_s=12.0)
    places = []
    for n in range(1200):
        t_s = n / 100 + 0.0037
        driven_mm = 0.02 * max(0.0, min(t_s, 12.0) - 4.0)
        places.append(motion.at(t_s) * way)
        assert 0 <= driven_mm - places[-1] < 0.013
    moves = {round(b - a, 9) for a, b in pairwise(places)}
    assert moves == {0.0, 0.013}
    # 8 s at 0.02 mm/s are 0.16 mm, which holds twelve whole jumps: it stays 4 µm short.
    assert motion.at(100.0) == pytest.approx(12 * 0.013 * way)


def test_stick_slip_goes_on_for_ever_unless_told():
    assert StickSlip(speed_mm_s=1.0, jump_mm=0.5).at(1000.3) == 1000.0


def test_a_lock_nut_shifts_smoothly_and_half_of_it_at_half_time():
    nut = LockNut(by_mm=-0.006, over_s=2.0, start_s=10.0)
    assert nut.at(11.0) == pytest.approx(-0.003)
    assert nut.at(12.0) == pytest.approx(-0.006)
    assert nut.at(99.0) == pytest.approx(-0.006)
    # No jerk at either end: the first hundredth of the time brings a quarter of a thousandth.
    assert abs(nut.at(10.02)) < 0.006 * 0.00025
    assert abs(nut.at(12.0) - nut.at(11.98)) < 0.006 * 0.00025


@settings(max_examples=50, derandomize=True)
@given(t_s=st.floats(0, 100), parts=st.lists(st.sampled_from(EVER), max_size=6))
def test_motions_add_up(t_s, parts):
    assert Together(tuple(parts)).at(t_s) == math.fsum(part.at(t_s) for part in parts)


@pytest.mark.parametrize(
    ("make", "figure"),
    [
        (lambda: Still(math.nan), "at_mm"),
        (lambda: Still(math.inf), "at_mm"),
        (lambda: Step(by_mm=1.0, start_s=-1.0), "start_s"),
        (lambda: Ramp(by_mm=1.0, speed_mm_s=0.0), "speed_mm_s"),
        (lambda: Ramp(by_mm=1.0, speed_mm_s=-1.0), "speed_mm_s"),
        (lambda: Approach(by_mm=1.0, tau_s=0.0), "tau_s"),
        (lambda: LogCreep(by_mm=1.0, scale_s=-1.0), "scale_s"),
        (lambda: Warming(length_mm=1.0, by_k=1.0, tau_s=1.0, per_k=11.5), "per_k"),
        (lambda: RingDown(amplitude_mm=1.0, frequency_hz=1.0, damping_ratio=1.0), "damping_ratio"),
        (lambda: RingDown(amplitude_mm=1.0, frequency_hz=0.0, damping_ratio=0.1), "frequency_hz"),
        (lambda: Vibration(amplitude_mm=1.0, frequency_hz=math.nan), "frequency_hz"),
        (lambda: Clicks(by_mm=1.0, every_s=0.0, count=1), "every_s"),
        (lambda: Clicks(by_mm=1.0, every_s=1.0, count=2.5), "count"),
        (lambda: StickSlip(speed_mm_s=1.0, jump_mm=0.0), "jump_mm"),
        (lambda: LockNut(by_mm=1.0, over_s=0.0), "over_s"),
    ],
)
def test_a_figure_that_makes_no_sense_is_refused_by_name(make, figure):
    with pytest.raises(ValidationError) as caught:
        make()
    assert [error["loc"] for error in caught.value.errors()] == [(figure,)]

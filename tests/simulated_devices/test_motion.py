"""Each motion against its closed form; figures that make no sense are refused."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from simulated_devices import motion


def test_an_approach_leaves_one_e_th_of_the_way_after_a_time_constant():
    approach = motion.Approach(by_mm=2.0, tau_s=0.5, start_s=1.0)
    assert approach.at(1.0) == 0.0
    assert approach.at(1.5) == pytest.approx(2.0 * (1 - 1 / math.e))
    assert approach.at(60.0) == pytest.approx(2.0)


def test_a_ring_down_loses_the_logarithmic_decrement_in_each_swing():
    """δ = 2πζ/√(1-ζ²) between maxima one damped period apart (any text on vibration)."""
    zeta, frequency = 0.05, 3.0
    swing = motion.RingDown(amplitude_mm=0.4, frequency_hz=frequency, damping_ratio=zeta)
    period_s = 1 / (frequency * math.sqrt(1 - zeta**2))
    decrement = math.log(swing.at(0.0) / swing.at(period_s))
    assert decrement == pytest.approx(2 * math.pi * zeta / math.sqrt(1 - zeta**2))


def test_a_ramp_has_its_speed_and_stops_at_its_end():
    ramp = motion.Ramp(by_mm=-0.5, speed_mm_s=0.1, start_s=2.0)
    assert [ramp.at(t) for t in (0.0, 2.0)] == [0.0, 0.0]
    assert ramp.at(4.0) == pytest.approx(-0.2)
    assert ramp.at(100.0) == -0.5


def test_log_creep_adds_as_much_in_every_decade():
    creep = motion.LogCreep(by_mm=0.01, scale_s=1.0)
    assert creep.at(999.0) - creep.at(99.0) == pytest.approx(0.01)


def test_warming_ends_at_length_times_expansion_times_kelvin():
    """100 mm of steel (11.5e-6 /K, GUM H.1) and 5 K: 5.75 µm."""
    warming = motion.Warming(length_mm=100.0, by_k=5.0, tau_s=10.0)
    assert warming.at(1e6) == pytest.approx(0.00575)


def test_vibration_has_its_amplitude_and_its_frequency():
    shaking = motion.Vibration(amplitude_mm=0.004, frequency_hz=2.0)
    assert shaking.at(0.125) == pytest.approx(0.004)
    assert shaking.at(0.25) == pytest.approx(0.0, abs=1e-15)
    assert shaking.at(0.625) == pytest.approx(0.004)


def test_clicks_make_a_staircase_that_ends():
    clicks = motion.Clicks(by_mm=0.02, every_s=4.0, count=3, start_s=1.0)
    assert clicks.at(0.5) == 0.0
    assert [round(clicks.at(t), 6) for t in (4.9, 8.9, 12.9, 99.0)] == [0.02, 0.04, 0.06, 0.06]


def test_a_dragging_plunger_moves_in_whole_jumps():
    drag = motion.StickSlip(speed_mm_s=0.01, jump_mm=0.004, end_s=1.0)
    places = {round(drag.at(n / 100) / 0.004, 9) for n in range(200)}
    assert places == {0.0, 1.0, 2.0}


def test_a_lock_nut_shifts_by_half_in_half_its_time():
    nut = motion.LockNut(by_mm=-0.006, over_s=1.0, start_s=2.0)
    assert [nut.at(t) for t in (0.0, 2.0)] == [0.0, 0.0]
    assert nut.at(2.5) == pytest.approx(-0.003)
    assert nut.at(9.0) == pytest.approx(-0.006)


@given(st.floats(0, 1e6))
def test_motions_add_up(t_s):
    parts = (motion.Step(by_mm=1.0, start_s=3.0), motion.Still(0.25))
    assert motion.Together(parts).at(t_s) == sum(part.at(t_s) for part in parts)


@pytest.mark.parametrize(
    ("kind", "figures"),
    [
        (motion.Approach, {"by_mm": 1.0, "tau_s": 0.0}),
        (motion.RingDown, {"amplitude_mm": 1.0, "frequency_hz": 1.0, "damping_ratio": 1.0}),
        (motion.Ramp, {"by_mm": 1.0, "speed_mm_s": -1.0}),
        (motion.Step, {"by_mm": math.nan}),
        (motion.Clicks, {"by_mm": 1.0, "every_s": 1.0, "count": 0}),
        (motion.Step, {"by_mm": 1.0, "stat_s": 1.0}),
    ],
)
def test_figures_that_make_no_sense_are_refused(kind, figures):
    with pytest.raises(ValidationError):
        kind(**figures)

"""The rig with a gauge that errs, and the hand that works there. All in simulated time."""

from decimal import Decimal

import pytest

from drivers.profiles import load_profile
from drivers.reading import MM_PER_INCH, Status
from simulated_devices.calibration_hand import (
    BACKED_OFF_MM,
    PASSED_BY_MM,
    RigHand,
    RigSlips,
)
from simulated_devices.calibration_rig import (
    CalibrationRig,
    GaugeTruth,
    TrueStandard,
    errors_of,
)

SETTLES_S = 3.0
BLOCKS = {Decimal(1): 1.0004, Decimal(5): 4.9998, Decimal(10): 10.001}
FIVE, TEN = (Decimal(5),), (Decimal(10),)
STEP_MM = 0.0001


def rig(truth=None, profile="numeric-query", **more):
    """A gauge without noise whose display shows a tenth of a micrometre."""
    truth = truth or GaugeTruth(noise_mm=0.0)
    return CalibrationRig(load_profile(profile), truth, TrueStandard(BLOCKS), **more)


def reads(found):
    found.gauge.advance(SETTLES_S)
    shown = found.gauge.shown()
    return float(shown.value * shown.unit.in_mm)


def zeroed(found):
    found.put(())
    reads(found)
    found.press("zero")
    return found


def test_a_gauge_shows_the_true_travel_and_its_error():
    found = zeroed(rig(GaugeTruth(errors_of({0: 0.001, 10: 0.011}), noise_mm=0.0)))
    found.put(FIVE)
    assert reads(found) == pytest.approx(4.9998 + 0.005, abs=2 * STEP_MM)
    assert found.error_mm(FIVE) == pytest.approx(0.005, abs=0.00001)


def test_errors_run_straight_between_the_points_of_a_table_and_stay_beyond_them():
    error_mm = errors_of({0: 0.0, 2: 0.004, 4: -0.004})
    assert [error_mm(each) for each in (-1, 1, 3, 4, 9)] == pytest.approx(
        [0.0, 0.002, 0.0, -0.004, -0.004]
    )


def test_on_the_way_down_it_indicates_more_by_its_hysteresis():
    found = zeroed(rig(GaugeTruth(hysteresis_mm=0.003, noise_mm=0.0)))
    found.put(FIVE)
    up = reads(found)
    found.put(TEN)
    reads(found)
    found.put(FIVE)
    assert reads(found) - up == pytest.approx(0.003, abs=STEP_MM)
    assert found.error_mm(FIVE, is_down=True) == pytest.approx(0.003)


def test_a_reversal_shorter_than_the_play_is_not_shown():
    found = zeroed(rig(GaugeTruth(hysteresis_mm=0.003, noise_mm=0.0)))
    found.go_to(5.0)
    up = reads(found)
    found.go_to(4.998)
    assert reads(found) == pytest.approx(up, abs=STEP_MM)


def test_a_zero_on_a_block_counts_the_travel_from_it():
    found = rig(base=(Decimal(1),))
    found.put((Decimal(1),))
    reads(found)
    found.press("zero")
    found.put(FIVE)
    assert reads(found) == pytest.approx(4.9998 - 1.0004, abs=2 * STEP_MM)


def test_a_bench_deviates_in_straight_lines_between_its_values():
    bench = TrueStandard({Decimal(0): 0.0, Decimal(10): 10.002}, is_bench=True)
    assert bench.length_mm(FIVE) == pytest.approx(5.001)


def test_a_warm_standard_that_expands_more_than_the_scale_reads_longer():
    truth = GaugeTruth(noise_mm=0.0, expansion=0.0)
    found = zeroed(rig(truth, temperature_c=40.0))
    found.put(TEN)
    # 10 mm, 11.5 µm/(m·K), 20 K: 2.3 µm.
    assert reads(found) == pytest.approx(10.001 + 0.0023, abs=2 * STEP_MM)


def test_its_zero_drifts():
    found = zeroed(rig(GaugeTruth(noise_mm=0.0, drift_mm_h=3.6)))
    before = reads(found)
    found.gauge.advance(10.0)
    assert reads(found) - before == pytest.approx(0.001 * 13, abs=2 * STEP_MM)


@pytest.mark.parametrize("profile", ["numeric-query", "decimal-line"])
def test_the_unit_key_is_told_by_the_frame_where_the_gauge_has_two_units(profile):
    found = zeroed(rig(profile=profile))
    found.put(FIVE)
    mm = reads(found)
    found.change_unit()
    by = 1.0 if profile == "decimal-line" else float(MM_PER_INCH)
    assert mm / reads(found) == pytest.approx(by, rel=0.001)
    found.change_unit()
    assert reads(found) == pytest.approx(mm)


def test_a_low_battery_stays_low_until_it_is_changed():
    found = rig()
    found.press("battery")
    assert Status.BATTERY_LOW in found.gauge.shown().status
    found.change_battery()
    assert Status.BATTERY_LOW not in found.gauge.shown().status


def test_once_adjusted_it_errs_otherwise():
    found = zeroed(rig(GaugeTruth(errors_of({0: 0.0, 10: 0.02}), noise_mm=0.0)))
    found.adjust(GaugeTruth(noise_mm=0.0))
    found.put(FIVE)
    assert reads(found) == pytest.approx(4.9998, abs=2 * STEP_MM)


def test_by_a_clock_it_goes_as_far_as_that_says():
    now_s = [0.0]
    found = rig(clock=lambda: now_s[0])
    now_s[0] = 2.5
    found.gauge.advance(0.001)
    assert found.time_s() == pytest.approx(2.5)


# The hand: where it goes.


def test_a_clean_hand_goes_straight_there_and_comes_back_to_a_turn_from_beyond():
    found = rig()
    hand = RigHand(found)
    assert hand.way_to(2, FIVE, is_down=False, again=False) == (4.9998,)
    found.put(TEN)
    there_mm = 10.001
    down = hand.way_to(4, TEN, is_down=True, again=False)
    assert down == pytest.approx((there_mm + BACKED_OFF_MM, there_mm))


def test_it_backs_off_where_a_point_is_wanted_again():
    found = rig()
    found.put(FIVE)
    way = RigHand(found).way_to(7, FIVE, is_down=False, again=True)
    assert way == pytest.approx((4.9998 - BACKED_OFF_MM, 4.9998))


@pytest.mark.parametrize(
    ("slips", "way"),
    [
        (RigSlips(passes=frozenset({2})), (4.9998 + PASSED_BY_MM, 4.9998)),
        (RigSlips(takes={2: TEN}), (10.001,)),
        (RigSlips(stays=frozenset({2})), (4.9998,)),
    ],
)
def test_a_hand_that_slips_does_so_once(slips, way):
    hand = RigHand(rig(), slips)
    again = bool(slips.stays)
    assert hand.way_to(2, FIVE, is_down=False, again=again) == pytest.approx(way)
    clean = (4.9998 - BACKED_OFF_MM, 4.9998) if again else (4.9998,)
    assert hand.way_to(2, FIVE, is_down=False, again=again) == pytest.approx(clean)


def test_a_sleeve_presses_the_unit_key_and_a_battery_runs_low_on_the_way():
    found = zeroed(rig())
    hand = RigHand(found, RigSlips(unit=frozenset({2}), battery=frozenset({3})))
    hand.way_to(2, FIVE, is_down=False, again=False)
    found.put(FIVE)
    assert reads(found) == pytest.approx(4.9998 / 25.4, abs=STEP_MM)
    hand.way_to(3, FIVE, is_down=False, again=False)
    assert Status.BATTERY_LOW in found.gauge.shown().status

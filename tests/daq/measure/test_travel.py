"""A plunger that did not move gives no second value."""

from decimal import Decimal

from daq.measure.travel import Travel

STEP = Decimal("0.001")


def test_nothing_is_asked_of_a_gauge_before_its_first_value():
    travel = Travel()
    travel.read("G-1", Decimal("5"))
    assert travel.has_moved("G-1", 5 * STEP)
    assert not travel.is_elsewhere("G-1", "here")


def test_a_lift_counts_though_the_plunger_comes_back_to_the_same_reading():
    travel = Travel()
    travel.keep("G-1", Decimal("1.234"), "here")
    assert not travel.has_moved("G-1", 5 * STEP)
    for value in ("1.235", "3.000", "1.234"):
        travel.read("G-1", Decimal(value))
    assert travel.has_moved("G-1", 5 * STEP)


def test_noise_of_a_few_steps_is_no_lift():
    travel = Travel()
    travel.keep("G-1", Decimal("1.234"), "here")
    for value in ("1.235", "1.233", "1.238"):
        travel.read("G-1", Decimal(value))
    assert not travel.has_moved("G-1", 5 * STEP)


def test_each_gauge_is_watched_for_itself_and_anew_after_each_value():
    travel = Travel()
    travel.keep("G-1", Decimal("1.000"), "here")
    travel.read("G-2", Decimal("9.000"))
    assert not travel.has_moved("G-1", STEP)
    travel.read("G-1", Decimal("2.000"))
    travel.keep("G-1", Decimal("2.000"), "there")
    assert not travel.has_moved("G-1", STEP)
    assert travel.is_elsewhere("G-1", "here")
    assert not travel.is_elsewhere("G-1", "there")

"""The guided run: which point comes next, and which readings are not taken for it."""

from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daq.calibration.checks import Seen, check, check_return, could_err_mm
from daq.calibration.errors import PlanError
from daq.calibration.plan import prepared
from daq.calibration.points import Point
from daq.calibration.results import results_of
from daq.calibration.sequence import counted, doubts_in, next_point, point_again
from drivers.reading import Status
from tests.daq.calibration.invented import DAY, PLAN, bench, flat, gauge, plan, standard

D = Decimal
READY = prepared(plan(), standard(), DAY)
GAUGE = gauge()


def taken_at(wanted, error_mm="0"):
    return Point(
        place=wanted.stop.place,
        series=wanted.stop.series,
        nominal_mm=wanted.stop.nominal_mm,
        direction=wanted.stop.direction,
        reference_mm=wanted.reference_mm,
        u_reference_mm=wanted.u_reference_mm,
        reading_mm=wanted.reference_mm + D(error_mm),
        u_reading_mm=D("0.0005"),
    )


def after(number, ready=READY):
    """The first so many points, as they were asked for."""
    points = []
    for _ in range(number):
        points.append(taken_at(next_point(ready, points)))
    return points


def wanted_at(nominal, series="up", ready=READY):
    for place in range(len(ready.plan.stops)):
        wanted = next_point(ready, after(place, ready))
        if (wanted.stop.nominal_mm, wanted.stop.series) == (D(nominal), series):
            return wanted
    raise AssertionError(nominal)


def seen(value_mm, **more):
    return Seen(**{"value_mm": D(value_mm), "on": DAY, "temperature_c": D(20)} | more)


def refused(wanted, reading, device=GAUGE):
    refusal = check(wanted, reading, device)
    return refusal and (refusal.kind, refusal.words)


def test_the_points_come_in_the_order_of_the_plan_and_then_nothing():
    points = after(19)
    assert [each.place for each in points] == list(range(1, 20))
    assert next_point(READY, points) is None


def test_each_point_says_what_to_do():
    said = [next_point(READY, after(number)).words for number in (0, 1, 6, 7, 14, 18)]
    assert said == [
        "The bare plate: set the gauge to zero here (1 of 7).",
        "Blocks 1.5 + 1 mm: up to 2.5 mm (2 of 7).",
        "Block 10 mm: up to 10 mm (7 of 7).",
        "Block 10 mm: down to 10 mm (1 of 7).",
        "Block 5 mm: go below 5 mm, then up to it (1 of 3).",
        "Blocks 6 + 1.5 mm: go above 7.5 mm, then down to it (2 of 2).",
    ]
    assert next_point(READY, []).more == (
        "Gauge and standard must have lain together for 60 minutes.",
        "Press the plunger in by 0.2 mm before the zero is set.",
        "Let it rest for 20 s before it is read.",
    )
    assert "where the run turns" in next_point(READY, after(7)).more[0]


def test_a_bench_is_set_and_a_lifted_plunger_has_no_direction():
    on_bench = prepared(plan(), bench(), DAY)
    assert next_point(on_bench, after(2, on_bench)).words.startswith("2.7 mm on the bench: up to")
    lifted = plan(
        ("wait = 20", 'approach = "lifted"\ndirections = "up"'), ('direction = "down"', "")
    )
    ready = prepared(lifted, standard(), DAY)
    assert wanted_at("5", "up", ready).words == "Block 5 mm: 5 mm (5 of 7)."
    assert "lifted and set down again" in wanted_at("5", "repeat", ready).words


@given(st.integers(0, 19))
def test_it_goes_on_at_the_same_place_after_any_interruption(number):
    points = after(number)
    once, again = next_point(READY, points), next_point(READY, list(points))
    assert once == again
    assert (once is None) == (number == 19)


def test_a_point_taken_again_takes_back_all_that_came_after_it_in_the_run():
    points = after(6)
    again = taken_at(next_point(READY, points[:2]), "0.001")
    assert [each.place for each in counted(READY, [*points, again])] == [1, 2, 3]
    assert counted(READY, [*points, again])[2] is again
    wanted = next_point(READY, [*points, again])
    assert wanted.stop.place == 4
    assert "Go below it first" in wanted.more[0]


def test_a_point_withdrawn_in_mid_run_lets_none_of_the_later_ones_stand():
    points = after(9)
    without = [each for each in points if each.place != 4]
    assert [each.place for each in counted(READY, without)] == [1, 2, 3]
    assert next_point(READY, without).stop.place == 4


def test_a_repeat_withdrawn_is_asked_for_again_and_the_others_stand():
    points = [each for each in after(19) if each.place != 16]
    assert len(counted(READY, points)) == 18
    wanted = next_point(READY, points)
    assert (wanted.stop.place, wanted.stop.number, len(wanted.more)) == (16, 2, 1)


def test_points_of_another_plan_are_refused():
    other = prepared(plan(('"7.5 mm", "10 mm"]', '"7.5 mm", "9.5 mm"]')), standard(), DAY)
    with pytest.raises(PlanError, match=r"at 10 mm \(up, number 7\) is not in p\.toml"):
        next_point(other, after(9))
    with pytest.raises(PlanError, match="number 99"):
        next_point(READY, [replace(after(1)[0], place=99)])


def test_after_an_interruption_in_mid_run_the_last_point_is_checked_first():
    points = after(4)
    again = point_again(READY, points)
    assert again.stop.place == 4
    assert again.words == "Block 3 mm, once more: back to 3 mm."
    before = again.before
    assert check_return(before, seen(before.reading_mm + D("0.003")), GAUGE) is None
    moved = check_return(before, seen(before.reading_mm + D("0.0031")), GAUGE)
    assert moved.kind == "has moved"
    assert "Begin the run again" in moved.words


@pytest.mark.parametrize("number", [0, 14, 15, 19])
def test_before_the_run_and_after_it_there_is_nothing_to_check(number):
    assert point_again(READY, after(number)) is None


def test_a_zero_that_has_moved_is_a_doubt():
    points = after(14)
    assert doubts_in(READY, points, GAUGE) == ()
    moved = [*points[:-1], replace(points[-1], reading_mm=D("-0.0041"))]
    assert doubts_in(READY, moved, GAUGE) == (
        "The zero has moved by -0.0041 mm since the beginning, and 0.004 mm is allowed; look at "
        "the mounting.",
    )
    tight = prepared(plan(("wait = 20", 'zero_limit = "0.001 mm"')), standard(), DAY)
    slight = [*points[:-1], replace(points[-1], reading_mm=D("0.002"))]
    assert len(doubts_in(tight, slight, GAUGE)) == 1


@pytest.mark.parametrize("place", range(1, 20))
def test_a_good_reading_is_taken_at_every_point(place):
    wanted = next_point(READY, after(place - 1))
    for error_mm in ("-0.01", "0", "0.01"):
        assert check(wanted, seen(wanted.reference_mm + D(error_mm)), GAUGE) is None


def test_a_gauge_may_err_by_five_times_its_limit_before_it_is_taken_for_another_block():
    assert could_err_mm(GAUGE) == D("0.05")
    coarse = gauge(step="0.01 mm", limits={"source": "own", "over_range": "0.01 mm"})
    assert could_err_mm(coarse) == D("0.1")
    wanted = wanted_at("5")
    edge_mm = wanted.reference_mm + D("0.05")
    assert check(wanted, seen(edge_mm), GAUGE) is None
    assert check(wanted, seen(edge_mm + D("0.001")), GAUGE).kind == "wrong block"


@pytest.mark.parametrize(
    ("value", "looks_like"),
    [
        ("7.501", "It looks like blocks 6 + 1.5 mm."),
        ("4.003", "It looks like block 4 mm."),
        ("5.400", "further off than the gauge could err (0.05 mm)"),
    ],
)
def test_another_block_is_told_and_which_it_looks_like(value, looks_like):
    refusal = check(wanted_at("5"), seen(value), GAUGE)
    assert refusal.kind == "wrong block"
    assert looks_like in refusal.words
    assert refusal.may_insist


def test_a_block_left_out_of_a_stack_is_told():
    refusal = check(wanted_at("2.7"), seen("1.0"), GAUGE)
    assert refusal.words.endswith("It looks like it without the block 1.7 mm.")


@pytest.mark.parametrize(
    ("ratio", "words"),
    [
        ("0.03937007874", "shows inches and is read as millimetres"),
        ("25.4", "shows millimetres and is read as inches"),
    ],
)
def test_a_factor_of_25_4_is_a_wrong_unit_and_not_a_block(ratio, words):
    for nominal in ("2.5", "5", "10"):
        wanted = wanted_at(nominal)
        kind, said = refused(wanted, seen(wanted.reference_mm * D(ratio)))
        assert kind == "unit"
        assert words in said


def test_a_gauge_that_counts_the_other_way_is_told():
    kind, said = refused(wanted_at("5"), seen("-5.002"))
    assert kind == "direction of count"
    assert "-5.002 mm where +5 mm was asked" in said


def test_what_is_too_short_to_tell_a_unit_or_a_sign_is_not_accused_of_it():
    short = prepared(
        plan(('"0 mm", "2.5 mm"', '"0 mm", "0.04 mm", "2.5 mm"'), ("wait = 20", 'base = "1 mm"')),
        bench(), DAY,
    )  # fmt: skip
    wanted = wanted_at("0.04", "up", short)
    assert check(wanted, seen("-0.005"), GAUGE) is None
    assert check(wanted, seen("-0.1"), GAUGE).kind == "wrong block"


def test_a_gauge_that_is_not_zeroed_is_told_at_the_first_point():
    first = next_point(READY, [])
    assert refused(first, seen("3.2")) == ("zero", "It reads 3.2 mm here. Set the gauge to zero.")
    assert refused(first, seen("0.05")) is None


@pytest.mark.parametrize(
    ("nominal", "series", "passed", "is_refused"),
    [
        ("5", "up", {"highest_mm": "5.00202"}, False),
        ("5", "up", {"highest_mm": "5.00203"}, True),
        ("5", "up", {"lowest_mm": "3"}, False),
        ("5", "down", {"lowest_mm": "4.99801"}, True),
        ("5", "down", {"highest_mm": "7.5"}, False),
        ("5", "repeat", {"highest_mm": "5.1", "lowest_mm": "4"}, True),
        ("5", "repeat", {"highest_mm": "5.001", "lowest_mm": "4"}, False),
        ("7.5", "repeat", {"lowest_mm": "7.4", "highest_mm": "9"}, True),
    ],
)
def test_a_point_that_was_passed_and_come_back_to_is_a_reversal(
    nominal, series, passed, is_refused
):
    wanted = wanted_at(nominal, series)
    reading = seen(wanted.reference_mm, **{key: D(value) for key, value in passed.items()})
    refusal = check(wanted, reading, GAUGE)
    assert bool(refusal) == is_refused
    if refusal:
        assert refusal.kind == "reversal"
        side = "below" if wanted.stop.direction == "up" else "above"
        assert f"Go well {side} it and come {wanted.stop.direction} to it" in refusal.words


def test_the_plan_may_allow_a_larger_reversal():
    ready = prepared(plan(("wait = 20", 'reversal = "0.02 mm"')), standard(), DAY)
    wanted = wanted_at("5", "up", ready)
    assert check(wanted, seen("5.001", highest_mm=D("5.02")), GAUGE) is None
    assert check(wanted, seen("5.001", highest_mm=D("5.022")), GAUGE).kind == "reversal"


def test_a_lifted_plunger_may_pass_every_point():
    lifted = plan(
        ("wait = 20", 'approach = "lifted"\ndirections = "up"'), ('direction = "down"', "")
    )
    wanted = wanted_at("5", "up", prepared(lifted, standard(), DAY))
    assert check(wanted, seen("5.001", highest_mm=D(9), lowest_mm=D(0)), GAUGE) is None


def test_a_repeat_at_which_nothing_was_moved_is_no_repeat():
    wanted = wanted_at("5", "repeat")
    still = seen("5.001", highest_mm=D("5.002"), lowest_mm=D("5.000"))
    assert check(wanted, still, GAUGE).kind == "not backed off"


def test_a_standard_past_its_date_is_refused_on_the_day_it_is_read():
    last, after_it = seen("5", on=date(2028, 1, 10)), seen("5", on=date(2028, 1, 11))
    assert check(wanted_at("5"), last, GAUGE) is None
    assert check(wanted_at("5"), after_it, GAUGE).kind == "standard"
    on_flat = prepared(plan(), standard(), DAY, flat(due="2026-07-01"))
    refusal = check(wanted_at("5", "up", on_flat), seen("5", on=date(2026, 7, 2)), GAUGE)
    assert "plate was due on 2026-07-01" in refusal.words


@pytest.mark.parametrize(
    ("now", "first", "words"),
    [
        (None, None, "Nobody has said the temperature"),
        ("18.9", None, "allows 19 to 21 °C"),
        ("21.1", "21", "allows 19 to 21 °C"),
        ("20.6", "20", "changed by 0.6 K since the run began"),
        ("19", "19.5", ""),
        ("21", None, ""),
    ],
)
def test_a_temperature_out_of_limits_is_refused(now, first, words):
    reading = seen(
        "5", temperature_c=now and D(now), first_temperature_c=first and D(first)
    )  # fmt: skip
    refusal = check(wanted_at("5"), reading, GAUGE)
    assert bool(refusal) == bool(words)
    if refusal:
        assert refusal.kind == "temperature"
        assert words in refusal.words


@pytest.mark.parametrize(
    ("status", "kind"),
    [
        (Status.BATTERY_LOW, "low battery"),
        (Status.ORIGIN_LOST, "gauge status"),
        (Status.HELD, "gauge status"),
        (Status.INCREMENTAL, None),
    ],
)
def test_what_the_gauge_says_of_itself_is_heard(status, kind):
    refusal = check(wanted_at("5"), seen("5", status=frozenset({status})), GAUGE)
    assert (refusal and refusal.kind) == kind
    assert not (refusal and refusal.may_insist)


def test_a_whole_run_with_a_gauge_of_known_errors_gives_back_what_was_put_in():
    curve_um = {"0": 0, "2.5": 3, "2.7": 1, "3": 2, "5": -4, "7.5": 5, "10": 2}
    points = []
    while wanted := next_point(READY, points):
        back = 2 if wanted.stop.direction == "down" else 0
        error_mm = D(curve_um[str(wanted.stop.nominal_mm)] + back) / 1000
        reading = seen(wanted.reference_mm + error_mm)
        assert check(wanted, reading, GAUGE) is None
        points.append(taken_at(wanted, error_mm))
    results = results_of(points, READY.plan.partial.over_mm)
    assert {each.what: each.value_mm * 1000 for each in results.characteristics} == {
        "fixed-zero error": 7,  # 5 + 2, at 7.5 mm down
        "span error": 11,  # from -4 at 5 mm up
        "one-way span": 9,
        "partial-range error": 2,
        "hysteresis": 2,
        "repeatability": 0,
    }


def test_the_text_of_the_plan_is_kept_to_go_on_by():
    assert READY.plan.text == PLAN

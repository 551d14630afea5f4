"""Passes of points, against the same worked out row by row."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from daq.audit.kernel import POINTS, ByGauge, PassKernel, digits, series
from daq.audit.kernel.hysteresis import hysteresis
from daq.audit.kernel.mixing import folded, mixed, summed
from daq.audit.kernel.order import BACKWARDS, TWICE, OrderProof
from daq.audit.layout import NULL
from tests.daq.audit.fleet import DAY, STEP, fleet, run_name


def block_of(made, gauges_at_once=99):
    (block,) = made.blocks("points", POINTS, gauges_at_once)
    return block


def kernel_for(made):
    return PassKernel(ByGauge.of(made.small("gauges"), "step_nm"))


def test_a_pass_is_what_its_points_come_to():
    made = fleet(gauges=4)
    found = kernel_for(made).of(block_of(made)).passes
    points = made["points"]
    for place in range(len(found["gauge"])):
        own = points["gauge"] == made.names("gauge", found["gauge"][place : place + 1])[0]
        own &= points["run"] == made.names("run", found["run"][place : place + 1])[0]
        error = (points["indicated_nm"] - points["reference_nm"])[own]
        assert found["points"][place] == own.sum() == 22
        assert (found["error_low_nm"][place], found["error_high_nm"][place]) == (
            error.min(),
            error.max(),
        )
        assert found["error_mean_nm"][place] == pytest.approx(error.mean(), abs=1e-9)
        both = error[:11] - error[11:][::-1]
        assert found["hysteresis_nm"][place] == np.abs(both).max()
        assert found["hysteresis_mean_nm"][place] == pytest.approx(both.mean(), abs=1e-9)
        assert found["first_us"][place] == points["at_us"][own].min()
        assert found["last_us"][place] == points["at_us"][own].max()
        assert (found["ups"][place], found["downs"][place], found["repeats"][place]) == (11, 11, 0)
        assert found["least_apart_us"][place] <= np.diff(points["at_us"][own]).min() or (
            found["least_apart_us"][place] == 1_000_000
        )


def test_passes_do_not_depend_on_how_the_rows_are_cut_into_blocks():
    made = fleet(gauges=6)
    whole = kernel_for(made).of(block_of(made)).passes
    kernel = kernel_for(made)
    parts = [kernel.of(block).passes for block in made.blocks("points", POINTS, 1)]
    for name, values in whole.items():
        np.testing.assert_array_equal(np.concatenate([p[name] for p in parts]), values, name)


def test_points_in_any_order_have_the_same_hysteresis_as_those_that_mirror():
    rng = np.random.default_rng(3)
    nominal = np.tile(np.r_[np.arange(6), np.arange(6)[::-1]] * 1000, 5)
    error = rng.integers(-5000, 5000, 60)
    way = np.tile(np.r_[np.zeros(6, int), np.ones(6, int)], 5)
    starts, sizes = np.arange(0, 60, 12), np.full(5, 12)
    mirrored = hysteresis(nominal, error, way, starts, sizes)
    order = np.concatenate([start + rng.permutation(12) for start in starts])
    other = hysteresis(nominal[order], error[order], way[order], starts, sizes)
    np.testing.assert_array_equal(mirrored["hysteresis_nm"], other["hysteresis_nm"])
    np.testing.assert_array_equal(mirrored["pairs"], other["pairs"])
    np.testing.assert_allclose(mirrored["hysteresis_mean_nm"], other["hysteresis_mean_nm"])


def test_a_pass_without_a_pair_has_no_hysteresis():
    found = hysteresis(
        np.array([0, 1, 2]), np.array([5, 6, 7]), np.array([0, 0, 2]), np.array([0]), np.array([3])
    )
    assert found["pairs"][0] == 0
    assert found["hysteresis_nm"][0] == NULL
    assert np.isnan(found["hysteresis_mean_nm"][0])


@settings(max_examples=60)
@given(
    st.lists(st.integers(-(2**40), 2**40), min_size=2, max_size=12, unique=True),
    st.integers(0, 11),
    st.integers(0, 11),
    st.integers(1, 1000),
)
def test_changes_that_cancel_out_in_a_plain_sum_do_not_in_the_mixed_one(values, one, two, change):
    one, two = one % len(values), two % len(values)
    other = list(values)
    other[one] += change
    other[two] -= change
    if other == values:
        return
    first, second = (np.array(each, dtype=np.int64) for each in (values, other))
    place, start = np.arange(len(values), dtype=np.int64), np.array([0])
    a, b = mixed(place, first, first), mixed(place, second, first)
    assert first.sum() == second.sum()
    assert summed(a, start) != summed(b, start)
    assert folded(a, start) != folded(b, start)


def test_readings_in_another_order_are_another_content():
    values = np.array([1, 2, 3, 4], dtype=np.int64)
    place, start = np.arange(4, dtype=np.int64), np.array([0])
    assert summed(mixed(place, values, values), start) != summed(
        mixed(place, values[::-1].copy(), values[::-1].copy()), start
    )


def test_the_order_is_proved_and_every_breach_is_an_event():
    proof = OrderProof()
    gauge = np.array([1, 1, 1, 1, 2, 2, 1])
    seq = np.array([1, 2, 2, 1, 5, 9, 3])
    starts, events, gaps = proof.of(gauge, seq)
    assert starts.tolist() == [0, 4, 6]
    assert sorted(zip(*(events[n].tolist() for n in ("gauge", "seq", "what")), strict=True)) == [
        (1, 1, BACKWARDS),
        (1, 2, TWICE),
        (1, 3, 0),
    ]
    assert [gaps[n].tolist() for n in ("gauge", "seq_lo", "seq_hi")] == [[2], [6], [8]]
    _, events, _ = proof.of(np.array([2]), np.array([10]))
    assert events["gauge"].tolist() == [2]  # its rows went on in another block


def test_digits_of_negative_readings_are_those_of_whole_steps():
    made = fleet(gauges=1)
    block = block_of(made)
    block["indicated_nm"] = np.arange(len(block["gauge"])) * STEP - 60 * STEP
    found = digits(block, kernel_for(made).of(block))
    counts = sum(found[f"d{place}"].sum() for place in range(10))
    assert counts == 110
    assert {int(found[f"d{place}"].sum()) for place in range(10)} == {11}


def test_a_gauge_with_a_step_of_five_has_no_digits_to_count():
    made = fleet(gauges=1)
    made["gauges"]["step_nm"][:] = 5 * STEP
    block = block_of(made)
    assert not digits(block, kernel_for(made).of(block))["operator"].size


def passes_of(gauge, run, left, mean, days):
    size = len(gauge)
    return {
        "gauge": np.array(gauge),
        "run": np.array(run),
        "found": np.array(left, dtype=np.int8),
        "error_mean_nm": np.array(mean, dtype=float),
        "last_us": np.array(days) * DAY,
        "step_nm": np.full(size, STEP),
        "seq_lo": np.arange(size),
        "seq_hi": np.arange(size),
        "error_low_nm": np.zeros(size, int),
        "error_high_nm": np.zeros(size, int),
    }


def test_an_adjustment_begins_a_new_series_and_a_second_look_does_not():
    found = series(
        passes_of(
            [1] * 9,
            [0, 1, 2, 2, 3, 4, 5, 5, 6],
            [0, 0, 0, 1, 0, 0, 0, 1, 0],
            [0, 1000, 2000, -5000, -4000, -3000, -2000, -2100, -1000],
            [0, 100, 200, 200, 300, 400, 500, 500, 600],
        )
    )
    assert found["passes"].tolist() == [3, 5]
    np.testing.assert_allclose(found["slope_nm_a_day"], [10, 10], rtol=1e-9)
    assert found["run"].tolist() == [2, 6]


def test_a_line_has_the_slope_and_error_of_least_squares():
    # Slope 2, residuals 1, -2, 1: s² = 6/1, Sxx = 2 (worked out by hand).
    found = series(passes_of([1] * 3, [0, 1, 2], [0] * 3, [1, 0, 5], [0, 1, 2]))
    assert found["slope_nm_a_day"][0] == pytest.approx(2)
    assert found["slope_se"][0] == pytest.approx(np.sqrt(6 / 2))
    assert found["t"][0] == pytest.approx(2 / np.sqrt(3))
    assert found["fitted_nm"][0] == pytest.approx(4)


def test_columns_that_are_not_there_are_missing_and_nothing_else():
    made = fleet(gauges=2)
    made.without("points", "way", "found", "u_reference_nm", "temperature_mc", "operator")
    (block,) = made.blocks("points", [n for n in POINTS if n in made["points"]])
    found = kernel_for(made).of(block).passes
    assert set(found["u_reference_missing"].tolist()) == {22}
    assert set(found["temperature_most_mc"].tolist()) == {NULL}
    assert set(found["operator"].tolist()) == {-1}
    assert set(found["hysteresis_nm"].tolist()) == {NULL}
    assert set(found["points"].tolist()) == {22}
    assert made.names("run", found["run"][:1]) == [run_name("G00", 0)]


@pytest.mark.parametrize("gauges_at_once", [1, 5])
def test_shares_of_digits_add_up_to_the_very_same_however_the_rows_are_cut(gauges_at_once):
    made = fleet(gauges=30)
    # Passes of 21 points: no share of theirs is a float without a rest.
    made.drop("points", np.flatnonzero(made["points"]["seq"] % 22 == 0))

    def sums(at_once, backwards):
        found = {}
        blocks = [*made.blocks("points", POINTS, at_once)]
        for block in reversed(blocks) if backwards else blocks:
            told = digits(block, kernel_for(made).of(block))
            names = ("site", "operator", "share", "share_squared")
            for *person, share, squared in zip(
                *(told[name].tolist() for name in names), strict=True
            ):
                s, q = found.get(tuple(person), (0.0, 0.0))
                found[tuple(person)] = (s + share, q + squared)
        return found

    assert sums(gauges_at_once, backwards=True) == sums(99, backwards=False)

"""The error of a gauge along its travel: means of both ways, straight lines, constant ends."""

import numpy as np
import pytest

from daq.audit.impact import curve_of


def curve(rows, u=None):
    nominal, reference, indicated, way = zip(*rows, strict=True)
    return curve_of(
        np.array(nominal), np.array(reference), np.array(indicated), way,
        None if u is None else np.array(u),
    )  # fmt: skip


BOTH_WAYS = [
    (0.0, 0.0, 0.001, "up"),
    (5.0, 5.002, 5.008, "up"),
    (10.0, 10.0, 10.004, "up"),
    (10.0, 10.0, 10.006, "down"),
    (5.0, 5.002, 5.012, "down"),
    (0.0, 0.0, 0.003, "down"),
]


def test_the_error_at_a_nominal_is_the_mean_of_up_and_down():
    found = curve(BOTH_WAYS)
    assert found.nominal_mm.tolist() == [0, 5, 10]
    assert found.error_mm == pytest.approx([0.002, 0.008, 0.005], abs=1e-12)


def test_between_nominals_the_error_lies_on_a_straight_line():
    found = curve(BOTH_WAYS).at(np.array([2.5, 7.5, 5.0]))
    assert found == pytest.approx([0.005, 0.0065, 0.008], abs=1e-12)


def test_beyond_the_ends_the_error_stays_and_is_told():
    found = curve(BOTH_WAYS)
    beyond = np.array([-1.0, 0.0, 10.0, 11.0])
    assert found.at(beyond) == pytest.approx([0.002, 0.002, 0.005, 0.005], abs=1e-12)
    assert found.is_outside(beyond).tolist() == [True, False, False, True]


def test_several_points_one_way_weigh_as_one():
    rows = [(5.0, 5.0, 5.010, "up"), (5.0, 5.0, 5.020, "up"), (5.0, 5.0, 5.005, "down")]
    assert curve(rows).error_mm == pytest.approx([0.010], abs=1e-12)


def test_repeats_count_only_where_nothing_else_is():
    rows = [*BOTH_WAYS, (5.0, 5.0, 5.1, "repeat"), (7.0, 7.0, 7.003, "repeat")]
    found = curve(rows, [*[0.1] * 6, 0.9, 0.2])
    assert found.at(np.array([5.0, 7.0])) == pytest.approx([0.008, 0.003], abs=1e-12)
    assert found.u_at(np.array([5.0, 7.0])) == pytest.approx([0.1, 0.2])


def test_one_way_alone_will_do():
    assert curve(BOTH_WAYS[:3]).error_mm == pytest.approx([0.001, 0.006, 0.004], abs=1e-12)


def test_the_uncertainty_of_a_nominal_is_the_largest_there():
    found = curve(BOTH_WAYS, [0.1, 0.2, 0.3, 0.1, 0.4, 0.5])
    assert found.u_mm.tolist() == [0.5, 0.4, 0.3]
    assert found.u_at(np.array([2.5])) == pytest.approx([0.45])


def test_the_worst_error_keeps_its_sign():
    rows = [(0.0, 0.0, 0.001, "up"), (5.0, 5.0, 4.990, "up")]
    assert curve(rows).worst_mm == pytest.approx(-0.010)


def test_a_run_without_points_has_no_curve():
    assert curve_of(np.zeros(0), np.zeros(0), np.zeros(0), []) is None


@pytest.mark.parametrize(
    ("factor", "words"), [(1 / 25.4, "its readings look like inches"), (25.4, "its lengths")]
)
def test_figures_in_the_wrong_unit_are_no_errors(factor, words):
    rows = [(n, r, round(i * factor, 4), way) for n, r, i, way in BOTH_WAYS]
    assert words in curve(rows).slip


def test_a_bad_gauge_is_no_slip_of_the_unit():
    rows = [(n, r, 0.9 * i, way) for n, r, i, way in BOTH_WAYS]
    assert curve(rows).slip == ""

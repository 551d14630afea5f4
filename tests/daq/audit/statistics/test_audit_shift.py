"""Shifts: a step in open data, and how often sound rows are taken for one."""

import numpy as np
import pytest

from daq.audit.statistics import run_p, step, telling_run

# The yearly flow of the Nile at Aswan, 1871 to 1970, 10^8 m^3 (R datasets: Nile).
NILE = [
    1120, 1160, 963, 1210, 1160, 1160, 813, 1230, 1370, 1140, 995, 935, 1110, 994, 1020, 960, 1180,
    799, 958, 1140, 1100, 1210, 1150, 1250, 1260, 1220, 1030, 1100, 774, 840, 874, 694, 940, 833,
    701, 916, 692, 1020, 1050, 969, 831, 726, 456, 824, 702, 1120, 1100, 832, 764, 821, 768, 845,
    864, 862, 698, 845, 744, 796, 1040, 759, 781, 865, 845, 944, 984, 897, 822, 1010, 771, 676, 649,
    846, 812, 742, 801, 1040, 860, 874, 848, 890, 744, 749, 838, 1050, 918, 986, 797, 923, 975, 815,
    1020, 906, 901, 1170, 912, 746, 919, 718, 714, 740,
]  # fmt: skip


def longest_run(sides):
    """The longest stretch of equal sides, a row at a time."""
    best = run = np.ones(sides.shape[0], dtype=int)
    for column in range(1, sides.shape[1]):
        run = np.where(sides[:, column] == sides[:, column - 1], run + 1, 1)
        best = np.maximum(best, run)
    return best


def test_the_nile_fell_after_1898():
    found = step(NILE)
    assert 1871 + found.at == 1899
    # As other programs print it for this test and series (from memory): 3.6e-7.
    assert found.p == pytest.approx(3.6e-7, rel=0.01)
    assert found.size < 0


def test_steps_are_not_seen_in_sound_series_more_often_than_is_said():
    draw = np.random.default_rng(5)
    p = np.array([step(draw.normal(0, 1, 80)).p for _ in range(2_000)])
    for level in (0.01, 0.05, 0.2):
        assert np.mean(p <= level) <= level + 3 * np.sqrt(level / 2_000)


def test_a_few_wild_values_are_no_step():
    values = [1.0, 2.0, 1.5, 1.7, 1.2, 1.9, 1.1, 1.4, 1.6, 1.8] * 3
    values[14] = 1e9
    assert step(values).p > 0.2


def test_a_series_that_never_moves_has_no_step():
    assert step([3.0] * 20) is None
    assert step([1.0, 2.0]) is None


@pytest.mark.parametrize(
    ("rows", "length"), [(1_000, 17), (1_000_000, 27), (60_000_000, 33), (10**11, 44)]
)
def test_a_telling_run_grows_with_the_logarithm_of_the_rows(rows, length):
    # 2**17 is the first power of two above 1,000/0.01, and so on.
    assert telling_run(rows) == length


def test_a_fixed_run_of_eight_floods_where_a_telling_one_stays_silent():
    runs = longest_run(np.random.default_rng(8).random((2_000, 300)) < 0.5)
    assert (runs >= 8).sum() > 1_000
    assert (runs >= telling_run(2_000 * 300)).sum() == 0


def test_the_chance_of_a_run_is_a_bound_that_sound_series_keep():
    runs = longest_run(np.random.default_rng(2).random((20_000, 60)) < 0.5)
    for length in (8, 10, 12):
        seen = np.mean(runs >= length)
        bound = float(run_p(length, 60))
        assert seen <= bound + 3 * np.sqrt(bound / 20_000)
        assert seen >= 0.8 * bound - 3 * np.sqrt(bound / 20_000)


def test_a_run_as_long_as_all_rows_has_its_exact_chance_and_a_longer_one_none():
    assert float(run_p(10, 10)) == 2**-9
    assert run_p([11, 1], 10).tolist() == [0.0, 1.0]


def test_no_rows_allow_no_run():
    with pytest.raises(ValueError, match="allow no run"):
        telling_run(0)

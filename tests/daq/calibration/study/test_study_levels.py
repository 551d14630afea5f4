"""Levels and check standard, against the NIST/SEMATECH e-Handbook, chapter 2."""

import dataclasses
import math
import random

import pytest

from daq.calibration.study import (
    Occasion,
    StudyError,
    check_standard,
    levels_study,
    occasion_of,
    pooled,
)
from tests.daq.calibration.study.study_data import occasions


@pytest.fixture(scope="module")
def published():
    """NIST/SEMATECH e-Handbook 2.6.1, probe 2362."""
    return levels_study(occasions("mpc61_probe_2362", part="wafer"))


def sds(several):
    return [each.sd for each in several]


def test_level_1_is_the_published_one(published):
    assert published.repeatability.sd == pytest.approx(0.07287, abs=5e-6)
    assert published.repeatability.dof == 300
    # Printed 0.06751 and 0.07786; the second is 0.0778566.
    assert sds(published.repeatability_by_run) == pytest.approx([0.06751, 0.07786], abs=5e-6)


def test_level_2_is_the_published_one(published):
    assert published.day_to_day.sd == pytest.approx(0.03617, abs=5e-6)
    assert published.day_to_day.dof == 50
    assert sds(published.day_to_day_by_run) == pytest.approx([0.03334, 0.03879], abs=5e-6)
    assert sds(published.day_to_day_by_part) == pytest.approx(
        [0.03594, 0.04722, 0.02728, 0.02319, 0.02744, 0.04532, 0.02147, 0.02756, 0.05369, 0.03698],
        abs=6e-6,
    )
    assert [round(mean, 5) for _, _, mean in published.run_means] == pytest.approx(
        [
            95.09282,
            99.30595,
            96.03573,
            101.06022,
            94.21482,
            95.12427,
            99.30978,
            96.07653,
            101.079,
            94.24377,
        ],
        abs=1.1e-5,
    )


def test_level_3_is_the_published_one(published):
    assert sds(published.run_to_run_by_part) == pytest.approx(
        [0.02224, 0.00271, 0.02885, 0.01328, 0.02047], abs=6e-6
    )
    assert published.run_to_run.sd == pytest.approx(0.0196, abs=5e-5)
    assert published.run_to_run.dof == 5


def test_one_value_holds_all_levels(published):
    # 2.5.3.1: u² = s3² + (K − 1)/K · s2² + (J − 1)/J · s1², with K = 6 days and J = 6 values.
    s1, s2, s3 = (
        each.sd for each in (published.repeatability, published.day_to_day, published.run_to_run)
    )
    assert published.u_single == pytest.approx(math.sqrt(s3**2 + 5 / 6 * s2**2 + 5 / 6 * s1**2))


def test_levels_that_were_put_in_are_found():
    rng = random.Random(11)
    made = []
    for part in range(40):
        for run in range(3):
            at = 10 * part + rng.gauss(0, 0.4)
            for day in range(5):
                today = at + rng.gauss(0, 0.3)
                values = [today + rng.gauss(0, 0.2) for _ in range(4)]
                made.append(occasion_of(str(part), str(run), str(day), values))
    study = levels_study(made)
    assert study.repeatability.sd == pytest.approx(0.2, rel=0.05)
    assert study.s_day == pytest.approx(0.3, rel=0.08)
    assert study.s_run == pytest.approx(0.4, rel=0.15)
    # By the formulas: 4 values a day, 5 days a run.
    s1, s2, s3 = (each.sd for each in (study.repeatability, study.day_to_day, study.run_to_run))
    assert study.s_day**2 == pytest.approx(s2**2 - s1**2 / 4)
    assert study.s_run**2 == pytest.approx(s3**2 - s2**2 / 5)


def test_repeatability_is_pooled_as_published():
    # NIST/SEMATECH e-Handbook 2.4.4.1, MPC441: 60 degrees of freedom, 0.07871.
    found = pooled((each.sd, each.dof) for each in occasions("mpc441", part="wafer"))
    assert found.dof == 60
    assert found.sd == pytest.approx(0.07871, abs=5e-6)
    assert found.sd**2 * found.dof == pytest.approx(0.37176, abs=5e-6)


def test_the_check_standard_is_the_published_one():
    # NIST/SEMATECH e-Handbook 2.6.2, MPC62.
    study = check_standard(occasions("mpc62", part="check", value="std"))
    assert study.repeatability.sd == pytest.approx(0.06139, abs=5e-6)
    assert study.repeatability.dof == 125
    assert study.sd == pytest.approx(0.0268, abs=5e-5)
    assert study.f == pytest.approx(2.286771, abs=5e-7)
    assert study.upper_sd == pytest.approx(0.09283, abs=5e-6)
    assert study.centre == pytest.approx(97.06984, abs=5e-6)
    assert (study.lower, study.upper) == pytest.approx((97.01624, 97.12344), abs=6e-6)


def test_what_a_check_standard_needs_is_said():
    good = occasions("mpc62", part="check", value="std")
    with pytest.raises(StudyError, match="a check standard is one part"):
        check_standard([*good, dataclasses.replace(good[0], part="other")])
    with pytest.raises(StudyError, match="3 at least"):
        check_standard(good[:2])
    with pytest.raises(StudyError, match="the same number each time"):
        check_standard([*good[:-1], dataclasses.replace(good[-1], dof=3)])


def test_what_levels_need_is_named():
    good = [Occasion("p", run, day, 1.0, 0.1, 2) for run in "ab" for day in "12"]
    assert levels_study(good).run_to_run.dof == 1
    with pytest.raises(StudyError, match="part p, run b: 1 day; the scatter from day to day"):
        levels_study(good[:-1])
    with pytest.raises(StudyError, match="part p, run a: day 1 is there twice"):
        levels_study([*good, good[0]])
    assert "one run only" in levels_study(good[:2]).remarks[0]
    assert levels_study(good[:2]).run_to_run is None
    with pytest.raises(StudyError, match="1 value says nothing of repeatability"):
        occasion_of("p", "a", "1", [1.0])

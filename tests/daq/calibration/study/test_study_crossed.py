"""The crossed study, against the worked example of AIAG, Measurement Systems Analysis, 4th ed."""

import dataclasses
import math
import random

import pytest

from daq.calibration.study import StudyError, Trial, by_range, by_variance
from tests.daq.calibration.study.study_data import trials


def sd(study, name):
    return study.component(name).sd


def test_the_analysis_of_variance_is_the_published_one():
    study = by_variance(trials())
    table = {row.source: row for row in study.table}
    assert study.pooled
    assert table["operator"].sum_of_squares == pytest.approx(3.1673, abs=5e-5)
    assert table["part"].sum_of_squares == pytest.approx(88.3619, abs=5e-5)
    assert table["interaction"].sum_of_squares == pytest.approx(0.3590, abs=5e-5)
    assert table["total"].sum_of_squares == pytest.approx(94.6471, abs=5e-5)
    assert [table[n].dof for n in ("operator", "part", "interaction", "total")] == [2, 9, 18, 89]
    assert table["interaction"].f == pytest.approx(0.434, abs=5e-4)
    assert table["interaction"].p == pytest.approx(0.974, abs=5e-4)
    # Pooled: 0.3590 + 2.7589 over 18 + 60 degrees of freedom.
    assert table["repeatability"].sum_of_squares == pytest.approx(3.1179, abs=5e-5)
    assert table["repeatability"].dof == 78
    assert sd(study, "repeatability") == pytest.approx(0.199933, abs=5e-7)
    assert sd(study, "reproducibility") == pytest.approx(0.226838, abs=5e-7)
    # Printed 0.302373, the root of the squares of rounded figures; recomputed 0.302372.
    assert sd(study, "measurement") == pytest.approx(0.302372, abs=5e-7)
    assert sd(study, "part") == pytest.approx(1.042327, abs=5e-7)
    assert sd(study, "total") == pytest.approx(1.085, abs=5e-4)
    shares = [study.component(n).of_sd for n in ("repeatability", "reproducibility")]
    shares += [study.component(n).of_sd for n in ("measurement", "part")]
    assert [round(100 * share, 1) for share in shares] == [18.4, 20.9, 27.9, 96.0]
    assert study.distinct_categories == 4


def test_average_and_range_is_the_published_one():
    study = by_range(trials())
    assert sd(study, "repeatability") == pytest.approx(0.2019, abs=5e-5)
    assert sd(study, "reproducibility") == pytest.approx(0.2297, abs=5e-5)
    assert sd(study, "measurement") == pytest.approx(0.3058, abs=5e-5)
    # Printed 1.1046 and 1.1461 with K3 rounded to .3146; exact K3 gives .00014 less.
    assert sd(study, "part") == pytest.approx(1.1046, abs=2e-4)
    assert sd(study, "total") == pytest.approx(1.1461, abs=2e-4)
    shares = [study.component(n).of_sd for n in ("repeatability", "reproducibility")]
    shares += [study.component(n).of_sd for n in ("measurement", "part")]
    assert [round(100 * share, 1) for share in shares] == [17.6, 20.0, 26.7, 96.4]
    assert study.distinct_categories == 5


def test_the_interaction_can_be_kept_and_the_study_says_so():
    # Recomputed from the published sums of squares, without pooling.
    study = by_variance(trials(), pool=False)
    assert study.pooled is False
    assert "kept as a component, as asked" in study.remarks[0]
    assert sd(study, "repeatability") == pytest.approx(0.214435, abs=5e-7)
    assert sd(study, "reproducibility") == pytest.approx(0.228304, abs=5e-7)
    assert sd(study, "measurement") == pytest.approx(0.313217, abs=5e-7)
    assert sd(study, "part") == pytest.approx(1.043395, abs=6e-7)
    assert sd(study, "interaction") == 0.0
    assert "the variance of interaction came out below zero and is given as 0" in study.remarks
    assert (
        "pooled with repeatability: its F test gives p = 0.974" in by_variance(trials()).remarks[0]
    )


def invented(*, interaction_sd, seed=5, operators=4):
    rng = random.Random(seed)
    return [
        Trial(str(part), str(operator), str(trial), at + off + both + rng.gauss(0, 0.1))
        for part in range(12)
        for at in [rng.gauss(0, 2)]
        for operator in range(operators)
        for off in [0.3 * operator]
        for both in [rng.gauss(0, interaction_sd)]
        for trial in range(3)
    ]


def test_an_interaction_that_is_there_is_kept_and_found():
    study = by_variance(invented(interaction_sd=1.0))
    assert study.pooled is False
    assert sd(study, "interaction") == pytest.approx(1.0, rel=0.25)
    assert sd(study, "repeatability") == pytest.approx(0.1, rel=0.2)
    # By the formulas: 12 parts, 4 operators, 3 trials.
    square = {row.source: row.mean_square for row in study.table}
    inner = square["interaction"]
    assert sd(study, "interaction") ** 2 == pytest.approx((inner - square["repeatability"]) / 3)
    assert sd(study, "operator") ** 2 == pytest.approx((square["operator"] - inner) / 36)
    assert sd(study, "part") ** 2 == pytest.approx((square["part"] - inner) / 12)
    variances = [sd(study, n) ** 2 for n in ("operator", "interaction")]
    assert sd(study, "reproducibility") == pytest.approx(math.sqrt(sum(variances)))
    shares = [study.component(n).of_variance for n in ("measurement", "part")]
    assert sum(shares) == pytest.approx(1.0)


def test_the_share_of_the_tolerance_is_six_standard_deviations():
    for study in (by_variance(trials(), tolerance=8.0), by_range(trials(), tolerance=8.0)):
        for each in study.components:
            assert each.of_tolerance == pytest.approx(6 * each.sd / 8.0)
    with pytest.raises(StudyError, match="must be above 0"):
        by_range(trials(), tolerance=0.0)


def test_the_order_of_the_values_does_not_matter():
    mixed = trials()
    random.Random(2).shuffle(mixed)
    for way in (by_variance, by_range):
        for name in ("repeatability", "reproducibility", "part"):
            assert sd(way(mixed), name) == pytest.approx(sd(way(trials()), name), rel=1e-12)


def test_a_missing_value_is_named():
    with pytest.raises(StudyError) as caught:
        by_variance(trials()[1:])
    assert caught.value.problems == (
        "part 1, operator A: trial 1 is missing; a crossed study needs every trial of every part "
        "by every operator",
    )


def test_too_few_of_anything_is_refused():
    one_operator = [each for each in trials() if each.operator == "A"]
    with pytest.raises(StudyError, match="1 operator: reproducibility needs 2"):
        by_range(one_operator)
    one_trial = [each for each in trials() if each.trial == "1"]
    with pytest.raises(StudyError, match="1 trial: repeatability needs 2"):
        by_variance(one_trial)


def test_a_trial_that_is_there_twice_is_refused():
    with pytest.raises(StudyError, match="part 1, operator A: trial 1 is there twice"):
        by_variance([*trials(), trials()[0]])


def test_values_that_do_not_scatter_give_no_categories():
    same = [dataclasses.replace(each, value=0.1 * int(each.part)) for each in trials()]
    for way in (by_variance, by_range):
        study = way(same)
        assert sd(study, "measurement") == 0.0
        assert study.distinct_categories is None
        assert any("too coarse" in remark for remark in study.remarks)
    assert "nothing scatters that it could be tested against" in by_variance(same).remarks[0]
    alike = [dataclasses.replace(each, value=0.3) for each in trials()]
    assert by_variance(alike).component("part").of_sd is None

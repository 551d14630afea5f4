"""The record of an assessment, the correction table, the line, and the check by Monte Carlo."""

import math
import re
from datetime import UTC, datetime
from decimal import Decimal
from uuid import UUID

import pytest

from daq.calibration.assess import How, record_of
from daq.logbook.calibration import CalibrationResult
from daq.spec.rules import GuardBand
from tests.daq.calibration.assess.invented_run import assessed, limited, point

D = Decimal
AT = datetime(2027, 1, 10, 9, 30, tzinfo=UTC)
CALIBRATION = str(UUID(int=7, version=4))
UIDS = {place: str(UUID(int=place, version=4)) for place in range(1, 100)}


def recorded(made):
    return record_of(made, calibration=CALIBRATION, operator="J. Doe", at=AT, uids=UIDS)


def test_the_record_says_what_the_assessment_says():
    made = assessed(of=limited(expansion="9"), temperature_c="20.5")
    record = recorded(made)
    assert (record.calibration, record.operator, record.at) == (CALIBRATION, "J. Doe", AT)
    assert (record.run, record.word) == ("as found", made.word.value)
    assert len(record.points) == 27
    for each, kept in zip(made.points, record.points, strict=True):
        assert kept.point == UIDS[kept.place]
        assert kept.error_mm == kept.reading_mm - kept.reference_mm == each.point.error_mm
        assert kept.expanded_mm == pytest.approx(kept.k * kept.u_mm)
    hysteresis = next(e for e in record.characteristics if e.what == "hysteresis")
    assert hysteresis.places == (1, 22)
    assert hysteresis.limit_mm == D("0.006")
    assert hysteresis.word is not None
    assert 0 < hysteresis.p_conform < 1
    assert (record.remarks, record.doubts) == (made.remarks, made.doubts)


def test_every_budget_adds_up_in_the_record():
    record = recorded(assessed())
    assert [each.of for each in record.budgets] == [
        "error at 10 mm up",
        *(each.what for each in record.characteristics),
    ]
    for budget in record.budgets:
        total = math.hypot(*(float(line.contribution_mm) for line in budget.lines))
        assert float(budget.u_mm) == pytest.approx(total, rel=1e-9)
        for line in budget.lines:
            contribution = abs(line.sensitivity) * line.u
            assert float(line.contribution_mm) == pytest.approx(float(contribution), rel=1e-9)


def test_the_record_comes_back_from_its_text_as_it_was():
    how = How(GuardBand(), with_monte_carlo=True)
    for record in (recorded(assessed(how=how)), recorded(assessed(run="as left"))):
        text = record.model_dump_json()
        assert CalibrationResult.model_validate_json(text) == record
        assert not re.search(r'"-?[0-9.]+[eE][+-]?[0-9]+"', text)


def test_the_correction_table_has_the_whole_uncertainty_of_the_less_sure_way():
    made = assessed()
    row = next(each for each in recorded(made).correction if each.nominal_mm == 5)
    assert row.correction_mm == D("-0.007")  # 6 µm up, 8 µm down
    assert row.between_ways_mm == D("0.002")
    assert row.u_mm == max(point(made, way, "5").stated.u_mm for way in ("up", "down"))


def test_readings_that_do_not_ascend_have_no_table_and_that_is_a_doubt():
    errors = {(way, D(n)): 0 for way in ("up", "down") for n in range(11)}
    made = assessed(errors=errors | {("up", D(5)): -1500, ("down", D(5)): -1500})
    assert recorded(made).correction == ()
    assert any("do not ascend" in each for each in made.doubts)


def test_the_line_is_least_squares_with_the_shared_parts_in_its_uncertainty():
    errors = {
        (way, D(n)): n + (2 if way == "down" else 0) for way in ("up", "down") for n in range(11)
    }
    kept = recorded(assessed(errors=errors, repeats=(2, 2, 2, 2, 2))).line
    # 1 µm a millimetre; 0 up and 2 down give 1 in the middle; residuals all 1 µm, 20 of 22 free.
    assert float(kept.slope) == pytest.approx(0.001)
    assert float(kept.at_zero_mm) == pytest.approx(0.001)
    assert float(kept.residual_s_mm) == pytest.approx(0.001 * math.sqrt(22 / 20))
    assert kept.dof == 20
    # Factors of the errors at n mm: in the slope (n - 5) / 220, at zero 1/22 - 5 (n - 5) / 220.
    slope = [(n - 5) / 220 for n in range(11)]
    at_zero = [1 / 22 - 5 * each for each in slope]
    block = math.hypot(0.00005, 0.00005 * 365 / 365.25 / math.sqrt(3))  # and its drift
    blocks = [2 * block * sum(abs(each) for each in of[1:]) for of in (slope, at_zero)]
    lean = 1 / math.cos(math.radians(0.25)) - 1
    by_travel = math.hypot(lean, 11.5e-6 * 0.2) / math.sqrt(3)
    scatter = [float(kept.residual_s_mm) * root for root in (1 / math.sqrt(220), math.sqrt(
        1 / 22 + 25 / 220))]  # fmt: skip
    zero = 0.001 / math.sqrt(12)
    u_slope, u_at_zero = float(kept.u_slope), float(kept.u_at_zero_mm)
    assert u_slope == pytest.approx(math.hypot(scatter[0], blocks[0], by_travel), rel=1e-6)
    assert u_at_zero == pytest.approx(math.hypot(scatter[1], blocks[1], zero), rel=1e-6)
    covariance = -(float(kept.residual_s_mm) ** 2) * 5 / 220
    assert float(kept.correlation) == pytest.approx(covariance / (u_slope * u_at_zero))


def test_a_run_with_readings_left_out_says_how_many():
    from tests.daq.calibration.assess import invented_run as run

    ready = run.prepared(run.plan(), run.standard(), run.ON)
    some = run.points_of(ready)[:-2]
    made = run.assess(
        ready, limited(), some, "as found", run.Conditions(D(20)), run.ON, How(GuardBand())
    )
    assert "2 readings that the plan asks for were not taken." in made.doubts


@pytest.mark.parametrize("repeats", [(2, 3, 1, 2, 3), (2, 2, 2, 2, 2)])
def test_monte_carlo_confirms_the_budgets(repeats):
    made = assessed(how=How(GuardBand(), with_monte_carlo=True, seed=5), repeats=repeats)
    record = recorded(made)
    assert [each.of for each in record.monte_carlo] == [each.of for each in record.budgets]
    for kept, budget in zip(record.monte_carlo, record.budgets, strict=True):
        assert (kept.seed, kept.agrees) == (5, True), (kept.of, kept.reason)
        assert kept.trials >= 100_000
        assert float(kept.high_mm - kept.low_mm) == pytest.approx(
            2 * float(budget.expanded_mm), rel=0.12
        )
    assert assessed().monte_carlo == ()


def test_the_same_seed_gives_the_same_draws_and_another_gives_others():
    def drawn(seed):
        made = assessed(how=How(GuardBand(), with_monte_carlo=True, seed=seed))
        return [each.low_mm for each in recorded(made).monte_carlo]

    assert drawn(3) == drawn(3)
    assert drawn(3) != drawn(4)

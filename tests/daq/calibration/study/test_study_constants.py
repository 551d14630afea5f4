"""The constants of control charts against tables."""

import math

import pytest

from daq.calibration.study import chart_constants, d2_star
from tests.daq.calibration.study.study_data import rows


@pytest.mark.parametrize("row", rows("control_chart_constants"), ids=lambda row: f"n={row['n']}")
def test_the_constants_of_subgroups_are_those_of_the_table(row):
    of = chart_constants(int(row["n"]))
    found = {
        "d2": of.d2, "d3": of.d3, "c4": of.c4, "A2": of.a2, "A3": of.a3, "B3": of.b3_lower,
        "B4": of.b4_upper, "D3": of.d3_lower, "D4": of.d4_upper, "E2": of.e2,
    }  # fmt: skip
    for name, value in found.items():
        assert value == pytest.approx(float(row[name]), abs=1e-5), name


def test_d2_star_is_that_of_the_table():
    for row in rows("d2star"):
        for n in range(2, 16):
            found = d2_star(int(row["g"]), n)
            assert found == pytest.approx(float(row[f"m{n}"]), abs=1.2e-5)


def test_closed_forms_are_met():
    # The range of two normal values: d2 = 2/√π, d3 = √(2 − 4/π). Of three: d2 = 3/√π.
    assert chart_constants(2).d2 == pytest.approx(2 / math.sqrt(math.pi), abs=1e-7)
    assert chart_constants(2).d3 == pytest.approx(math.sqrt(2 - 4 / math.pi), abs=1e-7)
    assert chart_constants(3).d2 == pytest.approx(3 / math.sqrt(math.pi), abs=1e-7)
    assert d2_star(1, 2) == pytest.approx(math.sqrt(2), abs=1e-7)


def test_a_subgroup_of_one_has_no_constants():
    with pytest.raises(ValueError, match="from 2 to"):
        chart_constants(1)

"""Corrections in a job: asked for, made, shown with their amounts, and in the uncertainty."""

import math
from decimal import Decimal

import pytest

from daq.jobs.answers import confirmed
from daq.jobs.sheet import sheet_from_bytes
from daq.jobs.tasks import next_task
from tests.daq.jobs.fitter import Engine, Fitter
from tests.daq.jobs.test_job import SHEET

CORRECTED = SHEET.replace(
    b"exercise = 2\n",
    b"exercise = 2\nmounting = { tilt = 10, u_tilt = 1 }\n"
    b'expansion = { part = "20", gauge = "11.5", u = "1", u_temperature = "0.5" }\n',
)
TRAVEL_MM = 0.1
"""From the master's 42.500 mm to the length that the engine is made to have."""


@pytest.fixture(scope="module")
def worked():
    fitter = Fitter(sheet_from_bytes(CORRECTED, "two.toml"), Engine(off_mm=0.0))
    while True:
        task, job = next_task(fitter.stands(), fitter.captures), fitter.stands()
        if task is None:
            return fitter
        if task.asks == "temperatures":
            fitter.tasks.append(task)
            fitter.records.append(
                confirmed(job, task, fitter.stamp(), Decimal(40), Decimal("22.5"))
            )
        else:
            fitter.step()


def test_both_temperatures_are_asked_for_where_a_length_is_stated_at_20_degrees(worked):
    (asked,) = [task for task in worked.tasks if task.asks == "temperatures"]
    assert asked.step == "height"
    assert "at 10° to the direction measured" in asked.words


def test_the_value_is_corrected_by_cosine_and_temperature_with_the_amounts_shown(worked):
    result = worked.stands().target("height", "injector 1").as_found
    amounts = {each.name: float(each.amount) for each in result.corrections}
    # cos 10 deg of the travel from the master; with u = 1 deg the mean of the cosine is smaller by
    # exp(-u^2). Then L20 = L (1 + 11.5e-6 * 2.5 - 20e-6 * 20): JCGM 100:2008, H.1.
    factor = math.cos(math.radians(10)) * math.exp(-(math.radians(1) ** 2))
    tilted = TRAVEL_MM * (factor - 1)
    grown = (42.5 + TRAVEL_MM * factor) * (11.5e-6 * 2.5 - 20e-6 * 20)
    assert amounts["cosine of the tilt"] == pytest.approx(tilted, abs=1e-6)
    assert amounts["temperature"] == pytest.approx(grown, abs=1e-6)
    assert float(result.value) == pytest.approx(42.6 + tilted + grown, abs=1e-5)


def test_what_the_corrections_are_made_with_is_in_the_uncertainty(worked):
    result = worked.stands().target("height", "injector 1").as_found
    parts = {each.name: abs(float(each.u * each.sensitivity)) for each in result.components}
    # u of the part's temperature 0.5 K at 20e-6 /K over 42.6 mm; of its coefficient at 20 K.
    assert parts["temperature of the part"] == pytest.approx(0.5 * 20e-6 * 42.6, rel=0.01)
    assert parts["expansion of the part"] == pytest.approx(20 * 1e-6 * 42.6, rel=0.01)
    assert float(result.u) == pytest.approx(math.hypot(*parts.values()), rel=1e-3)


def test_the_other_steps_are_not_corrected(worked):
    result = worked.stands().target("clearance", "intake 1").as_found
    assert result.corrections == ()

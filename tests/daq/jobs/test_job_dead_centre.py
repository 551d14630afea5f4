"""True top dead centre in a job: angles are read off the scale, the result is along the rim."""

import math
from decimal import Decimal

import pytest

from daq.jobs.answers import captured
from daq.jobs.recipes import SliderCrank
from daq.jobs.sheet import sheet_from_bytes
from daq.jobs.tasks import next_task
from daq.logbook.job import JobResult
from tests.daq.jobs.fitter import Fitter, capture
from tests.daq.jobs.test_job import SHEET

HEAD = SHEET[: SHEET.index(b"[[steps]]")].replace(b'range = "10 mm"', b'range = "40 mm"')
STEP = b"""
[[steps]]
name = "top"
what = "True top dead centre"
for_each = "cylinder"
recipe = "dead centre"
nominal = "0 mm"
limits = "\xc2\xb1 3 mm"
source = "made up, p. 3"
crank = "own firing TDC"
gauge = "rack"
[steps.crank_gear]
stroke = "150 mm"
rod = "280 mm"
rim = "600 mm"
u_angle = "0.1"
"""
OFF_DEG = 0.4
"""The true top comes this much later than the mark."""


def test_the_mark_is_off_by_as_much_as_the_heights_say():
    fitter = Fitter(sheet_from_bytes(HEAD + STEP, "top.toml"))
    crank = SliderCrank(75.0, 280.0)
    while True:
        task, job = next_task(fitter.stands(), fitter.captures), fitter.stands()
        if task is None or task.kind == "end":
            break
        if task.asks != "angle":
            fitter.step()
            continue
        at_deg = task.wanted.angle_deg if task.wanted.position == "before" else None
        if at_deg is None:  # on the other side of the top, where the height is the same
            before = {round(2 * OFF_DEG - a, 6) for a in (-40.0, -30.0)}
            at_deg = sorted(before)[0 if len(job.target("top", task.target).points) == 2 else 1]
        signed = at_deg - 360 if at_deg > 180 else at_deg
        value = capture(40 - crank.drop_mm(signed - OFF_DEG), len(fitter.records))
        angle = Decimal(repr(round(at_deg, 6)))
        fitter.records += [
            value,
            *captured(job, task, value, fitter.captures, fitter.stamp(), angle),
        ]
    result = fitter.stands().target("top", "cylinder 1").as_found
    assert isinstance(result, JobResult)
    assert result.unit == "mm"
    assert float(result.value) == pytest.approx(OFF_DEG * math.pi * 600 / 360, abs=0.05)
    assert float(result.u) > 0.1 * math.pi * 600 / 360 / 2

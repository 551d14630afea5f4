"""Benches with a job or a calibration at work, as the command serves them.

Name the bench before ``open_page`` in a test: what is named first is taken away last, and a page
whose bench has gone complains.
"""

from contextlib import ExitStack
from datetime import UTC, datetime

import pytest

from daq.cli.demo_lab import LABEL, demo_lab
from daq.logbook import Logbook
from drivers.profiles import load_profile
from simulated_devices import Bench, SimulatedGauge
from tests.browser.work.sheets import SHEET
from tests.end_to_end.bench_page import Program

OPERATOR = "R. Vale"


class Plunger:
    """A plunger that is where it was put last."""

    def __init__(self, at_mm):
        self.at_mm = at_mm

    def at(self, _t_s):
        return self.at_mm


@pytest.fixture
def benches():
    """Keeps benches and programs until the test ends."""
    with ExitStack() as stack:
        yield stack


@pytest.fixture
def bench_job(benches, tmp_path):
    """Starts ``restpoint bench job``: the plunger of its gauge, the program, the logbook.

    ``bench_job(sheet=…, engine=…, operator=…)``; one gauge serves in every role.
    """

    def start(*words, sheet=SHEET, engine="pump 1", operator=OPERATOR, at_mm=0.02):
        path, book = tmp_path / "small.toml", tmp_path / "a.logbook"
        path.write_text(sheet, "utf-8")
        plunger = Plunger(at_mm)
        gauge = SimulatedGauge(load_profile("decimal-line"), plunger)
        bench = benches.enter_context(Bench({"gauge": (gauge, None)}))
        asked = (
            "job", path, "--logbook", book, "--engine", engine, "--operator", operator,
            "--gauge", f"rack=decimal-line@{bench.ports['gauge']}", *words,
        )  # fmt: skip
        return plunger, benches.enter_context(Program(*asked)), book

    return start


@pytest.fixture
def bench_calibrate(benches, tmp_path):
    """Starts ``restpoint bench calibrate`` in the demo's laboratory: rig, program, logbook."""

    def start(
        *words, plan="", operator="M. Lind", change=lambda standard, gauge: (standard, gauge)
    ):
        book = tmp_path / "a.logbook"
        lab, now = demo_lab(datetime.now(UTC).date(), plan), datetime.now(UTC)
        standard, gauge = change(*lab.entries(now))
        with Logbook.open(book) as logbook:
            logbook.append_many([standard, gauge])
        rig = lab.rig(1)
        bench = benches.enter_context(Bench({LABEL: (rig.gauge, None)}))
        asked = (
            "calibrate", LABEL, "--logbook", book, "--operator", operator, "--standard",
            standard.id, "--port", bench.ports[LABEL], *words,
        )  # fmt: skip
        return rig, benches.enter_context(Program(*asked)), book

    return start

"""Calibrated, used, found out of limits, on ports; exported and audited; and what it touched.

Which captures must turn follows from how the simulated gauge truly errs, worked out by hand below.
"""

import csv
import sys
from dataclasses import replace
from datetime import UTC, datetime

import pytest

from daq.cli.demo_calibration import Watching, run_lab
from daq.cli.demo_lab import Stretched, demo_lab
from simulated_devices import Bench
from simulated_devices.calibration_hand import RigSlips
from simulated_devices.calibration_rig import GaugeTruth
from tests.end_to_end.road import json_lines, restpoint, steady
from tests.end_to_end.test_calibration_run import PLAN, SPEED, in_time

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminals")

GOOD, WORN = 0.0009, 0.0118
"""The error at 10 mm, mm; it grows in proportion to the travel. 0.008 mm is permissible."""

READS_MM = {
    "within by much": 8.0050,  # truly 7.9956: within, before and after
    "too long by the gauge": 8.0080,  # truly 7.9986: read as too long, and within
    "too short in truth": 7.9985,  # truly 7.9891: read as within, and too short
}
"""What the worn gauge shows of three parts of 8 mm ± 0.006 mm; it errs by +0.0094 mm there."""


def calibrate(path, errs, seed):
    """A whole calibration on a port; what was found."""
    lab = demo_lab(datetime.now(UTC).date(), PLAN, RigSlips(takes={}))
    lab = replace(lab, found=GaugeTruth(Stretched(errs), hysteresis_mm=0.0011))
    outcome = run_lab(path, lab, Watching(stop=in_time()), seed=seed, speed=SPEED)
    return outcome.stands.ended.as_found


def work(place, book):
    """Three parts measured with the gauge on a port of its own, by the command."""
    for number, reads_mm in enumerate(READS_MM.values()):
        with Bench({"gauge": (steady("fixed-fields", reads_mm, noise_mm=0.0), None)}) as bench:
            gauges = place / f"gauges-{number}.toml"
            gauges.write_text(
                '[[gauges]]\nlabel = "DI-7"\nprofile = "fixed-fields"\n'
                f'port = "{bench.ports["gauge"]}"\n',
                "utf-8",
            )
            status, out, error = restpoint(
                "capture", "DI-7", "--gauges", gauges, "--logbook", book, "--count", 1, "--for", 10,
                "--name", "height", "--nominal", "8 mm", "--limits", "± 0.006 mm",
                "--source", "invented sheet 4", "--operator", "R. Ahlers",
            )  # fmt: skip
            assert status == 0, out + error


@pytest.mark.timeout(120)
def test_what_a_worn_gauge_touched_is_found_from_the_bytes_on(tmp_path):
    book, tables = tmp_path / "site.logbook", tmp_path / "exported"
    assert calibrate(book, GOOD, seed=2) == "pass"
    work(tmp_path, book)
    assert calibrate(book, WORN, seed=3) == "fail"

    status, _, error = restpoint("log", "export", book, "--parquet", tables, "--site", "works 1")
    assert status == 0, error

    status, out, error = restpoint("audit", tables, "--json")
    assert status == 1, error
    found = {(each.get("rule"), each.get("gauge")) for each in json_lines(out)}
    assert ("found-out-of-limits", "DI-7") in found

    for where, at in (("--log", tables), ("--logbook", book)):
        rows = tmp_path / f"touched{where}.csv"
        status, out, error = restpoint("impact", "DI-7", where, at, "--csv", rows)
        assert status == 1, out + error
        with rows.open(encoding="utf-8", newline="") as file:
            touched = {float(each["value_mm"]): each for each in csv.DictReader(file)}
        group = {name: touched[reads]["group"] for name, reads in READS_MM.items()}
        assert len(touched) == len(READS_MM)
        assert group["within by much"] != "flips"
        assert group["too long by the gauge"] == group["too short in truth"] == "flips"
        for reads_mm, row in touched.items():
            # Straight between the calibrated lengths of 5 and 10 mm; half the hysteresis is in it.
            # An error is the difference of two readings, the zero's and its own, and each may fall
            # on either side of a step of 0.0005 mm.
            assert float(row["error_mm"]) == pytest.approx(WORN * 0.8 + 0.00055, abs=0.001)
            assert float(row["corrected_mm"]) == pytest.approx(
                reads_mm - float(row["error_mm"]), abs=1e-9
            )

"""Impact on a generated log of a fleet, against an oracle that knows what was planted.

RESTPOINT_TEST_AUDIT_GENERATOR names the folder of the generator, which writes the captures whose
verdict turns beside the log, each with its corrected value; RESTPOINT_TEST_AUDIT_PYTHON an
interpreter that has what it needs (else the one of the tests).
"""

import os
import subprocess
import sys
from pathlib import Path

import duckdb
import numpy as np
import pytest

from daq.audit.impact.from_source import impact_in_files
from daq.audit.impact.touched import FLIPS

FOLDER = os.environ.get("RESTPOINT_TEST_AUDIT_GENERATOR")
PYTHON = os.environ.get("RESTPOINT_TEST_AUDIT_PYTHON", sys.executable)
MAPPING = Path(__file__).parents[1] / "generator_mapping.toml"

pytestmark = pytest.mark.skipif(FOLDER is None, reason="no folder of the generator is named")


@pytest.mark.parametrize("seed", [7, 8])
def test_the_very_captures_flip_that_the_oracle_names_and_no_other(tmp_path, seed):
    program = str(Path(FOLDER) / "generate_logs.py")
    words = [PYTHON, program, str(tmp_path), "--rows", "3e5", "--seed", str(seed)]
    subprocess.run(words, capture_output=True, timeout=50, check=True)
    impact = impact_in_files([tmp_path], MAPPING)
    ours = {
        (int(each.period.gauge), int(each.captures.seq[i])): float(each.corrected_mm[i])
        for each in impact.touched
        for i in np.flatnonzero(each.group == FLIPS)
    }
    truth = str(tmp_path / "truth_impact.parquet")
    rows = duckdb.execute("SELECT gauge_id, seq, corrected FROM read_parquet(?)", [truth])
    oracle = {(gauge, seq): corrected for gauge, seq, corrected in rows.fetchall()}
    assert oracle
    assert ours.keys() == oracle.keys()
    assert ours == pytest.approx(oracle, rel=0, abs=1e-12)

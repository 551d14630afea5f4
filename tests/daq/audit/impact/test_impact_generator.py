"""Impact on generated logs of a fleet, against an oracle that knows what was planted.

Tried where RESTPOINT_TEST_AUDIT_GENERATOR names a folder that the generator has written: the logs,
and in ``truth_impact.parquet`` the captures whose verdict turns, each with its corrected value.
"""

import os
from pathlib import Path

import duckdb
import numpy as np
import pytest

from daq.audit.impact.from_source import impact_in_files
from daq.audit.impact.touched import FLIPS

FOLDER = os.environ.get("RESTPOINT_TEST_AUDIT_GENERATOR", "")
MAPPING = Path(__file__).parents[1] / "generator_mapping.toml"

pytestmark = pytest.mark.skipif(
    not (Path(FOLDER) / "truth_impact.parquet").is_file(),
    reason="RESTPOINT_TEST_AUDIT_GENERATOR names no folder with generated logs",
)


def test_the_very_captures_flip_that_the_oracle_names_and_no_other():
    impact = impact_in_files([Path(FOLDER)], MAPPING)
    ours = {
        (int(each.period.gauge), int(each.captures.seq[i])): float(each.corrected_mm[i])
        for each in impact.touched
        for i in np.flatnonzero(each.group == FLIPS)
    }
    truth = str(Path(FOLDER) / "truth_impact.parquet")
    rows = duckdb.execute("SELECT gauge_id, seq, corrected FROM read_parquet(?)", [truth])
    oracle = {(gauge, seq): corrected for gauge, seq, corrected in rows.fetchall()}
    assert oracle
    assert ours.keys() == oracle.keys()
    assert ours == pytest.approx(oracle, rel=0, abs=1e-12)

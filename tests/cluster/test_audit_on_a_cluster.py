"""The command over a log of 10⁵ rows: its evidence on a cluster is that on one machine.

The address of a master of Spark is in RESTPOINT_SPARK; `.ci/cluster` starts one, with two workers.
"""

import os
import re
import subprocess
import sys

import duckdb
import pytest

from daq.audit.rules import built_in
from tests.daq.audit.faulty_log import faulty_fleet, write

MASTER = os.environ.get("RESTPOINT_SPARK")

pytestmark = [
    pytest.mark.timeout(500),
    pytest.mark.skipif(
        MASTER is None,
        reason="RESTPOINT_SPARK names no master of Spark; .ci/cluster starts one and sets it",
    ),
]

GAUGES, SEED = 400, 3
WITHOUT_A_FAULT_HERE = {"broken-chain"}
"""It needs a log of another form; test_spark_same.py has one."""


@pytest.fixture(scope="module")
def log(tmp_path_factory):
    folder = tmp_path_factory.mktemp("log")
    write(faulty_fleet(GAUGES, SEED).tables, folder)
    return folder


def audited(log, out, *more):
    """The exit status of the command over a log, and the last line that it says."""
    command = [sys.executable, "-m", "daq.cli", "audit", str(log), "--rule", "all", "--rows", *more]
    done = subprocess.run(
        [*command, "--evidence", str(out)], capture_output=True, text=True, timeout=400, check=False
    )
    assert done.stdout, done.stderr
    return done.returncode, done.stdout.splitlines()[-1]


def rows_of(file):
    """The columns of a file with their types, and its rows in their order."""
    found = duckdb.sql(f"SELECT * FROM '{file}'")
    return list(zip(found.columns, map(str, found.types), strict=True)), found.fetchall()


def test_the_evidence_is_the_same_in_every_row_and_column(log, tmp_path, capsys):
    here = audited(log, tmp_path / "here.parquet")
    there = audited(log, tmp_path / "there.parquet", "--engine", MASTER)
    assert there == here
    assert here[0] == 1
    columns, rows = rows_of(tmp_path / "here.parquet")
    columns_there, rows_there = rows_of(tmp_path / "there.parquet")
    assert columns_there == columns
    assert rows_there == rows
    fired = {row[0] for row in rows}
    assert fired == {rule.id for rule in built_in()} - WITHOUT_A_FAULT_HERE
    points, captures = (int(n) for n in re.findall(r"(\d+) (?:points|captures)", here[1]))
    assert points + captures >= 100_000
    with capsys.disabled():
        print(
            f"\n{points} points and {captures} captures, {len(fired)} rules with findings: "
            f"{len(rows)} rows of evidence, {len(columns)} columns, the same on both engines"
        )

"""The whole audit on generated fleets with planted faults, scored; only where the generator is.

RESTPOINT_TEST_AUDIT_GENERATOR names the folder of the generator and its scorer, and
RESTPOINT_TEST_AUDIT_PYTHON an interpreter that has what they need (else the one of the tests).
"""

import os
import re
import subprocess
import sys
from pathlib import Path

import duckdb
import pytest

from daq.audit.engine import audit, write_evidence
from daq.audit.intake import load_mapping, open_source
from daq.audit.rules import built_in, chosen
from tests.daq.audit.scored import CODES, in_codes

FOLDER = os.environ.get("RESTPOINT_TEST_AUDIT_GENERATOR")
PYTHON = os.environ.get("RESTPOINT_TEST_AUDIT_PYTHON", sys.executable)
MAPPING = Path(__file__).parents[1] / "generator_mapping.toml"

pytestmark = pytest.mark.skipif(FOLDER is None, reason="no folder of the generator is named")


def program(name, *asked):
    words = [PYTHON, str(Path(FOLDER) / name), *map(str, asked)]
    done = subprocess.run(words, capture_output=True, text=True, timeout=50, check=True)
    return done.stdout


@pytest.mark.parametrize("seed", [7, 8, 9])
def test_every_planted_fault_is_found_and_nothing_else(tmp_path, seed):
    data, evidence = tmp_path / "data", tmp_path / "evidence.parquet"
    program("generate_logs.py", data, "--rows", "1e6", "--seed", seed)
    with open_source([data], load_mapping(MAPPING)) as source:
        findings = audit(source, chosen(built_in(), ())).findings
    # Of faults that nobody planted nothing is told, by any rule.
    assert {each.rule for each in findings} <= {*CODES}
    write_evidence(findings, evidence)
    in_codes(evidence, tmp_path / "coded.parquet")
    said = program("score_evidence.py", data, tmp_path / "coded.parquet")
    scores = {
        code: (int(planted), int(found), int(false))
        for code, planted, found, false in re.findall(
            r"^(R\d\d) +(\d+) +(\d+) +[\d.]+ +\d+ +(\d+)", said, re.MULTILINE
        )
        if code != "R16"
    }
    assert len(scores) == len(CODES)
    assert {code: (found, false) for code, (_, found, false) in scores.items()} == {
        code: (planted, 0) for code, (planted, _, _) in scores.items()
    }, said
    truth = f"read_json('{data}/truth.jsonl')"
    ((decoys,),) = duckdb.sql(f"SELECT count(*) FROM {truth} WHERE decoy").fetchall()
    assert decoys > 0

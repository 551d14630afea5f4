"""The scripts of the pages, where node is: each file of tests in ``js/`` is one test here."""

import json
import os
import shutil
import subprocess
from pathlib import Path

import pytest

from .js.states import all_states

HERE = Path(__file__).parent / "js"
NODE = shutil.which("node")

pytestmark = pytest.mark.skipif(
    NODE is None, reason="node is not installed: the scripts of the pages are NOT tested"
)


@pytest.fixture(scope="module")
def states(tmp_path_factory):
    """The file with the states that the bench sends, made by the code that sends them."""
    path = tmp_path_factory.mktemp("page") / "states.json"
    path.write_text(json.dumps(all_states()), "utf-8")
    return path


@pytest.mark.parametrize("name", sorted(path.name for path in HERE.glob("*.test.mjs")))
def test_the_scripts_do_what_their_tests_say(name, states):
    assert NODE is not None
    ran = subprocess.run(
        [NODE, "--test", str(HERE / name)],
        env={**os.environ, "RESTPOINT_STATES": str(states)},
        capture_output=True,
        text=True,
        timeout=50,
        check=False,
    )
    assert ran.returncode == 0, ran.stdout + ran.stderr
    assert "# tests 0" not in ran.stdout

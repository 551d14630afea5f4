"""The scripts of the pages, where node is: each file of tests in ``js/`` is one test here."""

import json
import os
import shutil
import subprocess
from pathlib import Path

import pytest

from .js.states import all_states
from .js.work.works import all_works

HERE = Path(__file__).parent / "js"
NODE = shutil.which("node")

pytestmark = pytest.mark.skipif(
    NODE is None, reason="node is not installed: the scripts of the pages are NOT tested"
)


@pytest.fixture(scope="module")
def sent(tmp_path_factory):
    """Files with what the bench sends, made by the code that sends it, by the names for them."""
    folder = tmp_path_factory.mktemp("page")
    files = {"RESTPOINT_STATES": all_states(), "RESTPOINT_WORKS": all_works(folder)}
    for name, said in files.items():
        (folder / f"{name}.json").write_text(json.dumps(said), "utf-8")
    return {name: str(folder / f"{name}.json") for name in files}


@pytest.mark.parametrize("name", sorted(str(p.relative_to(HERE)) for p in HERE.rglob("*.test.mjs")))
def test_the_scripts_do_what_their_tests_say(name, sent):
    assert NODE is not None
    ran = subprocess.run(
        [NODE, "--test", str(HERE / name)],
        env={**os.environ, **sent},
        capture_output=True,
        text=True,
        timeout=50,
        check=False,
    )
    assert ran.returncode == 0, ran.stdout + ran.stderr
    assert "# tests 0" not in ran.stdout

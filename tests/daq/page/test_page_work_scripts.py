"""The scripts of the job, calibration and logbook pages, where node is: a file of tests each."""

import json
import os
import shutil
import subprocess
from pathlib import Path

import pytest

from .js.work.works import all_works

HERE = Path(__file__).parent / "js" / "work"
NODE = shutil.which("node")

pytestmark = pytest.mark.skipif(
    NODE is None, reason="node is not installed: the scripts of the pages are NOT tested"
)


@pytest.fixture(scope="module")
def works(tmp_path_factory):
    """The file with what the bench sends, made by the code that sends it."""
    folder = tmp_path_factory.mktemp("works")
    path = folder / "works.json"
    path.write_text(json.dumps(all_works(folder)), "utf-8")
    return path


@pytest.mark.parametrize("name", sorted(path.name for path in HERE.glob("*.test.mjs")))
def test_the_scripts_do_what_their_tests_say(name, works):
    assert NODE is not None
    ran = subprocess.run(
        [NODE, "--test", str(HERE / name)],
        env={**os.environ, "RESTPOINT_WORKS": str(works)},
        capture_output=True,
        text=True,
        timeout=50,
        check=False,
    )
    assert ran.returncode == 0, ran.stdout + ran.stderr
    assert "# tests 0" not in ran.stdout

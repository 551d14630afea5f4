"""What no module of ours may do: run what it was given, or read what runs when it is read."""

import ast
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
MODULES = sorted(
    path.relative_to(ROOT)
    for package in ("drivers", "simulated_devices", "daq")
    for path in (ROOT / package).rglob("*.py")
)

CALLS = {"eval", "exec", "compile", "__import__", "system", "popen", "execv", "execve", "spawnv"}
IMPORTS = {"pickle", "marshal", "shelve", "dill", "joblib", "subprocess", "pty", "yaml", "xmlrpc"}
PARSES_XML = {"xml.etree", "xml.dom", "xml.sax.expatreader", "xml.parsers"}


def called(tree):
    """The names of functions that are called without looking at what is before the dot.

    ``re.compile`` and a method of a connection or of a rule are other things of these names.
    """
    for node in ast.walk(tree):
        if isinstance(node, ast.Call):
            if isinstance(node.func, ast.Name):
                yield node.func.id
            elif isinstance(node.func, ast.Attribute) and isinstance(node.func.value, ast.Name):
                yield node.func.attr if node.func.value.id in ("os", "builtins") else ""


def imported(tree):
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and not node.level:
            yield node.module
            yield from (f"{node.module}.{alias.name}" for alias in node.names)


@pytest.mark.parametrize("module", MODULES, ids=str)
def test_nothing_that_was_read_is_run(module):
    tree = ast.parse((ROOT / module).read_text("utf-8"))
    assert CALLS.isdisjoint(called(tree))
    names = set(imported(tree))
    assert IMPORTS.isdisjoint({name.split(".")[0] for name in names})
    assert not [name for name in names if name.startswith(tuple(PARSES_XML))]


def test_the_look_sees_what_it_is_for():
    bad = ast.parse("import pickle, os\neval('1')\nos.system('x')\nfrom xml.etree import X")
    assert CALLS & set(called(bad)) == {"eval", "system"}
    assert "pickle" in set(imported(bad))
    assert "xml.etree" in set(imported(bad))


def test_everything_that_is_installed_is_held_against_a_hash():
    lock = (ROOT / "requirements.lock").read_text("utf-8")
    assert "://" not in lock  # no index, no repository, no address
    wanted = re.findall(r"^([A-Za-z0-9._-]+)==", lock, re.MULTILINE)
    assert len(wanted) > 20
    entries = re.split(r"^(?=[A-Za-z0-9._-]+==)", lock, flags=re.MULTILINE)[1:]
    assert all("--hash=sha256:" in each for each in entries)
    assert "--require-hashes" in (ROOT / "Makefile").read_text("utf-8")

"""Imports go one way: drivers know nothing of ours, nothing but its command knows the simulator."""

import ast
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
MODULES = sorted(
    path.relative_to(ROOT)
    for package in ("drivers", "simulated_devices", "daq")
    for path in (ROOT / package).rglob("*.py")
)

FORBIDDEN = {
    "drivers": {"daq", "simulated_devices", "rich", "click", "pint"},
    "simulated_devices": {"daq", "rich", "click", "serial", "pint"},
    "daq": {"serial"},
}
"""By package: what no module of it imports."""

ONLY_IN = {
    "serial": ("drivers/link.py", "drivers/discovery.py"),
    "numpy": ("drivers/blocks/", "daq/"),
    "pint": ("daq/spec/units.py",),
    "rich": ("daq/screen/", "daq/cli/"),
    "click": ("daq/cli/",),
    "sqlite3": ("daq/logbook/",),
    "cryptography": ("daq/logbook/signing.py",),
    "jinja2": ("daq/report/",),
    "markupsafe": ("daq/report/",),
    "typst": ("daq/report/",),
    "lxml": ("daq/report/dcc/",),
    "starlette": ("daq/page/",),
    "uvicorn": ("daq/page/",),
    "websockets": ("daq/page/",),
    "segno": ("daq/page/",),
    "duckdb": ("daq/audit/",),
    "pyspark": ("daq/audit/engine/spark",),
    "pyarrow": ("daq/audit/engine/spark",),
    "pandas": ("daq/audit/engine/spark",),
    "sqlglot": ("daq/audit/",),
    "simulated_devices": ("simulated_devices/", "daq/cli/simulate.py", "daq/cli/demo"),
}
"""What only some modules may import."""

ROOMS = {
    "ink": set(),
    "settle": set(),
    "spec": set(),
    "logbook": set(),
    "doctor": {"logbook"},
    "sniff": set(),
    "measure": {"settle", "spec", "logbook"},
    "jobs": {"settle", "spec", "logbook"},
    "calibration": {"ink", "settle", "spec", "logbook"},
    "audit": {"ink", "logbook", "spec", "calibration"},
    "report": {"ink", "logbook", "jobs", "spec", "calibration", "audit"},
    "screen": {"measure", "spec", "logbook", "jobs", "calibration"},
    "page": {"ink", "measure", "spec", "logbook", "jobs", "calibration", "screen"},
    "cli": {
        "settle",
        "spec",
        "logbook",
        "measure",
        "screen",
        "page",
        "jobs",
        "report",
        "calibration",
        "audit",
        "doctor",
        "sniff",
    },
}
"""By room of daq: which other rooms it may import."""


def imported(module):
    """Every module that ``module`` imports, dotted, wherever the import stands in it."""
    found = set()
    for node in ast.walk(ast.parse((ROOT / module).read_text("utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{module}:{node.lineno}: write the import out in full"
            found.add(node.module)
    return found


@pytest.mark.parametrize("module", MODULES, ids=str)
def test_imports_go_one_way(module):
    tops = {name.split(".")[0] for name in imported(module)}
    assert not tops & FORBIDDEN[module.parts[0]]
    for name, places in ONLY_IN.items():
        if name in tops:
            assert module.as_posix().startswith(places), f"{module} must not import {name}"


@pytest.mark.parametrize(
    "module", [m for m in MODULES if m.parts[0] == "daq" and len(m.parts) > 2], ids=str
)
def test_a_room_imports_only_the_rooms_below_it(module):
    room = module.parts[1]
    others = {name.split(".")[1] for name in imported(module) if name.startswith("daq.")} - {room}
    assert others <= ROOMS[room]


@pytest.mark.parametrize(
    "package", ["drivers", "drivers.decoder", "daq.spec", "daq.settle", "daq.logbook", "daq.cli"]
)
def test_importing_a_room_does_not_import_the_slow_libraries(package):
    program = (
        f"import sys, {package}\n"
        "print(*sorted({'pint', 'numpy', 'serial', 'rich'} & set(sys.modules)))"
    )
    command = [sys.executable, "-c", program]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    assert done.stdout.split() == []

"""restpoint doctor, as its user runs it."""

import sys
from pathlib import Path

import pytest

from daq.logbook import Logbook
from simulated_devices import Bench
from tests.end_to_end.road import json_lines, restpoint, steady


def by_subject(out):
    return {each["about"]: each for each in json_lines(out)}


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="reads files of Linux")
def test_a_port_that_is_open_elsewhere_stands_in_the_way(tmp_path):
    with Bench({"gauge": (steady("decimal-line"), None)}) as bench:
        port = str(Path(bench.ports["gauge"]).resolve())
        status, out, _ = restpoint("doctor", port, "--json")
        found = by_subject(out)
        assert status == 1  # this very program has it open: the simulator
        assert found[port]["state"] == "fault"
        assert "it is open in" in found[port]["says"]
    status, out, _ = restpoint("doctor", port, "--json")
    assert by_subject(out)[port]["says"] == "there is no such port"


def test_the_disk_of_a_logbook_and_its_newest_record_are_looked_at(tmp_path):
    path = tmp_path / "a.logbook"
    Logbook.open(path).close()
    _, out, _ = restpoint("doctor", "--logbook", path, "--json")
    found = by_subject(out)
    assert str(tmp_path) in found["disk"]["says"]
    assert {"services", "clock", "screen", "sound"} <= found.keys()
    assert found["screen"]["state"] == "mind"  # it writes to a pipe here


def test_rules_are_printed_alone_and_only_for_usb_adapters():
    status, out, _ = restpoint("doctor", "/dev/nothing", "--rules")
    assert (status, out) == (1, "")

"""restpoint sniff on a pseudo-terminal, as its user runs it."""

import sys

import pytest

from simulated_devices import Bench
from tests.end_to_end.road import restpoint, steady

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminals")


def test_an_unknown_port_is_heard_and_the_profile_and_the_next_command_are_named(tmp_path):
    file = tmp_path / "my-gauge.toml"
    with Bench({"gauge": (steady("decimal-line", -3.21), None)}) as bench:
        port = bench.ports["gauge"]
        status, out, errors = restpoint("sniff", port, "--for", 0.8, "--draft", file)
        assert (status, errors) == (0, "")
        assert "decimal-line: fits" in out
        assert "the last -3.210 mm" in out
        assert "2d 30 30 30 33 2e 32 31 30 20 6d 6d 0d 0a" in out
        assert f"restpoint watch decimal-line@{port}" in out
        status, out, _ = restpoint("profile", "check", file)
        assert status == 0
        status, _, errors = restpoint("sniff", port, "--for", 0.8, "--draft", file)
        assert status == 2
        assert "is there already" in errors


def test_silence_is_told_with_what_to_do():
    with Bench({"gauge": (steady("marked-xor"), None)}) as bench:
        port = bench.ports["gauge"]
        status, out, _ = restpoint("sniff", port, "--for", 0.2, "--baud", 9600)
    assert status == 1
    assert "NO BYTES: not one byte came" in out
    assert "Press its data key" in out


def test_a_port_that_is_not_there_is_an_error_of_its_own():
    status, _, errors = restpoint("sniff", "/dev/nothing", "--baud", 9600)
    assert status == 3
    assert "/dev/nothing" in errors

"""Kills on the way into system calls, in short; random moments are in tests/daq/logbook."""

import pytest

from tests.faults.kills.__main__ import at_calls
from tests.faults.power_cut.program import KINDS
from tests.faults.power_cut.system_calls import STRACE


@pytest.mark.skipif(STRACE is None, reason="there is no strace here")
@pytest.mark.parametrize("kind", KINDS)
def test_a_kill_takes_nothing_that_was_told_to_be_kept(kind, tmp_path):
    _, kills, faults = at_calls(kind, 3, f"short {kind}", tmp_path)
    assert kills == 3
    assert faults == []

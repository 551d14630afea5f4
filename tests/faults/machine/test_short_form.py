"""What the machine does to a program that captures, in short: one try of some faults."""

import pytest

from tests.faults.machine import cables
from tests.faults.machine.__main__ import DISKS, SIGNALS, Tally, run_try
from tests.faults.power_cut.system_calls import STRACE

SAYS = {"disk full": "There is no room left", "disk fails to flush": "The disk failed"}


@pytest.mark.skipif(STRACE is None, reason="there is no strace here")
@pytest.mark.parametrize(
    "fault", ["killed", "terminal closed", "stands still", "disk full", "disk fails to flush"]
)
def test_no_wrong_value_is_kept_and_no_kept_one_is_lost(fault):
    assert fault in {*SIGNALS, *DISKS, "stands still"}
    tally = Tally()
    run_try(6, fault, tally, lasts_s=3.5)
    assert tally.faults == []
    if fault in SAYS:
        assert any(SAYS[fault] in each for each in tally.refused)


@pytest.mark.parametrize("fault", cables.FAULTS)
@pytest.mark.parametrize("seed", [1, 2])
def test_no_value_is_kept_for_the_wrong_gauge(fault, seed):
    tally = Tally()
    cables.run_try(seed, fault, tally)
    assert tally.faults == []
    assert tally.kept > 2

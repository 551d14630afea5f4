"""Long runs in short: nothing grows, and what was sent is what was received."""

import sys

import pytest

from tests.faults.campaign import PROFILES
from tests.soak import at_speed, in_real_time
from tests.soak.measured import Held, growth


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="needs /proc")
@pytest.mark.parametrize("profile", PROFILES, ids=lambda profile: profile.name)
def test_minutes_of_work_leave_nothing_behind(profile):
    found = at_speed.run(profile, 0.02)
    assert 0 <= found.sent - found.received - found.bad <= 1  # one may be under way
    assert found.bad == 0
    assert found.captured >= 4
    assert found.off == []
    memory_mb, handles, threads = growth(found.held)
    assert memory_mb < 3
    assert (handles, threads) == (0, 0)


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="needs /proc")
def test_gauges_on_ports_send_and_are_received_byte_for_byte(tmp_path):
    found = in_real_time.run(0.1, 14, tmp_path / "soak.logbook", looks=5)
    assert found.sent == found.received
    assert found.sent.total() > 10_000
    assert found.bad == 0
    assert 0 < found.captured == found.kept
    assert found.problems == ()
    memory_mb, handles, threads = growth(found.held)
    assert memory_mb < 20
    assert (handles, threads) == (0, 0)


def test_growth_is_from_a_quarter_of_the_work_to_its_end():
    held = [Held(float(n), 10.0 + n, 5, 2) for n in range(8)]
    assert growth(held) == (5.0, 0, 0)

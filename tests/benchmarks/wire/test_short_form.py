"""The benchmark in short: nothing is lost or wrong, and costs keep within wide bounds.

Costs are held against the floor of the same run, never against a clock; the machines that run tests
are shared, so the bounds are several times what `make bench` measures.
"""

import sys

import pytest

from drivers.profiles import builtin_profiles, load_profile
from tests.benchmarks.wire.delays import LINE, compared
from tests.benchmarks.wire.losing import pulled
from tests.benchmarks.wire.objects import conversion
from tests.benchmarks.wire.reading import flat_out
from tests.benchmarks.wire.ways import Floor, Ours

pytestmark = pytest.mark.skipif(
    not sys.platform.startswith("linux"), reason="needs epoll and pseudo-terminals"
)

LINES = load_profile("decimal-line")


@pytest.mark.parametrize("profile", builtin_profiles(), ids=lambda each: each.name)
def test_flat_out_nothing_is_wrong_and_reading_costs_little_more_than_the_floor(profile):
    found = flat_out(profile, 16, rounds=2, frames=100_000)
    assert found["wrong"] == 0
    assert found["least"] <= 4.0  # 1.0 to 1.7


def test_at_the_rate_of_the_line_nothing_is_lost_or_wrong():
    found = compared(LINES, 32, {**LINE, "seconds": 0.8}, rounds=2)
    ours, floor = found[Ours.name], found[Floor.name]
    assert (ours["lost"], ours["wrong"]) == (0, 0)
    assert ours["frames"] == floor["frames"] > 10_000
    assert ours["cpu_percent_ratio"] <= 4.0  # about 1


def test_a_pulled_cable_is_known_and_found_again_and_costs_no_other_gauge_a_byte():
    found = pulled(LINES, gauges=32, seconds=0.9, rounds=2)
    assert found["missing_bytes"] == 0
    assert found["lost_ms"] <= 200  # 0.5
    assert found["back_ms"] <= 2000  # 100


def test_a_length_in_millimetres_costs_nanoseconds():
    assert conversion(LINES, rounds=3)["conversion_ns"] <= 400  # 4

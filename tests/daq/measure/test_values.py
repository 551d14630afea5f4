"""A trace of values is read as what a gauge would have sent, however fast it came."""

from decimal import Decimal

import pytest

from daq.measure.session import Session
from daq.measure.values import values_profile
from drivers.reading import Reading, Unit


@pytest.mark.parametrize("rate_hz", [5, 96, 500, 2000])
def test_a_trace_of_any_rate_comes_to_rest(rate_hz):
    readings = [
        Reading(Decimal("12.345"), Unit.MM, n / rate_hz, b"12.345") for n in range(3 * rate_hz)
    ]
    profile = values_profile(readings, None)
    session = Session(profile)
    session.take(readings)
    assert profile.sends.rate_hz == pytest.approx(rate_hz)
    assert session.rest.value_mm == pytest.approx(12.345)

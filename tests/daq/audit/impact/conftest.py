"""What the tests of impact share."""

import pytest

from tests.daq.audit.impact.bench import FIRST, SECOND, calibration


@pytest.fixture(scope="session")
def story():
    """Good in 2026, found bad in 2027 and adjusted: the records before and after the work."""
    good = calibration(FIRST, 0.001)
    bad = calibration(SECOND, 0.030, adjusts="spindle cleaned")
    return good, bad

"""The campaign in short: no fault makes a wrong value look right."""

import pytest

from tests.faults.accidents import FAULTS
from tests.faults.campaign import campaign

UNTOLD = {"zero", "direction", "incremental", "hold", "sleep"}
"""What layouts without a status for it cannot say: the display itself shows another number."""


@pytest.mark.parametrize("fault", FAULTS)
def test_no_wrong_value_is_kept_as_a_good_one(fault):
    found = campaign(16, seed=7, faults=(fault,))[fault]
    assert found.tries == 16
    assert found.wrong == []
    assert found.right > 0
    if fault not in UNTOLD:
        assert found.as_displayed == 0


def test_what_was_done_to_a_gauge_that_tells_it_is_refused():
    found = campaign(40, seed=7, faults=("unit", "battery"))
    assert all(sum(each.refused.values()) > 0 for each in found.values())

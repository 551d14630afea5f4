"""The measurement of the page in short; bounds are those that the page promises."""

import sys

import pytest

from .measuring import latencies_ms, share


@pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminals")
def test_a_reading_is_on_every_screen_in_time(tmp_path):
    found = latencies_ms(tmp_path, screens=8, readings=60)
    assert len(found) == 8
    for each in found:
        assert len(each) >= 30
        assert share(each, 50) <= 10
    assert share([ms for each in found for ms in each], 99) <= 50

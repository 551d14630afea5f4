"""A writer killed at any moment loses no record, and no row, that it was told is kept."""

import os

import pytest

from tests.daq.logbook.killing import kill_appending, kill_recording, writing

KILLS = 100
TRACE_KILLS = 40

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="the writer forks")


@pytest.fixture
def writer():
    with writing() as running:
        yield running


@pytest.mark.timeout(120)
def test_kill_at_random_moments_loses_no_acknowledged_record(writer, tmp_path):
    """Process death, a hundred times, also while a logbook is being made. Not power loss."""
    told, faults = kill_appending(writer, tmp_path, KILLS, books=10, seed=20260301)
    assert faults == []
    assert told > KILLS, "hardly anything was written before the kills"


@pytest.mark.timeout(120)
def test_a_recorder_killed_at_random_moments_loses_no_acknowledged_row(writer, tmp_path):
    """Process death, while hundreds of rows wait. Not power loss."""
    told, faults = kill_recording(writer, tmp_path, TRACE_KILLS, seed=20260302)
    assert faults == []
    assert told > 100 * TRACE_KILLS, "hardly anything was written before the kills"

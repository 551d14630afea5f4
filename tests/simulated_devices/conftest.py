"""What the simulator's tests in real time are held to."""

import os
import threading

import pytest


@pytest.fixture
def nothing_left_behind():
    """The test leaves no thread and no open descriptor."""
    threads, descriptors = threading.active_count(), len(os.listdir("/dev/fd"))
    yield
    assert threading.active_count() == threads
    assert len(os.listdir("/dev/fd")) == descriptors

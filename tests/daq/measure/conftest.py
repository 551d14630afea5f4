"""A session fed by hand: bytes made by the profile itself, times given, nobody sleeps."""

from decimal import Decimal

import pytest

from daq.measure.session import Session
from daq.spec import SimpleAcceptance, Spec
from drivers.profiles import load_profile
from drivers.reading import Shown, Unit

STEP_S = 0.1


class Fed:
    """A session of a gauge that streams ten readings a second."""

    def __init__(self, profile, spec):
        self.profile = profile
        self.session = Session(profile, spec, SimpleAcceptance() if spec else None)
        self.t_s = 0.0
        self.sequence = 0
        self.events = []
        # A stream is joined in mid-frame: what comes before the first end of a frame is dropped.
        self.sends(b"\r\n")

    def shows(self, number, unit=Unit.MM, status=(), times=1):
        """The gauge shows ``number`` for so many frames; the events of the last one."""
        for _ in range(times):
            value = None if number is None else Decimal(number)
            shown = Shown(value, unit, frozenset(status), self.sequence, "07")
            self.events = self.sends(self.profile.encode(shown))
            self.sequence += 1
        return self.events

    def sends(self, wire):
        """These bytes arrive."""
        self.t_s += STEP_S
        return self.session.receive(wire, self.t_s)

    def captures(self, trigger="key", after_s=0.0):
        """What a press of the capture key gives."""
        return self.session.capture(self.t_s + after_s, trigger)


@pytest.fixture
def spec():
    return Spec.of("height", nominal="12.3 mm", limits="± 0.05 mm", source="sheet 1")


@pytest.fixture
def feed():
    """Makes a session of the profile with that name, and a specification or none."""
    return lambda name, spec=None: Fed(load_profile(name), spec)


@pytest.fixture
def fed(feed, spec):
    return feed("decimal-line", spec)


@pytest.fixture
def fed_fields(feed, spec):
    """One whose frames carry status, sequence and label."""
    return feed("fixed-fields", spec)

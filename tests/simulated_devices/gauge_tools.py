"""What the simulator's tests share: gauges, their frames one by one, and what a decoder reads."""

import os
import select
import socket
import time

from drivers.decoder import Decoder
from drivers.profiles import builtin_profiles, load_profile
from drivers.reading import Reading
from simulated_devices import Hand, SimulatedGauge
from simulated_devices.motion import Still

BUILTIN = builtin_profiles()
STREAMING = [p for p in BUILTIN if p.sends.when == "by itself"]
CHECKED = [p for p in BUILTIN if p.check is not None or p.frame.kind == "modbus"]
UNCHECKED = [p for p in BUILTIN if p not in CHECKED]

WITHIN_S = 5.0
"""How long a test in real time waits for what should come at once."""


def named(profile):
    return profile.name


def gauge_at(at_mm, profile="decimal-line", **more):
    """A gauge at rest."""
    return SimulatedGauge(load_profile(profile), Still(at_mm), **more)


def movable(profile="decimal-line", **more):
    """A gauge whose plunger goes where ``gauge.hand.moved_mm`` says."""
    hand = Hand(0.0, 1.0)
    hand.doing = "done"
    return SimulatedGauge(load_profile(profile), hand=hand, **more)


def text(gauge):
    """What is on the display."""
    shown = gauge.shown()
    return f"{shown.value} {shown.unit.value}"


def statuses(gauge):
    return {status.value for status in gauge.shown().status}


def next_frame(gauge):
    """What the gauge sends next, at the end of it: of itself, asked, or by its data key."""
    sends = gauge.profile.sends
    if sends.when == "by itself":
        return gauge.advance(0.0) or gauge.advance(1 / sends.rate_hz)
    # Away from the moments at which the display is measured anew.
    unasked = gauge.advance(0.996 if gauge.t_s else 0.01)
    assert unasked == b""
    if sends.when == "on its data key":
        return gauge.press("data")
    gauge.receive(gauge.profile.request)
    return gauge.advance(0.004)


def events_of(profile, frames):
    """What a decoder makes of ``frames``, each read when it was sent; the first ones find step."""
    streams = profile.sends.when == "by itself"
    decoder, t_s = Decoder(profile), 1.0
    events = decoder.receive(b"", t_s)
    for frame in frames:
        t_s += 1 / profile.sends.rate_hz if streams else 1.0
        events += decoder.receive(frame, t_s)
    return events


def readings(events):
    return [event for event in events if isinstance(event, Reading)]


def until(true, within_s=WITHIN_S):
    """Wait for ``true()``; what it gives, or a failure when the time is over."""
    end_s = time.monotonic() + within_s
    while not (result := true()):
        assert time.monotonic() < end_s, "it did not come to pass"
        select.select([], [], [], 0.005)
    return result


class Program:
    """A program that has opened a port."""

    def __init__(self, address):
        if address.startswith("socket://"):
            host, _, number = address.removeprefix("socket://").rpartition(":")
            self._end = socket.create_connection((host, int(number)), WITHIN_S)
        else:
            # Its own file object, so that it is closed whatever happens.
            self._end = open(  # noqa: SIM115
                os.open(address, os.O_RDWR | os.O_NOCTTY), "r+b", buffering=0
            )

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self._end.close()

    def read(self):
        """What has arrived, after waiting for it; empty once the other end has hung up."""
        assert select.select([self._end], [], [], WITHIN_S)[0], "nothing comes"
        try:
            return os.read(self._end.fileno(), 4096)
        except OSError:
            return b""

    def write(self, data):
        os.write(self._end.fileno(), data)

    def read_until(self, enough):
        got = b""
        while not enough(got):
            piece = self.read()
            assert piece, "hung up"
            got += piece
        return got

    def hears_the_end(self):
        """Whether reading comes to an end: what was sent before is read first."""
        end_s = time.monotonic() + WITHIN_S
        while self.read():
            if time.monotonic() > end_s:
                return False
        return True

"""Hours of a gauge's work with no clock: bytes and times go through a session and are captured."""

from dataclasses import dataclass, field

from daq.measure.events import Captured
from daq.measure.session import Session
from daq.spec import rule_from
from drivers.reading import BadFrame, NoNumber, Reading
from simulated_devices import SimulatedGauge
from tests.faults.campaign import SPEC
from tests.soak.measured import Held
from tests.soak.motion import PERIOD_S, AtWork

STEP_S = 0.02
LOOKS = 33
"""How often it is looked at what is held, from the beginning to the end."""


@dataclass
class Counted:
    """What came of the hours of one gauge."""

    gauge: str
    sent: int = 0
    received: int = 0
    bad: int = 0
    captured: int = 0
    off: list = field(default_factory=list)
    """Captures further from the plunger's place than the display step and its uncertainty."""
    held: list = field(default_factory=list)


def run(profile, hours, seed=1):
    """So many hours of a gauge."""
    motion = AtWork(seed)
    gauge = SimulatedGauge(profile, motion, noise_mm=0.0002, seed=seed)
    session = Session(profile, SPEC, rule_from("simple"))
    counted = Counted(profile.name)
    steps = round(hours * 3600 / STEP_S)
    asked_s = 0.0
    for step in range(1, steps + 1):
        t_s = step * STEP_S
        if profile.request and t_s >= asked_s:
            gauge.receive(profile.request)
            asked_s = t_s + 1 / profile.sends.rate_hz
        for event in session.receive(gauge.advance(STEP_S), t_s):
            counted.received += isinstance(event, Reading | NoNumber)
            counted.bad += isinstance(event, BadFrame)
        if session.is_new_rest:
            _capture(session, t_s, motion, counted)
        if step % (steps // (LOOKS - 1)) == 0 or step == 1:
            counted.held.append(Held.now(t_s))
    counted.sent = gauge.shown().sequence
    return counted


def _capture(session, t_s, motion, counted):
    captured = session.capture(t_s, "settled")
    if not isinstance(captured, Captured):
        return
    session.kept(captured)
    counted.captured += 1
    rest = captured.rest
    true_mm = motion.place_mm((rest.until_s - STEP_S) // PERIOD_S)
    if abs(rest.value_mm - true_mm) > float(session.step_mm) + 5 * rest.u_mm:
        counted.off.append((t_s, rest.value_mm, true_mm))

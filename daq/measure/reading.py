"""One settled value from one gauge, for scripts."""

import time
from collections.abc import Callable

from daq.measure.errors import NoValueError
from daq.measure.events import Captured, Refused
from daq.measure.gauges import Gauge
from daq.measure.session import Session
from daq.measure.station import Station
from daq.spec import DecisionRule, Spec


def read_once(
    gauge: Gauge,
    spec: Spec | None,
    rule: DecisionRule | None,
    within_s: float,
    clock: Callable[[], float] = time.monotonic,
) -> Captured:
    """The first settled value that can be trusted.

    Args:
        gauge: what to read.
        spec: what the length should be, for a verdict; None for none.
        rule: how the verdict is made.
        within_s: how long to wait, seconds.
        clock: seconds, monotonic.

    Raises:
        PortError: the port could not be opened.
        NoValueError: no value in time; the message tells apart that nothing came, that bytes came
            but no frame, and that readings came but did not rest.
    """
    with Station([gauge], spec, rule, clock=clock) as station:
        session = station.session(gauge.label)
        deadline_s = clock() + within_s
        refusal = ""
        while (left_s := deadline_s - clock()) > 0:
            station.next(min(left_s, 0.1))
            if session.rest is None:
                continue
            captured = session.capture(clock(), "data key" if session.sends_on_key else "settled")
            if not isinstance(captured, Refused):
                return captured
            refusal = captured.reason
    raise NoValueError(f"{gauge.label}: {refusal or _why(session, within_s)}")


def _why(session: Session, within_s: float) -> str:
    """Three silences told apart."""
    waited = f"within {within_s:g} s"
    if session.cable_out:
        return "the cable is out; plug the gauge in"
    if session.reading is not None:
        return f"readings came, but did not come to rest {waited}; hold the part still"
    if session.shows_no_number:
        return f"the gauge shows no number {waited}; look at its display"
    if session.unread_bytes:
        return (
            f"{session.unread_bytes} bytes came {waited}, but no frame that the profile "
            f"{session.profile.name} knows; check the profile and the baud rate"
        )
    if session.sends_on_key:
        return f"nothing came {waited}; press the gauge's data key"
    return f"nothing came {waited}; is the gauge switched on, and is this its port?"

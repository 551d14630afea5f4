"""While gauges are read, no length asks pint: an asked one costs as much as forty frames."""

import sys
from pathlib import Path

import pint

from daq.measure.session import Session
from drivers.blocks import BlockDecoder
from drivers.profiles import builtin_profiles
from drivers.reading import Shown, Unit

PINT = str(Path(pint.__file__).parent)
IN_INCHES = [profile for profile in builtin_profiles() if Unit.INCH in profile.resolution]
FRAMES = 200


def calls_into_pint(work):
    """How many functions of pint are called while ``work`` runs."""
    count = 0

    def called(frame, event, _):
        nonlocal count
        count += event == "call" and frame.f_code.co_filename.startswith(PINT)

    before = sys.getprofile()
    sys.setprofile(called)
    try:
        work()
    finally:
        sys.setprofile(before)
    return count


def frames_of(profile):
    step = profile.resolution[Unit.INCH]
    shown = [Shown(step * (100 + n % 7), Unit.INCH, sequence=1, label="07") for n in range(FRAMES)]
    return [profile.encode(each) for each in shown]


def test_a_call_into_pint_is_counted():
    assert calls_into_pint(lambda: pint.Quantity(1, "inch").to("mm")) > 0


def test_no_session_asks_pint_for_what_its_gauge_shows_in_inches():
    for profile in IN_INCHES:
        session, events = Session(profile), []

        def read(session=session, profile=profile, events=events):
            for number, frame in enumerate(frames_of(profile)):
                events.extend(session.receive(frame, 1.0 + number / profile.sends.rate_hz))

        assert calls_into_pint(read) == 0
        assert session.reading.value_mm > 0, profile.name


def test_no_block_asks_pint_for_what_its_gauge_shows_in_inches():
    for profile in IN_INCHES:
        decoder, lengths_mm = BlockDecoder(), []
        decoder.add("g", profile)

        def read(decoder=decoder, profile=profile, lengths_mm=lengths_mm):
            for t_s in (1.0, 1.001):
                found = decoder.receive([("g", b"".join(frames_of(profile)), t_s)])
                lengths_mm.extend(found[-1].value_mm.tolist())

        assert calls_into_pint(read) == 0
        most = profile.resolution[Unit.INCH] * 106
        assert max(lengths_mm) == float(most * Unit.INCH.in_mm), profile.name

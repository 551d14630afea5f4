"""Bytes read at another speed than they were sent at: by hand, and by every profile."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drivers.profile import SerialSettings
from simulated_devices import SimulatedGauge, as_read_at
from simulated_devices.motion import Ramp, Still, Together
from tests.simulated_devices.gauge_tools import (
    BUILTIN,
    events_of,
    named,
    next_frame,
    readings,
)

SPEEDS = (1200, 2400, 4800, 9600, 19200, 38400, 57600, 115200)
ALL_BYTES = bytes(range(256))
LINES = [
    SerialSettings(),
    SerialSettings(parity="even"),
    SerialSettings(parity="odd", stop_bits=2),
    SerialSettings(data_bits=7, parity="even"),
]


@pytest.mark.parametrize("line", LINES, ids=lambda s: f"{s.data_bits}{s.parity}{s.stop_bits}")
@pytest.mark.parametrize("baud", [1200, 115200])
def test_at_the_right_speed_every_byte_is_itself(line, baud):
    sent = bytes(range(1 << line.data_bits))
    assert as_read_at(sent, baud, baud, line) == sent
    assert all(as_read_at(bytes([byte]), baud, baud, line) == bytes([byte]) for byte in sent)


@settings(max_examples=50, derandomize=True)
@given(data=st.binary(max_size=100))
def test_at_the_right_speed_any_bytes_are_themselves(data):
    assert as_read_at(data, 9600, 9600) == data


def test_nothing_sent_is_nothing_read():
    assert as_read_at(b"", 9600, 300) == b""


BY_HAND = [
    # The line, one digit a bit of the sender, from the start bit on; before and after it is 1.
    #
    # 0x00: 0 00000000 1. The receiver at double speed has bits of half the length: its start and
    # its eight bits are over after 4.5 of the sender's bits, all low. The stop bit is low as well;
    # the byte is taken all the same. No new edge comes after that: one 0x00.
    (0x00, 9600, 19200, [0x00]),
    # At half speed, bits of double length: looks at 1 (start, low), then at 3, 5, 7 (low: three
    # zeros), at 9 the sender's stop bit (high), then idle: 11111000 from the highest bit down.
    (0x00, 9600, 4800, [0xF8]),
    # 0x55: 0 10101010 1, highest bit last. At half speed the middle of the start bit falls on the
    # sender's next bit, which is high: no start. So it goes at each of the five edges: nothing.
    (0x55, 9600, 4800, []),
    # At double speed: start from 0, looks at 0.75 (low), 1.25 and 1.75 (high), 2.25 and 2.75
    # (low), 3.25 and 3.75 (high), 4.25 (low): 0 1 1 0 0 1 1 0, lowest first, is 0x66. The stop bit
    # at 4.75 is low, taken all the same. The next edge is at 6: looks at 6.75 (low), 7.25 and 7.75
    # (high), 8.25 and 8.75 (low), then high: 0 1 1 0 0 1 1 1 is 0xE6.
    (0x55, 9600, 19200, [0x66, 0xE6]),
    # 0x33: 0 11001100 1. At half speed: the edge at 0 is none, for at 1 it is high. The edge at 3
    # is one (low at 4); looks at 6 (high), 8 (low), 10 and on (high): 1 0 1 1 1 1 1 1 is 0xFD.
    (0x33, 9600, 4800, [0xFD]),
    # 0xFF: 0 11111111 1. At double speed the start bit is two bits long: a start and one zero.
    (0xFF, 9600, 19200, [0xFE]),
    # At half speed the line is high again in the middle of the start bit: nothing.
    (0xFF, 9600, 4800, []),
    # At four times the speed: a start and three zeros, then ones.
    (0xFF, 9600, 38400, [0xF8]),
]


@pytest.mark.parametrize(("byte", "sent", "read", "found"), BY_HAND)
def test_a_byte_at_a_wrong_speed_as_worked_out_by_hand(byte, sent, read, found):
    assert list(as_read_at(bytes([byte]), sent, read)) == found


@pytest.mark.parametrize("share", [0.955, 0.98, 1.02, 1.058])
def test_a_clock_a_few_percent_off_still_reads_every_byte(share):
    """A fast receiver looks at its last bit after 8.5 of its own, half a bit early at 5.9 %; a slow
    one is through after 9.5 of its own and misses the edge after 10 of the sender's at 5 %."""
    assert as_read_at(ALL_BYTES, 100_000, round(100_000 * share)) == ALL_BYTES


@pytest.mark.parametrize("share", [0.945, 1.065])
def test_a_clock_too_far_off_reads_other_bytes(share):
    assert as_read_at(ALL_BYTES, 100_000, round(100_000 * share)) != ALL_BYTES


def moving(profile):
    return SimulatedGauge(
        profile, Together((Still(12.34), Ramp(by_mm=-40.0, speed_mm_s=2.0))), noise_mm=0.01, seed=6
    )


@pytest.mark.parametrize("back_to_back", [True, False], ids=["back to back", "with pauses"])
@pytest.mark.parametrize("profile", BUILTIN, ids=named)
def test_no_profile_reads_a_number_at_a_wrong_speed(profile, back_to_back):
    gauge, right = moving(profile), profile.serial.baud
    frames = [next_frame(gauge) for _ in range(100)]
    assert len(readings(events_of(profile, frames))) >= 98
    for wrong in SPEEDS:
        if wrong != right:
            if back_to_back:
                pieces = [as_read_at(b"".join(frames), right, wrong, profile.serial)]
            else:
                pieces = [as_read_at(frame, right, wrong, profile.serial) for frame in frames]
            assert any(pieces) or wrong < right
            assert readings(events_of(profile, pieces)) == [], wrong

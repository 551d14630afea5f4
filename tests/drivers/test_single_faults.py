"""Every single lost, doubled and flipped byte in a stream, and what is read of it."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.reading import NoNumber
from drivers.selftest import damaged_frames, undetected_faults
from tests.drivers.layout_tools import shown_values
from tests.drivers.wire_tools import (
    BUILTIN,
    CHECKED,
    LOOKS,
    UNCHECKED,
    bad_frames,
    in_step,
    named,
    number_frame,
    profile_called,
    readings,
    shown_by,
)

FAULTS = ["lost", "doubled", "flipped"]
every_fault = pytest.mark.parametrize("fault", FAULTS)
every_profile = pytest.mark.parametrize("profile", BUILTIN, ids=named)


def after_damage(profile, damaged):
    """The events of a damaged frame and two good ones, in the rhythm of the gauge."""
    decoder, t_s = in_step(profile), 10.0
    events = []
    for wire in (damaged, number_frame(profile), number_frame(profile)):
        t_s += 0.0 if profile.sends.when == "by itself" else 1.0
        events += decoder.receive(wire, t_s)
    return events


@every_profile
@every_fault
def test_the_stream_is_in_step_again_with_the_next_frame_but_one(profile, fault):
    """The frame that is damaged may take its neighbour with it, and no more than that."""
    good = number_frame(profile)
    for sample in profile.samples:
        for damaged in damaged_frames(sample.wire, fault, profile.serial.data_bits):
            events = after_damage(profile, damaged)
            assert readings(events)
            assert readings(events)[-1].raw == good


@every_profile
@every_fault
def test_a_damaged_frame_costs_its_neighbour_only_where_it_lost_its_end(profile, fault):
    good, lost_neighbours = number_frame(profile), set()
    for sample in profile.samples:
        for at, damaged in enumerate(damaged_frames(sample.wire, fault, profile.serial.data_bits)):
            events = after_damage(profile, damaged)
            if [reading.raw for reading in readings(events)[-2:]] != [good, good]:
                bits = profile.serial.data_bits if fault == "flipped" else 1
                lost_neighbours.add(len(sample.wire) - at // bits)
    # Counted from the end: the terminator's last byte, or the end mark and the checksum behind it.
    frame = profile.frame
    reach = {"line": 1, "marks": 1 + getattr(frame, "tail_bytes", 0)}.get(frame.kind, 0)
    assert lost_neighbours <= set(range(1, reach + 1))


@every_profile
@every_fault
def test_whatever_is_accepted_says_exactly_the_bytes_it_came_in(profile, fault):
    for sample in profile.samples:
        for damaged in damaged_frames(sample.wire, fault, profile.serial.data_bits):
            for reading in readings(after_damage(profile, damaged)):
                assert profile.encode(shown_by(reading)) == reading.raw


@every_profile
@every_fault
def test_a_fault_that_is_no_reading_is_reported(profile, fault):
    """Nothing is lost in silence: a damaged frame is a reading, no number, or a bad frame."""
    for sample in profile.samples:
        for damaged in damaged_frames(sample.wire, fault, profile.serial.data_bits):
            events = after_damage(profile, damaged)
            told = bad_frames(events) or any(isinstance(event, NoNumber) for event in events)
            assert told or len(readings(events)) >= 3


@pytest.mark.parametrize("profile", CHECKED, ids=named)
def test_with_a_checksum_no_single_fault_in_the_samples_is_a_wrong_value(profile):
    for count in undetected_faults(profile):
        assert count.tried > 0
        assert count.wrong_value == 0


@pytest.mark.parametrize("profile", CHECKED, ids=named)
@LOOKS
@given(data=st.data())
def test_with_a_checksum_no_flipped_bit_in_any_frame_is_a_wrong_value(profile, data):
    """Sum, XOR and CRC all change with any single bit, whatever the number."""
    wire = profile.encode(data.draw(shown_values(profile)))
    for damaged in damaged_frames(wire, "flipped", profile.serial.data_bits):
        assert all(r.raw == number_frame(profile) for r in readings(after_damage(profile, damaged)))


@pytest.mark.parametrize("name", ["marked-xor", "counts-sum"])
@LOOKS
@given(data=st.data())
def test_a_byte_lost_anywhere_is_noticed_even_with_one_byte_of_checksum(name, data):
    profile = profile_called(name)
    shown = data.draw(shown_values(profile))
    for damaged in damaged_frames(profile.encode(shown), "lost"):
        for reading in readings(after_damage(profile, damaged)):
            assert reading.raw == number_frame(profile)


def test_a_lost_byte_that_the_next_frame_fills_up_is_noticed():
    """Of A5 5A 01 00 00 60 73 D3 the 01 is lost, and A5 of the next frame stands where the checksum
    is due. It fits: the sum of the rest is A5 as well. Only that no frame follows tells."""
    profile = profile_called("counts-sum")
    stream = bytes.fromhex("A5 5A 00 00 60 73 D3" + "A5 5A 02 00 00 60 73 D4" * 2)
    assert sum(stream[:7]) & 0xFF == stream[7]
    events = in_step(profile).receive(stream, 10.0)
    assert [reading.sequence for reading in readings(events)] == [2, 2]


@pytest.mark.parametrize("profile", UNCHECKED, ids=named)
@pytest.mark.parametrize("fault", ["lost", "doubled"])
def test_without_a_checksum_the_fixed_width_still_shows_lost_and_doubled_bytes(profile, fault):
    (count,) = [each for each in undetected_faults(profile) if each.fault == fault]
    assert count.wrong_value == 0


@pytest.mark.parametrize(
    ("name", "tried", "wrong"),
    [
        ("decimal-line", 392, 80),
        ("fixed-fields", 680, 49),
        ("numeric-query", 376, 24),
        ("packed-digits", 192, 66),
    ],
)
def test_without_a_checksum_this_many_flipped_bits_read_as_another_number(name, tried, wrong):
    """Counted over the samples; the profile's page tells its user the same figure."""
    (count,) = [e for e in undetected_faults(profile_called(name)) if e.fault == "flipped"]
    assert (count.tried, count.wrong_value) == (tried, wrong)
    assert count.refused + count.same_value + count.wrong_value == count.tried


@pytest.mark.parametrize("profile", UNCHECKED, ids=named)
def test_without_a_checksum_only_digits_can_be_read_wrong(profile):
    """A flipped bit never changes the unit or the sign: their codes differ in two bits or more."""
    for sample in profile.samples:
        for damaged in damaged_frames(sample.wire, "flipped"):
            for reading in readings(after_damage(profile, damaged)):
                if reading.raw == damaged and sample.number is not None:
                    assert reading.unit is sample.unit
                    assert reading.value.is_signed() == sample.number.is_signed()


def test_a_count_of_faults_reads_as_a_sentence():
    count = undetected_faults(profile_called("decimal-line"))[2]
    assert str(count) == "of 392 single flipped bits 80 read as another number"

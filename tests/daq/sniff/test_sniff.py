"""Listening to an unknown gauge: which profile it is, which silence, a draft of a new profile."""

from itertools import count

import pytest

from daq.sniff.draft import draft_of
from daq.sniff.hearing import Heard, dump_lines, line_of, settings_to_try
from daq.sniff.scoring import ranked
from daq.sniff.silence import best_heard, silence_of, text_share
from drivers.decoder import Decoder
from drivers.profile import GaugeProfile, SerialSettings
from drivers.profiles import builtin_profiles, load_profile
from drivers.reading import Reading
from drivers.toml_form import check_toml
from simulated_devices import SimulatedGauge
from simulated_devices.faults import WrongBaud
from simulated_devices.motion import Approach

PROFILES = builtin_profiles()
STREAMS = [each for each in PROFILES if each.sends.when == "by itself"]


def heard_of(profile, lasts_s=2.0, settings=None, key=None):
    """What a gauge that goes from 0.5 mm to -2 mm sends, from the middle of a frame on."""
    gauge = SimulatedGauge(profile, Approach(by_mm=-2.5, tau_s=0.1, start_s=lasts_s / 2))
    gauge.move_to(0.5)
    if key:
        gauge.press(key)
    pieces = [(n * 0.02, gauge.advance(0.02)) for n in range(1, round(lasts_s / 0.02))]
    pieces = [(t_s, data) for t_s, data in pieces if data]
    first_s, first = pieces[0]
    return Heard(settings or profile.serial, ((first_s, first[3:]), *pieces[1:]), lasts_s)


def lines_heard(lines, end="\r", baud=9600):
    """Text frames as they come, ten a second, from the middle of one on."""
    pieces = [(n / 10, f"{line}{end}".encode()) for n, line in zip(count(1), lines)]
    first_s, first = pieces[0]
    return Heard(SerialSettings(baud=baud), ((first_s, first[2:]), *pieces[1:]), len(lines) / 10)


@pytest.mark.parametrize("profile", STREAMS, ids=lambda profile: profile.name)
def test_a_known_gauge_is_found_by_what_it_sends(profile):
    heard = heard_of(profile)
    elsewhere = Heard(SerialSettings(baud=300), heard.pieces, heard.lasted_s)
    best, *others = ranked([elsewhere, heard], PROFILES)
    assert best.profile is profile
    assert best.fits
    assert float(best.last.value_mm) == pytest.approx(-2.0, abs=0.005)
    assert not any(each.fits for each in others)
    assert silence_of([elsewhere, heard], [best, *others]) is None


@pytest.mark.parametrize("profile", STREAMS, ids=lambda profile: profile.name)
def test_at_a_wrong_speed_no_profile_fits(profile):
    heard = heard_of(profile)
    for other in STREAMS:
        if line_of(other.serial) != line_of(profile.serial):
            wrong = WrongBaud(profile.serial, other.serial.baud)
            pieces = tuple((t_s, wrong.through(data)) for t_s, data in heard.pieces)
            garbled = Heard(other.serial, pieces, heard.lasted_s)
            assert not any(each.fits for each in ranked([garbled], PROFILES))


def test_the_three_silences_are_told_apart():
    none = [Heard(SerialSettings(), (), 2.0)]
    assert silence_of(none, ranked(none, PROFILES)).kind == "no bytes"

    strange = [lines_heard(["#17 ready"] * 20)]
    silence = silence_of(strange, ranked(strange, PROFILES))
    assert silence.kind == "no frame"
    assert "at 9600 baud" in silence.says
    assert "it is text" in silence.steps[0]

    noise = [Heard(SerialSettings(), ((0.1, bytes(range(128, 255))),), 2.0)]
    assert "speed" in silence_of(noise, ranked(noise, PROFILES)).steps[0]

    showing_an_error = [heard_of(load_profile("decimal-line"), key="error")]
    silence = silence_of(showing_an_error, ranked(showing_an_error, PROFILES))
    assert silence.kind == "no number"
    assert "frames of decimal-line come" in silence.says


def test_the_speed_at_which_text_comes_is_taken_for_the_right_one():
    right = lines_heard(["+1.234"] * 10, baud=4800)
    wrong = Heard(SerialSettings(baud=9600), ((0.1, b"\x80\xe0\xff" * 40),), 1.0)
    assert best_heard([wrong, right]) is right
    assert best_heard([Heard(SerialSettings(), (), 1.0)]) is None
    assert text_share(b"+1.2\r\n") == 1.0


def test_each_setting_is_tried_once_those_of_profiles_first():
    settings = settings_to_try(PROFILES)
    lines = [line_of(each) for each in settings]
    assert len(set(lines)) == len(lines)
    known = {line_of(profile.serial) for profile in PROFILES}
    assert set(lines[: len(known)]) == known
    assert (4800, 8, "none", 1) in lines


def test_bytes_are_shown_as_hex_and_text_with_their_time():
    heard = Heard(SerialSettings(), ((0.25, b"+1.2\r\n"), (1.5, b"A" * 17)), 2.0)
    assert list(dump_lines(heard)) == [
        "    0.250 s  2b 31 2e 32 0d 0a                                +1.2··",
        "    1.500 s  41 41 41 41 41 41 41 41 41 41 41 41 41 41 41 41  AAAAAAAAAAAAAAAA",
        "             41                                               A",
    ]


@pytest.mark.parametrize(
    ("lines", "end", "numbers"),
    [
        (["N+0012.34 mm", "N-0000.05 mm"], "\r", ["12.34", "-0.05"]),
        (["12.345mm;", "-3.100mm;", "0.001mm;"], "\r\n", ["12.345", "-3.100", "0.001"]),
        (["   1.25 in OK", " -12.25 in OK"], "\n", ["1.25", "-12.25"]),
        (["v 1.25 mm", "v 11.25 mm", "v -1.00 mm"], "\r", ["1.25", "11.25", "-1.00"]),
        (['D: 0,50"', 'D:-0,75"'], "\r\n", ["0.50", "-0.75"]),
    ],
)
def test_a_draft_reads_the_frames_it_was_made_of(lines, end, numbers):
    heard = lines_heard(lines * 5, end)
    draft = draft_of(heard)
    profile, problems = check_toml(draft.text, "my-gauge.toml", GaugeProfile)
    assert problems == []
    decoder = Decoder(profile)
    events = [event for t_s, data in heard.pieces for event in decoder.receive(data, t_s)]
    read = {str(event.value) for event in events if isinstance(event, Reading)}
    assert read == set(numbers)
    assert profile.sends.rate_hz == pytest.approx(10, rel=0.2)


def test_a_draft_says_what_it_could_not_see():
    draft = draft_of(lines_heard(["+1.25"] * 6 + ["ERR 3"] * 2 + ["+1.26"] * 2, "\r\n"))
    to_do = "\n".join(draft.to_do)
    assert "no unit is in the frames" in to_do
    assert "no negative number came" in to_do
    assert "'ERR 3'" in to_do
    assert 'source = "heard on the wire, held against nothing yet' in draft.text


@pytest.mark.parametrize("data", [b"", b"\x00\xff" * 40, b"no number\r\n" * 9, b"1.2\r\n1.3\r\n"])
def test_no_draft_is_made_of_what_is_no_lines_with_numbers(data):
    assert draft_of(Heard(SerialSettings(), ((0.1, data),), 1.0)) is None

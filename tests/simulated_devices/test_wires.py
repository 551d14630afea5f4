"""Wires in line, and a port that is set to the wrong speed, on whole gauges and in scenarios."""

import pytest

from drivers.decoder import Decoder
from drivers.profile import SerialSettings
from drivers.profiles import load_profile
from drivers.reading import Reading
from simulated_devices import (
    Bench,
    InLine,
    ScenarioError,
    WireFaults,
    WrongBaud,
    as_read_at,
    load_scenario,
)
from simulated_devices.scenario import gauge_of, wire_of
from tests.simulated_devices.gauge_tools import gauge_at


def test_wires_in_line_damage_one_after_the_other():
    doubled = WireFaults(double=1.0)
    assert InLine((doubled, WireFaults(double=1.0))).through(b"ab") == b"aaaabbbb"
    assert InLine((doubled, WireFaults(drop=1.0))).through(b"ab") == b""
    assert InLine(()).through(b"ab") == b"ab"


def test_what_one_wire_in_line_holds_back_comes_out_of_the_next():
    line = InLine((WireFaults(stutter=1.0, seed=1), WireFaults(double=1.0)))
    assert line.through(b"ab") == b""
    assert b"".join(line.through(b"") for _ in range(5)) == b"aabb"


def test_a_port_at_the_wrong_speed_hears_what_the_model_says():
    """0x00 sent at 9600, read at 4800: start and three zeros, then the stop bit and the pause."""
    assert WrongBaud(SerialSettings(baud=9600), 4800).through(b"\x00") == b"\xf8"
    seven_even = load_profile("marked-xor").serial
    heard = WrongBaud(seven_even, 9600).through(b"12")
    assert heard == as_read_at(b"12", 4800, 9600, seven_even)
    assert max(heard) < 0x80  # the port still takes seven bits


def test_a_port_at_the_right_speed_hears_every_byte():
    sent = gauge_at(12.345).advance(2.0)
    assert WrongBaud(SerialSettings(baud=9600), 9600).through(sent) == sent


@pytest.mark.parametrize("read_baud", [1200, 4800, 19_200, 57_600])
def test_a_gauge_on_a_port_at_the_wrong_speed_gives_bytes_and_no_number(read_baud):
    gauge = gauge_at(12.345)
    wire, decoder = WrongBaud(gauge.profile.serial, read_baud), Decoder(gauge.profile)
    heard, events = b"", []
    for _ in range(100):
        arrived = wire.through(gauge.advance(0.1))
        heard += arrived
        events += decoder.receive(arrived, gauge.t_s)
    assert heard
    assert not [event for event in events if isinstance(event, Reading)]


def test_the_scenario_with_a_wrong_speed_gives_bytes_and_no_number():
    scenario = load_scenario("wrong-rate")
    form = scenario.gauges[0]
    gauge, wire = gauge_of(form, scenario.seed), wire_of(form, scenario.seed)
    decoder = Decoder(gauge.profile)
    arrived = b"".join(wire.through(gauge.advance(0.1)) for _ in range(100))
    assert arrived
    assert not [e for e in decoder.receive(arrived, 10.0) if isinstance(e, Reading)]


SCENARIO = """\
title = "Wires and seeds"
[[gauges]]
name = "a"
profile = "decimal-line"
seed = 41
noise_mm = 0.01
faults = { read_baud = 9600, flip = 0.5 }
[[gauges]]
name = "b"
profile = "decimal-line"
seed = 41
noise_mm = 0.01
[[gauges]]
name = "c"
profile = "decimal-line"
noise_mm = 0.01
"""


def test_gauges_with_the_same_seed_of_their_own_send_the_same_and_others_do_not(tmp_path):
    path = tmp_path / "mine.toml"
    path.write_text(SCENARIO)
    scenario = load_scenario(path)
    bench = Bench.from_scenario(scenario)  # never started: its gauges are advanced by hand
    a, b, c = (bench.gauge(name).advance(5.0) for name in "abc")
    assert a == b != c


@pytest.mark.parametrize(
    ("old", "new", "line"),
    [
        ("read_baud = 9600", "read_baud = 0", 7),
        ("read_baud = 9600", 'read_baud = "9600"', 7),
        ("flip = 0.5", "flip = 1.5", 7),
        ("seed = 41", "seed = 4.1", 5),
    ],
)
def test_a_mistake_in_wire_or_seed_is_named_by_its_line(tmp_path, old, new, line):
    path = tmp_path / "mine.toml"
    path.write_text(SCENARIO.replace(old, new, 1))
    with pytest.raises(ScenarioError) as caught:
        load_scenario(path)
    assert str(caught.value).startswith(f"{path}:{line}: ")

"""The same seed gives the same bytes, however the time is cut into steps."""

import hashlib
import os
import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drivers.profiles import load_profile
from simulated_devices import Hand, Press, SimulatedGauge, bench_of, load_scenario
from simulated_devices.motion import RingDown, Still, Together, Vibration
from simulated_devices.scenario import gauge_of, scenario_names
from tests.simulated_devices.gauge_tools import BUILTIN, STREAMING, gauge_at, named

ROOT = Path(__file__).parents[2]
TOTAL_S = 6.0123
"""A moment at which no gauge here sends."""

PRESSES = (
    Press(0.0, "data"),
    Press(0.5, "unit"),
    Press(1.0, "data"),
    Press(1.2345678, "zero"),
    Press(2.0, "battery"),
    Press(2.5, "data"),
    Press(3.0, "sleep"),
    Press(3.3, "wake"),
    Press(4.0, "preset", 12.5),
    Press(4.0, "data"),
    Press(5.0, "direction"),
)


def busy(profile, seed=3):
    """A gauge to which everything happens."""
    return SimulatedGauge(
        profile,
        Together(
            (
                Still(12.0),
                RingDown(amplitude_mm=0.2, frequency_hz=3.0, damping_ratio=0.1),
                Vibration(amplitude_mm=0.01, frequency_hz=7.3),
            )
        ),
        hand=Hand(12.3, 1.0, look_s=0.4, turns_s=1.0, seed=seed),
        noise_mm=0.004,
        presses=PRESSES,
        seed=seed,
    )


@pytest.mark.parametrize("profile", BUILTIN, ids=named)
def test_the_same_seed_gives_the_same_bytes_and_another_seed_gives_others(profile):
    def sent(seed):
        gauge = busy(profile, seed)
        first = gauge.advance(2.7)
        gauge.receive(profile.request or b"")
        return first + gauge.advance(3.0)

    assert sent(3) == sent(3) != b""
    assert len({sent(seed) for seed in range(4)}) > 1


@pytest.mark.parametrize("profile", [p for p in BUILTIN if p.request is None], ids=named)
@settings(max_examples=10, derandomize=True, deadline=None)
@given(cuts=st.lists(st.floats(0, TOTAL_S), max_size=30))
def test_many_small_steps_send_the_bytes_of_one_large_one(profile, cuts):
    small, large, before_s = busy(profile), busy(profile), 0.0
    sent = bytearray()
    for cut_s in (*sorted(cuts), TOTAL_S):
        sent += small.advance(cut_s - before_s)
        before_s = cut_s
    assert bytes(sent) == large.advance(TOTAL_S) != b""
    assert small.hand.moved_mm == large.hand.moved_mm != 0.0


@pytest.mark.parametrize("profile", [p for p in BUILTIN if p.request], ids=named)
@settings(max_examples=10, derandomize=True, deadline=None)
@given(cuts=st.lists(st.floats(0, 2), max_size=10))
def test_a_gauge_that_is_asked_answers_the_same_however_the_time_is_cut(profile, cuts):
    small, large = busy(profile), busy(profile)
    sent = [bytearray(), bytearray()]
    for _ in range(3):
        before_s = 0.0
        for cut_s in (*sorted(cuts), 2.0041):
            sent[0] += small.advance(cut_s - before_s)
            before_s = cut_s
        sent[1] += large.advance(2.0041)
        for gauge in (small, large):
            gauge.receive(profile.request)
    sent[0] += small.advance(0.1)
    sent[1] += large.advance(0.1)
    assert sent[0] == sent[1] != b""


@pytest.mark.parametrize("parts", [3, 7, 11, 13, 96, 1000])
def test_steps_that_no_float_holds_exactly_still_add_up_to_a_second(parts):
    gauge = gauge_at(1.0)
    lines = b"".join(gauge.advance(1 / parts) for _ in range(parts)).count(b"\n")
    assert lines == 11  # ten a second, and the one at the very beginning


def test_the_bench_s_own_ticks_lose_no_frame():
    gauge = gauge_at(1.0, "packed-digits")
    frames = sum(len(gauge.advance(0.005)) for _ in range(20 * 200)) // 6
    assert frames == 8 * 20 + 1
    assert gauge.t_s == pytest.approx(20.0)


@pytest.mark.parametrize("profile", STREAMING, ids=named)
def test_a_streaming_gauge_keeps_its_rate(profile):
    gauge = SimulatedGauge(profile, Still(1.0))
    rate_hz = profile.sends.rate_hz
    frame = gauge.advance(0.0)
    gauge.advance(9.9 / rate_hz)
    assert len(gauge.advance(100 / rate_hz)) == 100 * len(frame)


def test_nothing_happens_in_no_time_and_time_does_not_run_backwards():
    gauge = gauge_at(1.0)
    assert gauge.advance(0.0) != b""
    assert gauge.advance(0.0) == b""
    for dt_s in (-0.001, float("nan")):
        with pytest.raises(ValueError, match="cannot go on by"):
            gauge.advance(dt_s)


def test_hand_noise_and_wire_make_different_chances_of_one_seed():
    """Were a hand's slips the display's noise over again, a simulated experiment would lie."""
    for seed in range(20):
        noise = gauge_at(0.0, noise_mm=1.0, seed=seed)
        noise.advance(0.0)
        hand = Hand(1.0, 1.0, look_s=0.0, turns_s=10.0, clumsiness=0.05, seed=seed)
        hand.advance(0.1, 0.0)
        hand.advance(1.0, 0.0)
        slip = (hand.moved_mm - 1.0) / 0.05
        assert abs(slip - float(noise.shown().value)) > 0.001


def test_a_gauge_keeps_its_chances_when_another_one_joins_the_bench():
    alone = load_scenario("steady")
    (form,) = alone.gauges
    second = form.model_copy(update={"name": "second"})
    both = bench_of(alone.model_copy(update={"gauges": (form, second)}))
    sent = bench_of(alone).gauge("gauge").advance(5.0)
    assert both.gauge("gauge").advance(5.0) == sent
    assert both.gauge("second").advance(5.0) != sent


def test_another_process_with_another_hash_seed_sends_the_same_bytes():
    program = (
        "import hashlib\n"
        "from simulated_devices.scenario import gauge_of, load_scenario, scenario_names\n"
        "found = hashlib.sha256()\n"
        "for name in scenario_names():\n"
        "    form = load_scenario(name).gauges[0]\n"
        "    found.update(gauge_of(form, 5).advance(20.0))\n"
        "print(found.hexdigest())"
    )
    found = hashlib.sha256()
    for name in scenario_names():
        found.update(gauge_of(load_scenario(name).gauges[0], 5).advance(20.0))
    done = subprocess.run(
        [sys.executable, "-c", program],
        cwd=ROOT,
        env={**os.environ, "PYTHONHASHSEED": "77"},
        capture_output=True,
        text=True,
        check=True,
    )
    assert done.stdout.strip() == found.hexdigest()


def test_these_are_the_first_lines_of_the_steady_gauge_for_ever():
    """Written down once: what a report says of a simulated run can be made again years later."""
    gauge = SimulatedGauge(load_profile("decimal-line"), Still(12.345), noise_mm=0.002, seed=1)
    lines = gauge.advance(0.5).decode().split(" mm\r\n")
    assert lines[:3] == ["+0012.345", "+0012.347", "+0012.346"]
    assert lines[3:] == ["+0012.343", "+0012.344", "+0012.342", ""]

"""The engine on the bench: what gauges read of it while it is worked on. All in simulated time."""

import math

import pytest

from drivers.profiles import load_profile
from drivers.reading import Reading
from simulated_devices import Bench
from simulated_devices.engine import LIFTED_MM, Engine, Place
from tests.simulated_devices.gauge_tools import Program, events_of, until

SETTLES_S = 3.0
SETTLED_MM = 0.0005
"""After ``SETTLES_S`` the display is within its last half step."""

MASTER = "the 42.500 mm master"


def engine(**places):
    """Two gauges without noise, a master, and ``places``."""
    profile = load_profile("decimal-line")
    every = {MASTER: Place({"": 42.5}), **places}
    return Engine(every, {"one": profile, "two": profile}, noise_mm=0.0)


def mounted(place, spot="", at_mm=0.0, **more):
    """An engine with gauge ``one`` lying on a spot of ``place``."""
    found = engine(place=place, **more)
    found.mount("one", at_mm)
    found.put("one", "place", spot)
    found.let_down("one")
    return found


def reads(found, gauge="one", after_s=SETTLES_S):
    """What a gauge shows ``after_s`` seconds from now, mm."""
    found.advance(after_s)
    return float(found.gauges[gauge].shown().value)


def course(found, seconds, gauge="one"):
    """What a gauge sends in so many seconds, mm."""
    profile = found.gauges[gauge].profile
    frames = [found.advance(0.1)[gauge] for _ in range(round(10 * seconds))]
    return [float(e.value_mm) for e in events_of(profile, frames) if isinstance(e, Reading)]


def test_a_gauge_reads_the_length_from_where_its_stand_was_put_up():
    found = mounted(Place({"": 42.613}), at_mm=42.4)
    assert reads(found) == pytest.approx(0.213, abs=SETTLED_MM)


def test_master_and_part_read_apart_by_their_true_difference():
    found = mounted(Place({"": 42.613}), at_mm=42.317)
    on_part = reads(found)
    found.lift("one")
    found.put("one", MASTER)
    found.let_down("one")
    assert on_part - reads(found) == pytest.approx(0.113, abs=2 * SETTLED_MM)


def test_a_plunger_comes_to_rest_soon_and_creeps_at_the_end():
    found = mounted(Place({"": 1.0}))
    readings = course(found, 3.0)
    assert abs(readings[2] - 1.0) > 0.002  # 0.2 s after it was let down
    assert all(abs(each - 1.0) <= 0.001 for each in readings[15:])
    assert readings[-1] == 1.0


def test_a_lifted_plunger_stands_clear_and_comes_back_to_the_same_reading():
    found = mounted(Place({"": 5.0}))
    before = reads(found)
    found.lift("one")
    assert reads(found) == pytest.approx(before + LIFTED_MM, abs=SETTLED_MM)
    found.lift("one")  # lifted already: nothing more
    assert reads(found) == pytest.approx(before + LIFTED_MM, abs=SETTLED_MM)
    found.let_down("one")
    assert reads(found) == before


@pytest.mark.parametrize(("mm_per_turn", "turns"), [(1.0, 0.25), (-1.75, 0.1), (0.75, -0.5)])
def test_a_turn_moves_the_length_by_the_thread_with_its_sign(mm_per_turn, turns):
    found = mounted(Place({"": 10.0}, mm_per_turn))
    found.turn("place", turns)
    assert found.spots_mm("place")[""] == pytest.approx(10 + mm_per_turn * turns)
    assert reads(found) == pytest.approx(10 + mm_per_turn * turns, abs=SETTLED_MM)


def test_a_turn_takes_its_time():
    found = mounted(Place({"": 0.0}, 1.0))
    reads(found)
    found.turn("place", 0.6)
    halfway = reads(found, after_s=0.5)
    assert 0.2 < halfway < 0.4
    assert reads(found) == pytest.approx(0.6, abs=SETTLED_MM)


def test_turns_and_shifts_one_upon_the_other_lose_nothing():
    found = mounted(Place({"": 7.0}, 1.0))
    for turns in (0.3, -0.1, 0.05):
        found.turn("place", turns)
        found.advance(0.13)  # long before it has come to rest
    found.tighten("place", 0.011)
    found.work("place")
    assert reads(found) == pytest.approx(7.261, abs=SETTLED_MM)


def test_a_screw_behind_a_tight_nut_does_not_turn():
    found = mounted(Place({"": 10.0}, 1.0, is_tight=True))
    found.turn("place", 1.0)
    assert reads(found) == 10.0


def test_a_nut_shifts_what_it_locks_once_and_gives_it_back():
    found = mounted(Place({"": 10.0}, 1.0))
    found.tighten("place", 0.02)
    found.tighten("place", 0.02)  # tight already: nothing more
    assert reads(found) == pytest.approx(10.02, abs=SETTLED_MM)
    found.loosen("place")
    found.loosen("place")
    assert reads(found) == 10.0


def test_a_part_rocks_between_its_stops_and_the_screw_sets_the_play():
    found = mounted(Place({"lower": 0.0, "higher": 0.36}, -1.4), "lower")
    low = reads(found)
    found.press("one", "higher")
    assert reads(found) - low == pytest.approx(0.36, abs=2 * SETTLED_MM)
    found.turn("place", 0.1)  # clockwise lowers it by 0.14
    assert reads(found) - low == pytest.approx(0.22, abs=2 * SETTLED_MM)
    found.press("one", "lower")
    assert reads(found) == low
    found.turn("place", 0.1)  # at the lower stop the screw is not felt
    assert reads(found, after_s=0.3) == low
    assert found.spots_mm("place")["higher"] == pytest.approx(0.08)


def test_a_shaft_out_of_true_swings_once_round():
    found = mounted(Place({"": 0.0}, wave_mm=0.05, high_deg=90.0))
    seen = {}
    for angle in range(0, 361, 45):
        found.bar_to(angle)
        seen[angle] = reads(found)
    assert seen[90] - seen[270] == pytest.approx(0.1, abs=2 * SETTLED_MM)
    assert seen[45] == pytest.approx(0.05 * math.cos(math.radians(45)), abs=SETTLED_MM)
    assert seen[0] == seen[360]


def test_a_bump_swings_and_comes_back_but_a_knock_stays():
    found = mounted(Place({"": 3.0}))
    reads(found)
    found.bump("one")
    swinging = course(found, 1.0)
    assert max(swinging) - min(swinging) > 0.1
    assert reads(found) == pytest.approx(3.0, abs=SETTLED_MM)
    found.knock("one", 0.06)
    assert reads(found) == pytest.approx(3.06, abs=SETTLED_MM)
    assert found.spots_mm("place")[""] == 3.0  # the truth has not moved


def test_only_a_gauge_that_lies_there_follows():
    found = mounted(Place({"": 1.0}, 1.0), other=Place({"": 2.0}, 1.0))
    found.put("two", "other")
    found.let_down("two")
    found.turn("other", 0.5)
    assert (reads(found), reads(found, "two")) == (1.0, 2.5)
    found.lift("one")
    lifted = reads(found)
    found.turn("place", 0.5)
    assert reads(found) == lifted
    found.let_down("one")
    assert reads(found) == 1.5


def test_there_is_no_place_or_stop_without_a_name():
    found = mounted(Place({"": 1.0}))
    with pytest.raises(KeyError):
        found.put("one", "nowhere")
    with pytest.raises(KeyError):
        found.press("two", "higher")
    assert (found.under("one"), found.under("two")) == (("place", ""), None)


def test_the_same_seed_sends_the_same_bytes():
    def sent(seed):
        profile = load_profile("decimal-line")
        found = Engine({"place": Place({"": 1.0})}, {"one": profile}, seed=seed)
        found.put("one", "place")
        found.let_down("one")
        return found.advance(5.0)["one"]

    assert sent(1) == sent(1) != sent(2)


def test_noise_is_as_large_as_was_asked_for():
    profile = load_profile("marked-crc")  # shows 0.0001 mm
    found = Engine({"place": Place({"": 1.0})}, {"one": profile}, noise_mm=0.002)
    found.put("one", "place")
    found.let_down("one")
    found.advance(SETTLES_S)
    frames = [found.advance(0.02)["one"] for _ in range(1000)]
    values = [float(e.value_mm) for e in events_of(profile, frames) if isinstance(e, Reading)]
    mean = sum(values) / len(values)
    sd = math.sqrt(sum((each - mean) ** 2 for each in values) / (len(values) - 1))
    assert sd == pytest.approx(0.002, rel=0.1)  # 4.5 standard deviations of an sd of 1000


@pytest.mark.usefixtures("nothing_left_behind")
def test_its_gauges_run_on_a_bench():
    found = mounted(Place({"": 1.0}))
    gauges = {name: (gauge, None) for name, gauge in found.gauges.items()}
    with Bench(gauges, "tcp", speed=20) as bench, Program(bench.ports["one"]) as program:
        until(lambda: found.time_s() > SETTLES_S)
        program.read_until(lambda got: b"+0001.000 mm\r\n" in got)

"""Scenario files say which gauges there are; a mistake is named by its line."""

import math
import tomllib
from importlib import resources
from itertools import pairwise
from typing import get_args

import pytest

from drivers.reading import NoNumber, Reading, Status, Unit
from simulated_devices import ScenarioError, bench_of, load_scenario
from simulated_devices.motion import AnyMotion
from simulated_devices.scenario import gauge_of, scenario_names, wire_of
from tests.simulated_devices.gauge_tools import events_of, readings, text

GOOD = """\
title = "One gauge"
seed = 4
[[gauges]]
name = "gauge"
profile = "fixed-fields"
label = "12"
motion = [
  { kind = "still", at_mm = 1.0 },
  { kind = "step", by_mm = 0.5, start_s = 2.0 },
]
presses = [{ at_s = 1.0, key = "unit" }]
hand = { aim_mm = 3.0, pitch_mm = 1.0 }
faults = { drop = 0.1 }
"""

KINDS = [kind.model_fields["kind"].default for kind in get_args(get_args(AnyMotion)[0])]


def written(tmp_path, words):
    path = tmp_path / "mine.toml"
    path.write_text(words, "utf-8")
    return str(path)


def only_gauge(name):
    scenario = load_scenario(name)
    return gauge_of(scenario.gauges[0], scenario.seed)


def read_after(gauge, seconds, then_s=0.5):
    """What a decoder reads of the gauge in the half second after so many seconds."""
    gauge.advance(seconds - gauge.t_s)
    return events_of(gauge.profile, [gauge.advance(then_s)])


@pytest.mark.parametrize("name", scenario_names())
def test_every_built_in_scenario_runs_for_a_minute(name):
    scenario = load_scenario(name)
    for number, form in enumerate(scenario.gauges):
        gauge = gauge_of(form, scenario.seed + number)
        if gauge.profile.sends.when == "by itself":
            assert gauge.advance(60.0)


def test_the_built_in_scenarios_use_most_motions_and_all_seeds_differ():
    scenarios = [load_scenario(name) for name in scenario_names()]
    used = {each.kind for scenario in scenarios for g in scenario.gauges for each in g.motion}
    assert set(KINDS) - used == {"log creep"}
    assert len({scenario.seed for scenario in scenarios}) == len(scenarios)


def test_in_every_layout_there_is_a_gauge_of_each_built_in_profile():
    from drivers.profiles import builtin_names

    assert [form.profile for form in load_scenario("every-layout").gauges] == list(builtin_names())


def test_a_scenario_from_a_file_is_what_it_says(tmp_path):
    scenario = load_scenario(written(tmp_path, GOOD))
    gauge = gauge_of(scenario.gauges[0], scenario.seed)
    assert text(gauge) == "1.0000 mm"
    gauge.hand.doing = "done"
    gauge.advance(3.0)
    assert text(gauge) == "0.05906 in"  # 1.5 mm
    assert (gauge.hand.aim_mm, gauge.hand.pitch_mm, gauge.hand.look_s) == (3.0, 1.0, 1.5)
    assert readings(events_of(gauge.profile, [gauge.advance(1.0)]))[0].label == "12"


def test_a_file_with_a_byte_order_mark_is_read(tmp_path):
    assert load_scenario(written(tmp_path, "\ufeff" + GOOD)).title == "One gauge"


@pytest.mark.parametrize(
    ("old", "new", "line", "words"),
    [
        ('title = "One gauge"', 'title = "One gauge', 1, "a closing quote is missing"),
        ('title = "One gauge"\n', "", 1, "title: is missing"),
        ("seed = 4", "seed = 4.5", 2, "seed: 4.5 will not do here; write a whole number"),
        ("seed = 4", "sed = 4", 2, 'sed: unknown name; did you mean "seed"?'),
        ('name = "gauge"', 'name = "g"\nnoise = 0.1', 5, 'unknown name; did you mean "noise_mm"?'),
        ('name = "gauge"', 'name = "../gauge"', 4, "does not fit the pattern"),
        ('"fixed-fields"', '"fixed-field"', 5, "There is no gauge profile 'fixed-field'. Known: c"),
        ('"fixed-fields"', '"none.toml"', 5, "none.toml: cannot be read"),
        ('label = "12"', 'label = "123"', 6, "label: '123' is not 2 letters or digits"),
        ("at_mm = 1.0", "at_mmm = 1.0", 8, 'at_mmm: unknown name; did you mean "at_mm"?'),
        ("at_mm = 1.0", 'at_mm = "1.0"', 8, 'at_mm: "1.0" will not do here; write a number'),
        ("at_mm = 1.0", "at_mm = true", 8, "at_mm: true will not do here; write a number"),
        ("at_mm = 1.0", "at_mm = nan", 8, "motion.1.at_mm"),
        ("at_mm = 1.0", "at_mm = inf", 8, "motion.1.at_mm"),
        ("at_mm = 1.0", "at_mm = 1,0", 8, "cannot read"),
        ('kind = "step"', 'kind = "jump"', 9, 'kind: "jump" is not one of "still", "step"'),
        ('kind = "step", ', "", 9, 'kind: is missing; add kind = one of "still", "step"'),
        ("by_mm = 0.5, ", "", 9, "by_mm: is missing; add by_mm = a number"),
        ("start_s = 2.0", "start_s = -2.0", 9, "start_s: -2.0 must be at least 0"),
        ('key = "unit"', 'key = "units"', 11, "units"),
        ('key = "unit"', 'key = "preset"', 11, "shows_mm: is missing"),
        ('key = "unit"', 'key = "unit", shows_mm = 1.0', 11, 'only "preset" has'),
        ("at_s = 1.0", "at_s = -1.0", 11, "at_s: -1.0 must be at least 0"),
        ("pitch_mm = 1.0", "pitch_mm = 0.0", 12, "pitch_mm: 0.0 must be at least"),
        ("aim_mm = 3.0, ", "", 12, "aim_mm: is missing"),
        ("drop = 0.1", "drop = 1.1", 13, "drop: 1.1 must be at most 1"),
        ("drop = 0.1", "drops = 0.1", 13, 'drops: unknown name; did you mean "drop"?'),
        ("drop = 0.1", "cut = 0.1, cut_bytes = 0", 13, "cut_bytes: 0 must be at least 1"),
    ],
)
def test_a_mistake_is_named_by_file_and_line(tmp_path, old, new, line, words):
    assert GOOD.count(old) == 1
    path = written(tmp_path, GOOD.replace(old, new))
    with pytest.raises(ScenarioError) as caught:
        load_scenario(path)
    (problem,) = str(caught.value).splitlines()
    assert problem.startswith(f"{path}:{line}: ")
    assert words in problem


def test_all_mistakes_are_told_at_once(tmp_path):
    wrong = GOOD.replace("at_mm = 1.0", "at_mm = nan").replace("drop = 0.1", "drop = 2.0")
    path = written(tmp_path, wrong.replace("seed = 4", "sead = 4"))
    with pytest.raises(ScenarioError) as caught:
        load_scenario(path)
    assert [line.split(":")[1] for line in str(caught.value).splitlines()] == ["2", "8", "13"]


def test_a_gauge_s_name_stands_for_one_gauge_only(tmp_path):
    twice = GOOD + '[[gauges]]\nname = "gauge"\nprofile = "decimal-line"\n'
    path = written(tmp_path, twice)
    with pytest.raises(ScenarioError) as caught:
        load_scenario(path)
    assert str(caught.value) == (
        f'{path}:15: gauges.2.name: "gauge" is the name of another gauge too'
    )


@pytest.mark.parametrize("empty", ["", "title = 'x'\n", "title = 'x'\ngauges = []\n"])
def test_a_scenario_without_a_gauge_is_none(tmp_path, empty):
    with pytest.raises(ScenarioError, match="gauges"):
        load_scenario(written(tmp_path, empty))


def test_a_scenario_that_is_not_there_is_refused_with_those_there_are(tmp_path):
    with pytest.raises(ScenarioError, match=r"no scenario 'no-such'\. Known: adjusting, clicking"):
        load_scenario("no-such")
    with pytest.raises(ScenarioError, match=r"none\.toml: cannot be read: No such file"):
        load_scenario(str(tmp_path / "none.toml"))
    (tmp_path / "latin.toml").write_bytes(b'title = "\xe9"')
    with pytest.raises(ScenarioError, match=r"latin\.toml: is not UTF-8 text"):
        load_scenario(str(tmp_path / "latin.toml"))


def test_a_bench_has_every_gauge_of_its_scenario():
    with bench_of(load_scenario("every-layout"), "tcp") as bench:
        assert len(bench.ports) == 8
        assert len(set(bench.ports.values())) == 8


def test_a_wire_of_seven_bits_has_faults_in_seven_bits_only(tmp_path):
    words = GOOD.replace("fixed-fields", "marked-xor").replace("drop = 0.1", "flip = 1.0")
    wire = wire_of(load_scenario(written(tmp_path, words)).gauges[0], 1)
    assert max(wire.through(b"0" * 1000)) < 0x80


@pytest.mark.parametrize("name", scenario_names())
def test_built_in_files_say_nothing_that_is_the_default_anyway(name):
    """A scenario is an example too: what stands in it should matter."""
    path = resources.files("simulated_devices") / "scenarios" / f"{name}.toml"
    data = tomllib.loads(path.read_text("utf-8"))
    for given, form in zip(data["gauges"], load_scenario(name).gauges, strict=True):
        for key in given:
            assert getattr(form, key) != type(form).model_fields[key].default


# What each built-in scenario is there for.


def test_steady_comes_to_rest_after_a_second():
    gauge = only_gauge("steady")
    early = {reading.value for reading in readings(read_after(gauge, 0.0, 0.9))}
    late = {float(reading.value) for reading in readings(read_after(gauge, 3.0, 60.0))}
    assert max(early) - min(early) > 0.05
    assert late <= {12.343, 12.344, 12.345, 12.346, 12.347}


def test_adjusting_ends_at_76_200():
    gauge = only_gauge("adjusting")
    assert abs(float(gauge.shown().value) - 75.93) < 0.002
    gauge.advance(60.0)
    assert gauge.hand.doing == "done"
    assert text(gauge) in ("76.199 mm", "76.200 mm", "76.201 mm")  # the last digit flickers


def test_clicking_goes_up_five_clicks_and_back_with_the_lock_nut():
    gauge = only_gauge("clicking")
    places = [float(read_after(gauge, t_s)[-1].value) for t_s in (1, 5, 9, 13, 17, 21, 40)]
    due = [76.1, 76.12, 76.14, 76.16, 76.18, 76.2, 76.194]
    assert places == pytest.approx(due, abs=0.002)


def test_creeping_is_still_on_its_way_when_it_seems_to_rest():
    gauge = only_gauge("creeping")
    places = [float(read_after(gauge, t_s)[-1].value) for t_s in (4, 8, 40)]
    assert places[0] < places[1] - 0.01
    assert places[1] < places[2] - 0.005
    assert places[2] == pytest.approx(5.06, abs=0.002)


def test_shaking_does_not_rest_at_all():
    gauge = only_gauge("shaking")
    values = [float(reading.value) for reading in readings(read_after(gauge, 5.0, 20.0))]
    assert max(values) - min(values) > 0.006
    assert sum(values) / len(values) == pytest.approx(3.2, abs=0.0005)


def test_forgetful_forgets_its_unit_its_origin_and_its_battery():
    gauge = only_gauge("forgetful")
    (first, inch, again, nothing, woken, old) = (
        read_after(gauge, t_s) for t_s in (1, 7, 13, 20, 30, 45)
    )
    assert {reading.unit for reading in readings(inch)} == {Unit.INCH}
    assert {float(r.value) for r in readings(first + again)} <= {8.7995, 8.8, 8.8005}
    assert nothing == []
    assert {r.status for r in readings(woken)} == {frozenset({Status.ORIGIN_LOST})}
    assert all(abs(r.value_mm) < 0.001 for r in readings(woken))
    assert all(r.status for r in readings(old))


def test_rough_wire_loses_frames_and_never_a_digit():
    scenario = load_scenario("rough-wire")
    gauge, wire = only_gauge("rough-wire"), wire_of(scenario.gauges[0], scenario.seed)
    pieces = [wire.through(gauge.advance(0.02)) for _ in range(3000)]
    events = events_of(gauge.profile, pieces)
    assert {round(float(reading.value), 3) for reading in readings(events)} == {1.5}
    assert 1500 < len(readings(events)) < 2950
    assert len(events) - len(readings(events)) > 50


def test_sticking_stays_short_of_its_drive():
    gauge = only_gauge("sticking")
    values = [float(reading.value) for reading in readings(read_after(gauge, 3.0, 20.0))]
    assert values[-1] == pytest.approx(4.5 + 0.156, abs=0.002)
    jumps = [b - a for a, b in pairwise(values) if b - a > 0.01]
    assert len(jumps) == 12


def test_warming_grows_by_what_its_length_and_temperature_make():
    gauge = only_gauge("warming")
    values = [float(read_after(gauge, t_s)[-1].value) for t_s in (1, 3000)]
    # 76.2 mm · 11.5e-6 /K · 8 K = 7.0 µm
    assert values[1] - values[0] == pytest.approx(0.007, abs=0.0021)
    assert math.isclose(values[0], 76.2, abs_tol=0.002)


def test_wrong_keys_shift_turn_and_restart_the_reading():
    gauge = only_gauge("wrong-keys")
    at = {t_s: read_after(gauge, t_s) for t_s in (1, 6, 14, 18, 24, 27, 30, 36, 42, 50)}
    shows = {t_s: round(float(e[-1].value), 2) for t_s, e in at.items() if readings(e)}
    assert shows == {
        1: 12.5,
        6: 0.0,  # zero, pressed by accident
        14: 2.0,  # the plunger has moved by 2 mm
        18: -2.0,  # direction
        24: 0.0,  # incremental
        27: -2.0,
        30: 2.0,
        36: 14.5,  # set right again by a preset
        50: -15.5,
    }
    assert {s for r in readings(at[24]) for s in r.status} == {Status.INCREMENTAL}
    assert all(isinstance(event, NoNumber) for event in at[42])
    assert not any(isinstance(event, Reading) for event in at[42])

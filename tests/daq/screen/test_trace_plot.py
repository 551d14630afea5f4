"""The picture of a trace, read back: what is drawn where, by the scales of its own axes."""

import math
import xml.etree.ElementTree as ET
from decimal import Decimal
from itertools import pairwise

import pytest

from daq.measure.session import Session
from daq.screen.trace_course import Seen, seen_of
from daq.screen.trace_plot import trace_plot
from daq.screen.trace_scale import value_digits
from daq.screen.view import BenchView
from daq.screen.words import settled_text
from daq.spec import Spec
from drivers.profiles import load_profile
from drivers.reading import Reading, Shown

from .trace_pictures import (
    MOTIONS,
    SPEC,
    STEP_MM,
    SVG,
    coordinates,
    course,
    flicker,
    main_plot,
    moved_far,
    panels,
    plotted,
    rest,
    spells,
    texts,
)


def test_the_box_is_the_value_plus_and_minus_2u_over_the_settled_span():
    axes = main_plot(plotted(course(*flicker(80)), [rest()]))
    ((since_s, until_s, low, high, mean),) = axes.boxes()
    assert (since_s, until_s) == pytest.approx((2.0, 5.0), abs=0.001)
    assert (low, mean, high) == pytest.approx((12.3379, 12.3405, 12.3431), abs=1e-6)


def test_each_reading_is_drawn_at_its_time_and_length():
    values_mm = [12.34, 12.35, 12.345, 12.36]
    line = main_plot(plotted(course(*values_mm))).line()
    assert [t_s for t_s, _ in line] == pytest.approx([0, 0.1, 0.2, 0.3], abs=0.0002)
    assert [mm for _, mm in line] == pytest.approx(values_mm, abs=0.0001)


def test_limits_and_nominal_are_lines_at_their_lengths_with_their_names():
    root = plotted(course(*flicker(50)), spec=SPEC)
    assert main_plot(root).marks() == pytest.approx([12.36, 12.34, 12.32], abs=1e-6)
    assert {"upper limit 12.36", "nominal 12.34", "lower limit 12.32"} <= set(texts(root))


def test_a_limit_on_one_side_is_one_line():
    spec = Spec.of("height", nominal="12.34 mm", limits="max +0.01 mm", source="sheet 1")
    assert main_plot(plotted(course(*flicker(50)), spec=spec)).marks() == pytest.approx(
        [12.35, 12.34], abs=1e-6
    )


@pytest.mark.parametrize(("nominal", "where"), [("76.2 mm", "above"), ("1 mm", "below")])
def test_limits_far_away_do_not_flatten_the_plot_and_are_said_to_be_outside(nominal, where):
    spec = Spec.of("height", nominal=nominal, limits="± 0.02 mm", source="sheet 1")
    root = plotted(course(*flicker(50)), spec=spec)
    assert main_plot(root).marks() == []
    assert main_plot(root).high - main_plot(root).low < 0.02
    (said,) = [text for text in texts(root) if f": {where} the picture" in text]
    assert said.startswith("upper limit ")
    assert said.count(" mm") == 3


@pytest.mark.parametrize(
    ("value_mm", "outcome"), [(12.34, "in limits"), (12.30, "low"), (12.37, "high")]
)
def test_a_rest_has_its_number_value_and_verdict_beside_it_once(value_mm, outcome):
    root = plotted(course(*flicker(80, value_mm)), [rest(value_mm, spec=SPEC)], SPEC)
    value, expanded = value_digits(value_mm, 0.0013, "mm")
    (label,) = [text for text in texts(root) if expanded in text]
    assert label.split() == ["1", value, "±", expanded, "mm", *outcome.split()]


def test_a_label_lies_over_no_reading():
    noisy = [12.34 + 0.004 * (k % 3 - 1) for k in range(80)]
    root = plotted(course(*noisy), [rest(12.34, 0.0004)])
    axes = main_plot(root)
    (label,) = root.findall(f"{SVG}text[@class='label']")
    y, size = float(label.get("y")), float(label.get("font-size"))
    assert axes.left < float(label.get("x")) < axes.left + axes.width
    drawn = coordinates(axes.group.find(f".//{SVG}path[@class='readings']"))
    assert all(py < y - size or py > y for _, py in drawn)


def test_a_label_stands_by_its_own_box_though_there_is_more_room_by_another():
    values_mm = [12.34, 12.35, 12.33, 12.36]
    seen = [Seen(3.0 * k, mm, None) for k, mm in enumerate(values_mm)]
    rests = [rest(mm, 0.0029, 3.0 * k, 3.0 * k, k + 1) for k, mm in enumerate(values_mm)]
    root = plotted(seen, rests, SPEC)
    axes = main_plot(root)
    for label in root.findall(f"{SVG}text[@class='label']"):
        number = int("".join(label.itertext()).split()[0])
        nearest = round(axes.s(float(label.get("x"))) / 3) + 1
        assert number == nearest


def test_a_value_that_has_no_room_near_its_box_is_listed_beneath():
    spec = Spec.of("height", nominal="12.34 mm", limits="± 0.3 mm", source="sheet 1")
    noisy = [12.34 + 0.24 * (k % 3 - 1) for k in range(80)]
    root = plotted(course(*noisy), [rest(12.34, 0.0035, spec=spec)], spec)
    assert panels(root) == []
    (label,) = root.findall(f"{SVG}text[@class='label']")
    assert "".join(label.itertext()) == "1"
    assert texts(root)[-1] == "1: 12.3400 ± 0.0070 mm, in limits, n 31, 2.00 s to 5.00 s"


def test_after_a_long_way_the_settled_span_is_drawn_large_with_lines_at_the_display_steps():
    root = plotted(*moved_far(), SPEC)
    ((_, _, low, high, _),) = main_plot(root).boxes()
    assert (low, high) == pytest.approx((12.3391, 12.3411), abs=0.0002)
    (panel,) = panels(root)
    ((since_s, until_s, low, high, mean),) = panel.boxes()
    assert (since_s, until_s) == pytest.approx((6.0, 11.0), abs=0.002)
    assert (low, mean, high) == pytest.approx((12.3391, 12.3401, 12.3411), abs=1e-6)
    box = panel.group.find(f".//{SVG}rect[@class='interval']")
    assert float(box.get("height")) > 30
    assert distances(panel) == {STEP_MM}
    assert "6.00 s to 11.00 s, lines 1 display step apart" in texts(root)


def test_the_lines_are_display_steps_apart_though_the_step_is_no_round_number():
    seen, rests = moved_far()
    root = ET.fromstring(trace_plot("t", seen, rests, step_mm=Decimal("0.00127")))
    assert distances(panels(root)[0]) == {Decimal("0.00127")}


def length_digits(axes):
    ticks = axes.group.findall(f"{SVG}g[@class='length-tick']")
    return [tick.find(f"{SVG}text").text for tick in ticks]


def distances(axes):
    return {Decimal(b) - Decimal(a) for a, b in pairwise(length_digits(axes))}


def test_the_value_is_printed_once_where_the_span_is_drawn_large():
    said = [text for text in texts(plotted(*moved_far(), SPEC)) if "12.3401" in text]
    assert said == ["1: 12.3401 ± 0.0010 mm"]


def test_in_the_large_picture_the_dots_of_the_span_are_full_and_the_others_hollow():
    (panel,) = panels(plotted(*moved_far(), SPEC))
    dots = {
        name: [panel.s(x) for x, _ in coordinates(path)]
        for name in ("dots", "hollow")
        if (path := panel.group.find(f".//{SVG}path[@class='{name}']")) is not None
    }
    full = sorted(set(dots["dots"]) - set(dots["hollow"]))
    assert full[0] == pytest.approx(6.0, abs=0.01)
    assert full[-1] == pytest.approx(11.0, abs=0.01)
    assert len(full) == 51


def test_an_interval_that_can_be_seen_is_not_drawn_twice():
    assert panels(plotted(course(*flicker(80)), [rest()])) == []


def test_a_wrong_frame_does_not_flatten_the_plot_and_is_said_to_be_outside():
    values = flicker(100)
    values[30], values[70] = 99.999, -12.0
    root = plotted(course(*values), [rest()])
    axes = main_plot(root)
    assert axes.high - axes.low < 0.03
    assert "2 readings outside the picture: -12.000 to 99.999 mm" in texts(root)
    assert "reading outside the picture" in texts(root)
    signs = [coordinates(p)[0] for p in axes.group.findall(f"{SVG}path[@class='outside']")]
    assert [axes.s(x) for x, _ in signs] == pytest.approx([3.0, 7.0], abs=0.01)
    assert [y for _, y in signs] == [axes.top, axes.top + axes.height]


@pytest.mark.parametrize("wrong", [0, 1, 98, 99])
def test_a_wrong_frame_at_either_end_is_left_outside_too(wrong):
    values = flicker(100)
    values[wrong] = 99.999
    assert "1 reading outside the picture: 99.999 mm" in texts(plotted(course(*values)))


def test_a_move_is_no_wrong_frame_however_short_its_stay():
    values = [*flicker(60), *([17.34] * 3), *flicker(60)]
    root = plotted(course(*values))
    assert main_plot(root).high > 17.34
    assert not any("outside" in text for text in texts(root))


def test_a_wrong_frame_within_the_span_is_said_to_be_outside_the_large_picture():
    seen, rests = moved_far()
    seen[90] = Seen(seen[90].t_s, 12.37, "at rest")
    root = plotted(seen, rests, SPEC)
    (panel,) = panels(root)
    assert panel.high < 12.37 < main_plot(root).high
    assert "in limits, n 31, 1 outside the picture" in texts(root)
    assert len(panel.group.findall(f"{SVG}path[@class='outside']")) == 1


def test_the_strip_shows_each_state_while_it_was_told():
    seen = [
        Seen(k * 0.1, 12.34, motion)
        for k, motion in enumerate(motion for motion in MOTIONS for _ in range(30))
    ]
    shown = list(spells(plotted(seen)))
    assert [name for name, *_ in shown] == [motion.replace(" ", "-") for motion in MOTIONS]
    for place, (_, from_s, until_s) in enumerate(shown):
        ends_s = min(3.0 * (place + 1), 11.9)
        assert (from_s, until_s) == pytest.approx((3.0 * place, ends_s), abs=0.01)


@pytest.mark.parametrize(("times", "each", "words"), [(2, 30, 2), (30, 1, 1)])
def test_each_state_has_a_hatch_of_its_own_and_its_word(times, each, words):
    """The word stands in the strip, or once in a legend where the strip has no room for it."""
    motions = [motion for motion in MOTIONS * times for _ in range(each)]
    root = plotted([Seen(k * 0.1, 12.34, motion) for k, motion in enumerate(motions)])
    hatches = {pattern.get("id"): ET.tostring(pattern[0]) for pattern in root.iter(f"{SVG}pattern")}
    assert len(set(hatches.values())) == len(MOTIONS)
    assert {name for name, *_ in spells(root)} == set(hatches)
    assert [texts(root).count(motion) for motion in MOTIONS] == [words] * len(MOTIONS)


def test_a_state_of_a_moment_is_still_seen():
    seen = [Seen(k * 0.1, 12.34, "at rest" if k == 5000 else "moving") for k in range(10_000)]
    assert [name for name, *_ in spells(plotted(seen))] == ["moving", "at-rest", "moving"]


def test_over_a_gap_no_line_is_drawn_and_no_state_is_told():
    seen = course(*flicker(50))
    seen += [Seen(each.t_s + 15, *each[1:]) for each in seen]
    root = plotted(seen)
    path = main_plot(root).group.find(f".//{SVG}path[@class='readings']")
    assert path.get("d").count("M") == 2
    (_, _, until_s), (_, from_s, _) = spells(root)
    assert (until_s, from_s) == pytest.approx((4.9, 15.0), abs=0.02)


def test_where_nobody_saw_the_state_none_is_told():
    root = plotted(course(*flicker(50), motion=None))
    assert list(spells(root)) == []
    assert "not known" in texts(root)


def test_the_title_is_shown_whatever_is_in_it():
    title = 'a<b>&"c"\n\x00\ud800 ]]>.csv'
    root = plotted(course(12.34), title=title)
    shown = 'a<b>&"c" \ufffd\ufffd ]]>.csv'
    assert root.find(f"{SVG}title").text == shown
    assert texts(root)[0] == shown
    trace_plot(title, [], [], step_mm=STEP_MM).encode()


def test_words_from_outside_cannot_become_elements():
    spec = Spec.of("<g>", nominal="12.34 mm", limits="± 0.02 mm", source="</text>&amp;")
    root = plotted(course(*flicker(80)), [rest(spec=spec)], spec)
    said = " ".join(texts(root))
    assert "<g>: upper limit" in said
    assert "</text>&amp;" in said


def test_a_specification_in_inches_is_drawn_in_inches():
    spec = Spec.of("height", nominal="0.5 in", limits="± 0.0008 in", source="sheet 1")
    values_mm = [12.7 + 0.00254 * (k % 3) for k in range(60)]
    rests = [rest(12.70254, 0.00127, 2.0, 5.0, spec=spec)]
    root = plotted(course(*values_mm), rests, spec, step_mm=Decimal("0.00254"))
    axes = main_plot(root)
    ((_, _, low, high, mean),) = axes.boxes()
    assert (low, mean, high) == pytest.approx((0.5, 0.5001, 0.5002), abs=1e-7)
    assert axes.marks() == pytest.approx([0.5008, 0.5, 0.4992], abs=1e-7)
    assert {"reading (in)", "upper limit 0.5008"} <= set(texts(root))
    assert "60 readings, 0.00 s to 5.90 s, display step 0.0001 in, 1 settled" in texts(root)


def test_a_gauge_in_millimetres_can_be_drawn_for_a_specification_in_inches():
    spec = Spec.of("height", nominal="0.5 in", limits="± 0.01 in", source="sheet 1")
    way = [12.7 + 5 * math.exp(-k / 4) for k in range(40)]
    rests = [rest(12.701, 0.0003, 6.0, 11.0, spec=spec)]
    (panel,) = panels(plotted(course(*way, *flicker(80, 12.701)), rests, spec))
    ((*_, mean),) = panel.boxes()
    assert mean == pytest.approx(12.701 / 25.4, abs=2e-7)
    assert max(len(digits) for digits in length_digits(panel)) == len("0.5000000")


@pytest.mark.parametrize("u_mm", [0.0, 1e-7, 0.00049999, 0.0005, 0.0013, 0.05, 3.0])
@pytest.mark.parametrize("unit", ["mm", "in"])
def test_a_value_is_rounded_as_on_the_bench_screen(u_mm, unit):
    view = BenchView(gauge_label="", unit=unit, settled_mm=12.345678, u_mm=u_mm)
    value, expanded = value_digits(12.345678, u_mm, unit)
    assert settled_text(view) == f"+{value} {unit} ± {expanded} {unit} (k=2)"


@pytest.mark.parametrize("spec", [None, SPEC])
def test_a_trace_without_readings_is_an_empty_plot_that_says_so(spec):
    root = plotted([], spec=spec)
    assert "no readings" in texts(root)
    assert "0 readings, display step 0.001 mm, 0 settled" in texts(root)
    assert len(main_plot(root).marks()) == (3 if spec else 0)


def test_one_reading_is_a_dot_in_the_middle():
    axes = main_plot(plotted([Seen(3.5, 12.34, "moving")]))
    (dot,) = coordinates(axes.group.find(f".//{SVG}path[@class='dots']"))
    assert dot == pytest.approx((axes.left + axes.width / 2, axes.top + axes.height / 2))
    assert (axes.s(dot[0]), axes.mm(dot[1])) == pytest.approx((3.5, 12.34), abs=1e-4)


def test_a_constant_trace_is_drawn_in_steps_of_the_display():
    axes = main_plot(plotted(course(*[12.34] * 50), [rest(12.34, 0.00029)]))
    assert axes.high - axes.low == pytest.approx(0.010)
    assert [mm for _, mm in axes.line()] == pytest.approx([12.34] * 50, abs=1e-5)


def test_a_key_press_with_no_time_between_begin_and_end_is_a_box_that_can_be_seen():
    pressed = [rest(12.34, 0.00029, 1.0, 1.0)]
    root = plotted([Seen(1.0, 12.34, None)], pressed)
    box = main_plot(root).group.find(f".//{SVG}rect[@class='interval']")
    assert float(box.get("width")) == 3


def seen_by_a_session(profile_name, numbers):
    profile = load_profile(profile_name)
    session, seen = Session(profile), []
    session.receive(b"\r\n", 0.0)
    for k, number in enumerate(numbers):
        events = session.receive(profile.encode(Shown(Decimal(number))), 0.1 * (k + 1))
        seen += seen_of(session, [event for event in events if isinstance(event, Reading)])
    return seen


def test_each_reading_is_seen_with_the_state_that_the_session_tells():
    seen = seen_by_a_session("decimal-line", ["12.340"] * 60)
    assert [each.value_mm for each in seen] == [12.34] * 60
    assert (seen[0].motion, seen[-1].motion) == ("moving", "at rest")


def test_of_a_gauge_that_sends_at_a_key_nobody_saw_the_state():
    seen = seen_by_a_session("marked-xor", ["12.34"] * 3)
    assert [each.motion for each in seen] == [None] * 3

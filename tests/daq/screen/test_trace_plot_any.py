"""What holds for the picture of any trace: nothing is lost, nothing overlaps, it stays small."""

import re
import xml.etree.ElementTree as ET

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from daq.screen.trace_course import Seen
from daq.screen.trace_plot import trace_plot

from .trace_pictures import (
    MOTIONS,
    SPEC,
    STEP_MM,
    SVG,
    course,
    flicker,
    main_plot,
    moved_far,
    plotted,
    rest,
    side_by_side,
    staircase,
    texts,
)

lengths_mm = st.lists(
    st.floats(-1e4, 1e4) | st.sampled_from([12.34, 12.341, 12.339]), min_size=1, max_size=40
)


@given(lengths_mm)
@settings(max_examples=60, deadline=None)
def test_no_reading_is_outside_without_being_counted(values_mm):
    root = plotted(course(*values_mm))
    axes = main_plot(root)
    slack = (axes.high - axes.low) * 1e-6
    outside = sum(not axes.low - slack <= mm <= axes.high + slack for mm in values_mm)
    said = [re.match(r"(\d+) readings? outside", text) for text in texts(root)]
    assert sum(int(match[1]) for match in said if match) == outside
    assert "nan" not in ET.tostring(root, "unicode")


def test_a_million_readings_make_a_small_file_in_which_no_extreme_is_missing():
    values = [12.34 + 0.001 * (k * k % 7 - 3) for k in range(1_000_000)]
    values[123_456], values[654_321] = 12.354, 12.327
    seen = [Seen(k / 1000, mm, "moving" if k % 9 else "at rest") for k, mm in enumerate(values)]
    svg = trace_plot("long", seen, [rest(since_s=100.0, until_s=116.0)], step_mm=STEP_MM)
    assert len(svg) < 500_000
    axes = main_plot(ET.fromstring(svg))
    line = axes.line()
    (_, low), (_, high) = min(line, key=lambda p: p[1]), max(line, key=lambda p: p[1])
    assert (low, high) == pytest.approx((12.327, 12.354), abs=1e-5)
    assert max(line, key=lambda p: p[1])[0] == pytest.approx(123.456, abs=0.6)


def test_a_column_of_pixels_keeps_its_first_last_lowest_and_highest_reading():
    crowd = [12.340, 12.342, 12.345, 12.341, 12.335, 12.343]
    seen = [Seen(0.0, 12.340, "moving")]
    seen += [Seen(50.2 + k * 1e-6, mm, "moving") for k, mm in enumerate(crowd)]
    seen += [Seen(100.0, 12.340, "moving")]
    middle = [mm for t_s, mm in main_plot(plotted(seen)).line() if 1 < t_s < 99]
    assert middle == pytest.approx([12.340, 12.345, 12.335, 12.343], abs=2e-5)


@pytest.mark.parametrize(
    "trace",
    [staircase(3), staircase(24), staircase(90), staircase(60, 0.002), side_by_side(12)],
    ids=["few", "panels", "more than panels", "low", "side by side"],
)
def test_every_value_is_printed_once_or_counted_as_left_out(trace):
    seen, rests = trace
    root = plotted(seen, rests)
    said = texts(root)
    printed = [
        sum(re.search(rf"^{each.number}\b.*±", text) is not None for text in said) for each in rests
    ]
    left_out = [int(m[1]) for text in said if (m := re.match(r"and (\d+) more", text))]
    assert set(printed) <= {0, 1}
    assert printed.count(0) == sum(left_out)
    assert len(trace_plot("t", seen, rests, step_mm=STEP_MM)) < 500_000


def text_boxes(root):
    """Where each text lies, for letters of a usual width."""
    for each in root.iter(f"{SVG}text"):
        words = "".join(each.itertext())
        size, x, y = (float(each.get(name)) for name in ("font-size", "x", "y"))
        wide = 0.57 * size * len(words)
        x -= {"start": 0, "middle": wide / 2, "end": wide}[each.get("text-anchor")]
        yield x, y - 0.7 * size, x + wide, y, words


CASES = {
    "far": (*moved_far(), SPEC),
    "near": (course(*flicker(80)), [rest(spec=SPEC)], SPEC),
    "stairs": (*staircase(3), SPEC),
    "four stairs": (*staircase(4), None),
    "many stairs": (*staircase(60), None),
    "low stairs": (*staircase(60, 0.002), None),
    "high stairs": (*staircase(40, 300.0), None),
    "side by side": (*side_by_side(12), None),
    "nothing": ([], [], SPEC),
    "late": ([Seen(1.7e9 + k / 10, 12.34, "moving") for k in range(99)], [], None),
    "states": ([Seen(k / 10, 12.34, MOTIONS[k % 4]) for k in range(99)], [], None),
}


@pytest.mark.parametrize("case", CASES)
def test_no_text_lies_over_another_or_over_the_edge(case):
    seen, rests, spec = CASES[case]
    root = plotted(seen, rests, spec, title="a trace with a long name " * 9)
    boxes = list(text_boxes(root))
    width, height = float(root.get("width")), float(root.get("height"))
    for place, (left, top, right, bottom, words) in enumerate(boxes):
        assert left >= 0, words
        assert right <= width, words
        assert top >= 0, words
        assert bottom <= height, words
        for other in boxes[:place]:
            apart = left >= other[2] or other[0] >= right or top >= other[3] or other[1] >= bottom
            assert apart, (words, other[4])


@pytest.mark.parametrize("case", CASES)
def test_the_same_trace_gives_the_same_bytes(case):
    seen, rests, spec = CASES[case]
    first, second = (
        trace_plot("t", list(seen), list(rests), step_mm=STEP_MM, spec=spec) for _ in range(2)
    )
    assert first == second


def test_the_picture_needs_nothing_from_elsewhere():
    svg = trace_plot("t", *moved_far(), step_mm=STEP_MM, spec=SPEC)
    assert not re.search(r"href|<script|<style|<image|@import", svg)
    assert re.findall(r"https?://[^\"]*", svg) == ["http://www.w3.org/2000/svg"]
    for name in re.findall(r"url\(#([^)]*)\)", svg):
        assert f'id="{name}"' in svg


traces = st.lists(
    st.tuples(
        st.floats(0, 1e6) | st.integers(0, 50).map(float),
        st.floats(-9e4, 9e4) | st.integers(12_330, 12_350).map(lambda k: k / 1000),
        st.sampled_from([*MOTIONS, None]),
    ),
    max_size=30,
)


@given(traces, st.booleans(), st.floats(0, 1))
@settings(max_examples=60, deadline=None)
def test_any_trace_can_be_drawn_even_with_times_that_go_back(rows, has_spec, u_mm):
    seen = [Seen(*row) for row in rows]
    rests = [rest(seen[0].value_mm, u_mm, seen[0].t_s, seen[0].t_s + 1)] if seen else []
    svg = trace_plot("t", seen, rests, step_mm=STEP_MM, spec=SPEC if has_spec else None)
    numbers = re.findall(r"(?:nan|inf)\b", re.sub(r">[^<]*<", "><", svg))
    assert numbers == []
    ET.fromstring(svg)

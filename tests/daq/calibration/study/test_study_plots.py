"""The pictures of studies hold what they should, and are SVG that needs nothing else."""

import itertools
import random
import xml.etree.ElementTree as ET

import pytest

from daq.calibration.study import (
    Referred,
    bias_study,
    by_range,
    by_variance,
    cusum,
    individuals,
    levels_study,
)
from daq.calibration.study.chart_plot import chart_picture
from daq.calibration.study.plots import (
    bias_picture,
    components_picture,
    levels_picture,
    operators_picture,
)
from tests.daq.calibration.study.study_data import column, occasions, trials


def elements(svg, kind):
    return [each for each in ET.fromstring(svg).iter() if each.get("class") == kind]


def texts(svg):
    return [each.text for each in ET.fromstring(svg).iter() if each.tag.endswith("text")]


def test_each_component_has_a_bar_as_long_as_its_share():
    study = by_variance(trials(), tolerance=8.0)
    svg = components_picture(study)
    bars = [float(each.get("width")) for each in elements(svg, "share")]
    shown = [each for each in study.components if each.name != "total"]
    assert len(bars) == 3 * len(shown)
    wanted = [s for each in shown for s in (each.of_sd, each.of_variance, each.of_tolerance)]
    assert [bar / bars[0] for bar in bars] == pytest.approx(
        [share / wanted[0] for share in wanted], abs=1e-3
    )
    assert "27.9 %" in texts(svg)
    assert len(elements(components_picture(by_range(trials())), "share")) == 8


def test_bars_of_more_than_the_whole_stay_in_the_picture():
    svg = components_picture(by_variance(trials(), tolerance=2.0))
    ends = [float(e.get("x")) + float(e.get("width")) for e in elements(svg, "share")]
    assert max(ends) == pytest.approx(760 - 70)


def test_the_highest_and_lowest_value_fill_the_frame_and_no_more():
    chart = individuals([12.5, 12.6, 12.4, 12.5, 12.6], rules="limits").charts[0]
    svg = chart_picture(chart)
    (frame,) = elements(svg, "frame")
    top, bottom = (float(part.split(",")[1]) for part in frame.get("d")[1:].split(" L")[:2])
    heights = [
        float(elements(svg, name)[0].get("d").split(",")[1].split(" ")[0])
        for name in ("upper-limit", "lower-limit")
    ]
    room = 0.08 / 1.16 * (bottom - top)
    assert heights == pytest.approx([top + room, bottom - room], abs=0.1)
    ys = [float(each.get("cy")) for each in elements(svg, "value")]
    assert ys[0] == pytest.approx(ys[3])
    assert ys[0] - ys[1] == pytest.approx(ys[2] - ys[0], abs=0.05)


def test_every_value_of_a_crossed_study_is_drawn():
    svg = operators_picture(trials(), "mm")
    assert len(elements(svg, "value")) == 90 + 3  # and three signs in the legend
    assert len(elements(svg, "averages")) == 3
    assert "value, mm" in texts(svg)


def test_a_flagged_point_is_marked_where_it_lies():
    study = cusum(column("cusum_6_3_2_3", "x"), target=325, k=0.3175, h=4.1959)
    svg = chart_picture(study.charts[0])
    assert len(elements(svg, "flagged")) == 7
    first = elements(svg, "flagged")[0]
    middle = float(first.get("x")) + float(first.get("width")) / 2
    xs = [float(each.get("cx")) for each in elements(svg, "value") if each.get("cx")]
    assert any(abs(x - middle) < 0.02 for x in xs)
    assert "a: sum on the high side above h; 7 points: 14, 15, 16, 17, 18, 19, 20" in texts(svg)
    calm = chart_picture(individuals(column("flowrate_6_3_2_2", "flowrate")).charts[0])
    assert elements(calm, "flagged") == []
    assert "No point breaks a rule." in texts(calm)
    assert "55.802" in " ".join(filter(None, texts(calm)))


def test_limits_are_drawn_and_labels_stay_apart():
    rng = random.Random(1)
    chart = individuals([rng.gauss(12.5, 0.002) for _ in range(200)]).charts[0]
    svg = chart_picture(chart, [f"2031-01-01 {number:04}" for number in range(200)], "mm")
    assert len(elements(svg, "upper-limit")) == len(elements(svg, "lower-limit")) == 1
    below = sorted(
        float(each.get("x"))
        for each in ET.fromstring(svg).iter()
        if each.tag.endswith("text") and (each.text or "").startswith("2031")
        and each.get("text-anchor") == "middle"
    )  # fmt: skip
    assert len(below) > 3
    assert min(b - a for a, b in itertools.pairwise(below)) > 80


def test_bias_is_drawn_with_its_line_and_band():
    study = bias_study([Referred(x, x + 0.001 * x + e) for x in range(5) for e in (0, 0.001)])
    svg = bias_picture(study, "mm")
    assert len(elements(svg, "line")) == len(elements(svg, "interval")) == 1
    assert len([e for e in elements(svg, "value") if e.get("cx")]) == 10 + 1
    alone = bias_picture(bias_study([Referred(5, 5.1), Referred(5, 5.2)]))
    assert elements(alone, "line") == []


def test_levels_are_drawn():
    svg = levels_picture(levels_study(occasions("mpc61_probe_2362", part="wafer")))
    assert len(elements(svg, "sd")) == 4
    assert "0.07287" in texts(svg)


def test_names_from_outside_cannot_break_the_picture():
    odd = individuals([1.0, 2.0, 1.0, 9.0, 1.0]).charts[0]
    svg = chart_picture(odd, ['<a href="x">', "&", "\x00", "b", "c"], "<mm>")
    assert "&lt;mm&gt;" in svg
    ET.fromstring(svg)

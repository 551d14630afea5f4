"""The error curve: every point of every run in its place, both ways told apart."""

import re
from xml.etree import ElementTree

from daq.report.certificate.charts import error_chart, limits_of, sign
from tests.daq.report.certificate.making import Story, adjusted, gauge, untouched

SVG = "{http://www.w3.org/2000/svg}"


def marks(chart, kind):
    return [each for each in ElementTree.fromstring(chart).iter() if each.get("class") == kind]


def test_every_point_is_drawn_once():
    model = adjusted().model()
    chart = error_chart(model)
    for series in ("up", "down", "repeat"):
        count = sum(1 for run in model.runs for each in run.points if each.series == series)
        legend = {"up": 2, "down": 2, "repeat": 1}[series]
        assert len(marks(chart, series)) == count + legend
    assert len(marks(chart, "limit")) == 4  # two of each run


def test_a_larger_error_stands_higher_and_a_longer_travel_further_right():
    model = untouched().model()
    ups = [each for each in model.runs[0].points if each.series == "up"]
    drawn = marks(error_chart(model), "up")[1:]  # the first is the legend's
    places = [
        tuple(map(float, re.match(r"M([0-9.]+),([0-9.]+)", each.get("d")).groups()))
        for each in drawn
    ]
    by_travel = [x for _, (x, _) in sorted(zip(ups, places, strict=True), key=nominal)]
    assert by_travel == sorted(by_travel)
    by_error = [y for _, (_, y) in sorted(zip(ups, places, strict=True), key=error)]
    assert by_error == sorted(by_error, reverse=True)


def nominal(pair):
    return pair[0].nominal.exact


def error(pair):
    return pair[0].error.value.exact


def test_a_floating_limit_lies_about_the_middle_of_the_errors_and_a_fixed_one_about_zero():
    model = adjusted().model()
    low, high = limits_of(model.runs[1], model.gauge)
    assert round(high - low, 9) == 0.006
    assert round((high + low) / 2, 9) == round((-0.0011 + 0.0023) / 2, 9)
    limits = {"source": "own rule", "over_range": "0.008 mm", "zero": "fixed"}
    model = untouched(gauge_facts=gauge(limits=limits)).model()
    assert limits_of(model.runs[0], model.gauge) == (-0.008, 0.008)
    assert "limits ±0.008" in error_chart(model)


def test_there_is_no_curve_without_a_result():
    assert error_chart(Story().model()) is None


def test_words_in_the_chart_are_escaped():
    chart = error_chart(untouched(gauge_facts=gauge(label='<b> & "x"')).model())
    title = ElementTree.fromstring(chart).find(f"{SVG}title").text
    assert title.startswith('<b> & "x": errors over the travel')


def test_the_signs_point_the_way_and_as_found_is_hollow():
    up, down = sign("as left", "up", 50, 50), sign("as left", "down", 50, 50)
    assert 'd="M50.00,45.40 l4,7.6 h-8 z"' in up  # the tip is above the middle
    assert 'd="M50.00,54.60 l4,-7.6 h-8 z"' in down
    assert 'fill="#fff"' in sign("as found", "up", 50, 50)
    assert 'fill="#fff"' not in up

"""The charts: what is drawn lies where the figures say."""

import re
import xml.etree.ElementTree as ET
from decimal import Decimal

import pytest

from daq.report.charts import MOST, charts_of
from daq.report.drawing import Group, grouped, ticks
from daq.report.tally import tally
from tests.daq.report.making import SHEET, Job, good_job, poor_job

SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture
def log(tmp_path):
    return tmp_path / "log"


class Chart:
    """A chart read back: heights as deviations, by the lines of the limits."""

    def __init__(self, svg, limit_at):
        self.root = ET.fromstring(svg)
        self.zero = self.level("nominal")
        self.unit = (self.zero - self.level("upper limit")) / limit_at

    def of(self, kind):
        (legend,) = self.root.iterfind(f"{SVG}g[@class='legend']")
        explained = set(legend.iter())
        every = [each for each in self.root.iter() if each not in explained]
        return [each for each in every if each.get("class") == kind]

    def level(self, kind):
        (line,) = self.of(kind)
        assert line.get("y1") == line.get("y2")
        return float(line.get("y1"))

    def value(self, y):
        return (self.zero - float(y)) / self.unit

    def texts(self):
        return [each.text for each in self.root.iter(f"{SVG}text")]


def chart_of(report, number, limit_at):
    (svg,) = charts_of(report.steps[number])
    return Chart(svg, limit_at)


def test_signs_and_bars_lie_at_the_deviation_and_u_about_it(log):
    report = good_job(log).report()
    chart = chart_of(report, 1, 0.05)
    for kind, bars, name in (("left", "u-left", "as_left"), ("found", "u-found", "as_found")):
        short = [getattr(each, name) for each in report.steps[1].targets]
        signs, lines = chart.of(kind), chart.of(bars)
        assert len(signs) == len(lines) == 4
        for each, sign, bar in zip(short, signs, lines, strict=True):
            at, expanded = float(each.deviation.exact), float(each.expanded.exact)
            assert chart.value(sign.get("cy")) == pytest.approx(at, abs=2e-5)
            assert chart.value(bar.get("y1")) == pytest.approx(at - expanded, abs=2e-5)
            assert chart.value(bar.get("y2")) == pytest.approx(at + expanded, abs=2e-5)
            assert bar.get("x1") == bar.get("x2") == sign.get("cx")


def test_the_lower_limit_and_the_scale_agree_with_the_upper(log):
    chart = chart_of(good_job(log).report(), 1, 0.05)
    assert chart.value(chart.level("lower limit")) == pytest.approx(-0.05, abs=2e-5)
    digits = {each.text: float(each.get("y")) - 4 for each in chart.root.iter(f"{SVG}text")}
    assert chart.value(digits["+0.10"]) == pytest.approx(0.1, abs=1e-4)


def test_found_is_hollow_left_is_filled(log):
    chart = chart_of(good_job(log).report(), 1, 0.05)
    assert {each.get("fill") for each in chart.of("found")} == {"#fff"}
    assert {each.get("fill") for each in chart.of("left")} == {"#15191e"}
    assert {"as found", "as left", "injector", "42.60 mm"} <= set(chart.texts())


def test_what_was_found_in_and_left_alone_is_drawn_once(log):
    chart = chart_of(good_job(log).report(), 0, 0.04)
    assert (len(chart.of("left")), len(chart.of("found"))) == (4, 0)


def test_the_bracket_spans_what_was_left(log):
    chart = chart_of(good_job(log).report(), 1, 0.05)
    (bracket,) = chart.of("spread")
    high, low = re.fullmatch(r"M[0-9.]+,([0-9.]+) h8 V([0-9.]+) h-8", bracket.get("d")).groups()
    assert chart.value(high) == pytest.approx(0.012, abs=2e-5)
    assert chart.value(low) == pytest.approx(-0.012, abs=2e-5)
    assert "spread 0.0240 mm" in chart.texts()


def test_an_inch_step_is_drawn_in_inches(log):
    chart = chart_of(good_job(log).report(), 2, 0.002)
    (sign,) = chart.of("left")
    assert chart.value(sign.get("cy")) == pytest.approx(-0.0094 / 25.4, abs=3e-6)
    assert chart.value(chart.level("lower limit")) == pytest.approx(-0.006, abs=3e-6)
    assert "deviation, in" in chart.texts()


def test_what_lies_far_off_is_an_arrow_at_the_edge_with_its_digits(log):
    job = Job(log)
    job.master("rack", "before")
    job.rack(1, "42.61", found="43.35")
    job.rack(2, "42.60", found="42.00")
    chart = chart_of(job.report(), 1, 0.05)
    far = chart.of("found far")
    assert len(far) == 2
    assert {"+0.7500", "−0.6000", "arrow: beyond the picture"} <= set(chart.texts())
    # The frame still shows the limits large: they span more than half of it.
    (frame,) = chart.of("frame")
    top, bottom = (
        float(each) for each in re.findall(r"[MV](?:[0-9.]+,)?([0-9.]+)", frame.get("d"))
    )
    assert chart.level("lower limit") - chart.level("upper limit") > (bottom - top) / 2
    assert float(far[0].get("d").split(" ")[0].partition(",")[2]) == top
    assert float(far[1].get("d").split(" ")[0].partition(",")[2]) == bottom


def test_a_value_that_is_not_final_has_a_sign_of_its_own(log):
    job = Job(log)
    job.result("liner", "cylinder 1", "as found", "0.15")
    chart = chart_of(job.report(), 0, 0.04)
    (square,) = chart.of("newest")
    assert chart.value(float(square.get("y")) + 4) == pytest.approx(0.05, abs=2e-5)
    assert "not passed" in chart.texts()
    assert "newest, not final" in chart.texts()


def test_without_results_there_is_no_chart(log):
    assert charts_of(Job(log).report().steps[0]) == ()


def test_many_targets_go_into_several_charts_of_one_scale(log):
    places = ", ".join(f'"journal {number}"' for number in range(1, MOST + 4))
    sheet = SHEET.replace('for_each = "cylinder"', f'for_each = "place"\nplaces = [{places}]')
    job = Job(log, sheet)
    for number in range(1, MOST + 4):
        value = Decimal("0.1") + Decimal(number) / 1000
        job.result("liner", f"journal {number}", "as found", value, "0.002")
    report = job.report()
    drawn = [Chart(svg, 0.04) for svg in charts_of(report.steps[0])]
    assert [len(each.of("left")) for each in drawn] == [12, 11]
    assert drawn[0].zero == drawn[1].zero
    squares = tally(report.steps)
    assert squares.count('class="passed"') == MOST + 3 + 1  # and one in the legend


@pytest.mark.parametrize("make", [good_job, poor_job])
def test_every_picture_is_sound_xml_within_its_frame(make, log):
    report = make(log).report()
    pictures = [tally(report.steps), *(svg for step in report.steps for svg in charts_of(step))]
    assert len(pictures) >= 3
    for svg in pictures:
        root = ET.fromstring(svg)
        width, height = (float(each) for each in root.get("viewBox").split()[2:])
        for text in root.iter(f"{SVG}text"):
            assert 0 <= float(text.get("x")) <= width
            assert 0 <= float(text.get("y")) <= height


def test_the_tally_shows_each_target_once_by_its_state(log):
    root = ET.fromstring(tally(poor_job(log).report().steps))
    told = [each.text for each in root.iter(f"{SVG}title")][1:]
    assert told.count("injector 3: overruled") == 1
    assert told.count("the engine: skipped") == 1
    assert len(told) == 9
    texts = [each.text for each in root.iter(f"{SVG}text")]
    assert {"7 passed", "1 overruled", "1 skipped", "liner", "rack", "stop"} <= set(texts)


def test_a_name_with_signs_of_xml_in_it_is_written_out(log):
    sheet = SHEET.replace(
        'for_each = "cylinder"', 'for_each = "place"\nplaces = ["<&>", "c"]'
    )  # fmt: skip
    job = Job(log, sheet)
    job.result("liner", "<&>", "as found", "0.1")
    report = job.report()
    for svg in (tally(report.steps), *charts_of(report.steps[0])):
        assert "<&>" in [each.text for each in ET.fromstring(svg).iter(f"{SVG}text")]


def test_ticks_are_round_and_few():
    assert list(ticks(-0.055, 0.12)) == [
        (-0.05, "−0.05"), (0.0, "0"), (0.05, "+0.05"), (0.1, "+0.10")
    ]  # fmt: skip
    assert [digits for _, digits in ticks(0, 7)] == ["0", "+1", "+2", "+3", "+4", "+5", "+6", "+7"]


def test_names_that_begin_alike_make_a_group_and_say_it_once():
    valves = ["intake valve 1", "intake valve 2", "intake valve 3", "exhaust valve 1", "fore end"]
    assert grouped(valves, 2) == (
        Group("intake valve", ("1", "2"), 0),
        Group("intake valve", ("3",), 2),
        Group("exhaust valve", ("1",), 3),
        Group("", ("fore end",), 4),
    )
    assert grouped(["the engine"], 9) == (Group("", ("the engine",), 0),)


def test_valves_of_two_kinds_have_a_chart_each_and_one_spread(log):
    sheet = SHEET.replace('for_each = "injector"', 'for_each = "valve"')
    job = Job(log, sheet)
    for number, kind in enumerate(("intake", "exhaust")):
        for cylinder in range(1, 5):
            value = Decimal("42.60") + Decimal(number * 4 + cylinder) / 500
            job.result("rack", f"{kind} {cylinder}", "as found", value)
    charts = [Chart(svg, 0.05) for svg in charts_of(job.report().steps[1])]
    assert ["intake valve" in each.texts() for each in charts] == [True, False]
    assert ["exhaust valve" in each.texts() for each in charts] == [False, True]
    one, other = (each.of("spread")[0].get("d") for each in charts)
    assert one == other

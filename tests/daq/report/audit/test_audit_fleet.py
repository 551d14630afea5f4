"""The fleet in the report of an audit: due dates, drift, error curves, reliability, sites."""

import re
from datetime import date
from xml.etree import ElementTree

import numpy as np
import pytest

from daq.audit.layout import NULL
from daq.report.audit import of_fleet
from daq.report.audit.chart_curves import curves_chart
from daq.report.audit.chart_drift import drift_chart
from daq.report.audit.chart_findings import rules_chart, site_bar
from daq.report.audit.chart_horizon import horizon_chart
from daq.report.audit.chart_reliability import reliability_chart
from daq.report.audit.facts import DriftFacts, DueFacts, FleetFacts, ReliabilityFacts
from daq.report.audit.making import report_of
from daq.report.audit.of_curves import curves as curves_of
from daq.report.audit.sizes import Most
from tests.daq.report.audit.making import DAY_US, ON, curves, facts, us

MOST = Most()


def marks(chart, kind):
    """The elements of a chart of one kind."""
    return [each for each in ElementTree.fromstring(chart).iter() if each.get("class") == kind]


def horizon(*due_us, most=MOST):
    return of_fleet.horizon(DueFacts(np.array(due_us, dtype=np.int64)), ON, most)


def test_a_gauge_is_overdue_from_its_due_day_on():
    today = us(2026, 9, 15)
    made = horizon(today - DAY_US, today, today + DAY_US - 1, today + DAY_US)
    assert made.overdue.gauges == 3
    assert made.months[0].gauges == 1
    assert made.said.startswith("On 2026-09-15: 3 of 4 gauges overdue; 1 more comes due by the end")


def test_each_gauge_is_in_one_month_or_later_or_has_no_date():
    last, later = us(2028, 2, 29, 23), us(2028, 3, 1)
    made = horizon(us(2026, 9, 30), us(2026, 10, 1), us(2027, 1, 31), last, later, NULL)
    by_month = [(each.month, each.gauges) for each in made.months if each.gauges]
    assert by_month == [("Sep", 1), ("Oct", 1), ("Jan", 1), ("Feb", 1)]
    assert len(made.months) == MOST.months == 18
    assert [each.year for each in made.months if each.year] == ["2026", "2027", "2028"]
    assert (made.overdue.gauges, made.later.gauges) == (0, 1)
    assert made.no_date == "No due date is known of 1 gauge."


def test_the_horizon_draws_a_bar_for_each_month_with_gauges():
    made = report_of(facts()).horizon
    chart = horizon_chart(made)
    assert len(marks(chart, "month")) == sum(1 for each in made.months if each.gauges)
    assert len(marks(chart, "overdue")) == 1
    highest = max(made.months, key=lambda each: each.gauges)
    tall = max(float(each.get("height")) for each in marks(chart, "month"))
    late = float(marks(chart, "overdue")[0].get("height"))
    assert late / tall == pytest.approx(made.overdue.gauges / highest.gauges, rel=0.01)
    horizon_chart(horizon(us(2030, 1, 1)))  # nothing in any month


def drifting(**of):
    """Four gauges: clear and quick, clear and slow, unclear, and one without a line."""
    given = {
        "gauges": ["slow", "quick", "unclear", "short"],
        "calibrations": np.array([9, 8, 5, 1]),
        "slope_nm": np.array([300.0, -2100.0, 4000.0, np.nan]),
        "low_nm": np.array([100.0, -2500.0, -3000.0, np.nan]),
        "high_nm": np.array([500.0, -1700.0, 11_000.0, np.nan]),
        "limit_nm": np.array([12_000, 12_000, NULL, 12_000]),
        "leaves_us": np.array([us(2060, 1, 1), us(2025, 1, 1), NULL, NULL]),
    }
    return of_fleet.drift(DriftFacts("the errors", **(given | of)), ON, MOST)


def test_a_clear_drift_that_leaves_its_limit_soonest_stands_first():
    made = drifting()
    assert [(each.gauge, each.is_clear, each.leaves) for each in made.lines] == [
        ("quick", True, "2025-01-01, past"),
        ("slow", True, "in over 20 years"),
        ("unclear", False, "no limit known"),
    ]
    quick = made.lines[0]
    assert (quick.shown, quick.interval) == ("−0.00210", "−0.00250 to −0.00170")
    assert made.said[-1] == "1 gauge with too few calibrations for a line."
    assert drifting(slope_nm=np.full(4, np.nan)) is None


def test_a_drift_without_an_interval_is_told_as_such():
    made = drifting(low_nm=np.full(4, np.nan), high_nm=np.full(4, np.nan))
    assert {each.interval for each in made.lines} == {"not known"}
    assert not any(each.is_clear for each in made.lines)


def test_every_drift_is_drawn_in_its_interval_clear_ones_as_discs():
    made = report_of(facts()).drift
    chart = drift_chart(made)
    dots = marks(chart, "slope")
    assert len(dots) == len(marks(chart, "interval")) == len(made.lines) == MOST.drifts
    filled = [each.get("fill") != "#fff" for each in dots]
    assert filled == [each.is_clear for each in made.lines]
    assert 0 < sum(filled) < len(filled)
    for bar, dot in zip(marks(chart, "interval"), dots, strict=True):
        assert float(bar.get("x1")) <= float(dot.get("cx")) <= float(bar.get("x2"))
    ordered = sorted(zip((each.slope for each in made.lines), dots, strict=True), key=slope)
    places = [float(dot.get("cx")) for _, dot in ordered]
    assert places == sorted(places)
    assert len(marks(chart, "far")) == 2  # both ends of the widest interval


def slope(pair):
    return pair[0]


def test_every_point_of_every_curve_is_drawn_and_every_run_on_both_sides():
    view = curves_of(FleetFacts(curves=[curves(runs=3)]), MOST).gauges[0]
    chart = curves_chart(view)
    assert len(marks(chart, "point")) == sum(len(each.travel) for each in view.curves) == 30
    assert len(marks(chart, "curve")) == 27
    assert len(marks(chart, "span")) == len(marks(chart, "worst")) == 3
    assert len(marks(chart, "limit")) == 4
    assert view.curves[0].errors[1] == pytest.approx(
        (2500 * np.sin(1.25 / 2.4) + 350) / 1e6, abs=1e-6
    )
    single = curves_of(FleetFacts(curves=[curves(runs=1, limit=None)]), MOST).gauges[0]
    assert not marks(curves_chart(single), "limit")


def test_a_gross_error_leaves_the_frame_and_is_told_in_digits():
    """A run in inches taken for millimetres must not flatten the other runs."""
    gross = curves(runs=2, step=-40_000_000)
    view = curves_of(FleetFacts(curves=[gross]), MOST).gauges[0]
    chart = curves_chart(view)
    assert len(marks(chart, "far")) == 1
    assert view.curves[1].worst in "".join(ElementTree.fromstring(chart).itertext())
    for each in marks(chart, "curve"):
        for end in ("y1", "y2"):
            assert 22 <= float(each.get(end)) <= 162
    assert len(marks(chart, "point")) == 11


def test_the_first_run_and_the_newest_ones_are_kept():
    view = curves_of(FleetFacts(curves=[curves(runs=11)]), Most(runs=4)).gauges[0]
    assert [each.day[:4] for each in view.curves] == ["2016", "2024", "2025", "2026"]
    assert view.left_out == "7 more runs are not shown here."


def test_reliability_has_the_exact_interval_of_clopper_and_pearson():
    """95 of 100: 0.8871651 to 0.9835681 (exact; from the beta distribution)."""
    told = of_fleet.reliability(
        [
            ReliabilityFacts("probe", 180, 100, 95),
            ReliabilityFacts("indicator", 730, 10, 10),
            ReliabilityFacts("indicator", 365, 10, 0),
            ReliabilityFacts("indicator", 90, 0, 0),
        ],
        MOST,
    )
    assert [(each.kind, each.interval, each.counted) for each in told.lines] == [
        ("indicator", "365 days", "0 of 10"),
        ("indicator", "730 days", "10 of 10"),
        ("probe", "180 days", "95 of 100"),
    ]
    assert (told.lines[2].low, told.lines[2].high) == pytest.approx(
        (0.8871651, 0.9835681), abs=1e-7
    )
    assert told.lines[2].shown == "95.0 % (88.7 to 98.4)"
    assert told.lines[1].shown == "100 % (69.2 to 100)"
    chart = reliability_chart(told)
    assert len(marks(chart, "share")) == len(marks(chart, "interval")) == 3
    assert of_fleet.reliability([], MOST) is None


def test_rules_and_sites_are_bars_as_long_as_their_findings():
    report = report_of(facts())
    widths = [float(each.get("width")) for each in marks(rules_chart(report.bars), "rule")]
    assert widths[0] / widths[4] == pytest.approx(1204 / 88, rel=0.01)
    assert min(widths) >= 2  # 2 of 1204 is still seen
    assert [each.site for each in report.sites.lines] == [
        "east store",
        "north works",
        "south yard",
        "no site stated",
    ]
    bar = site_bar(report.sites.lines[1], 80)
    parts = [
        float(marks(bar, f"site-{word}")[0].get("width")) for word in ("high", "medium", "low")
    ]
    assert parts == pytest.approx([13.5, 31.5, 45.0])


def test_severities_are_told_apart_without_colour():
    report = report_of(facts())
    chart = rules_chart(report.bars)
    fills = {each.get("fill") for each in marks(chart, "rule")}
    assert len(fills) == 3
    for each in fills - {"#fff"}:
        red, green, blue = (int(part, 16) for part in re.findall("..", each[1:]))
        assert max(red, green, blue) - min(red, green, blue) < 24  # greys
    words = "".join(ElementTree.fromstring(chart).itertext())
    assert words.count("high") == 2


def test_a_day_long_past_or_far_off_does_no_harm():
    made = of_fleet.horizon(
        DueFacts(np.array([-(2**62), 2**62], dtype=np.int64)), date(2026, 1, 31), MOST
    )
    assert (made.overdue.gauges, made.later.gauges) == (1, 1)

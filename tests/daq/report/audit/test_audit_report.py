"""The report of an audit: everything that was found and left open stands in it, safe to read."""

import re
from pathlib import Path

import pytest

from daq.report.audit.facts import FindingFacts, FleetFacts, RejectedFacts, SiteFacts
from daq.report.audit.html import html_of
from daq.report.audit.making import report_of
from daq.report.audit.sizes import Most
from tests.daq.report.audit.making import EXCERPT, facts, finding, fleet, rule
from tests.daq.report.reading import as_read, closed_up, html_text, leaves

NASTY = """<script>alert("1")</script> & {{ 7*7 }} <img src='http://e.invalid/x'>"""


def test_every_word_of_the_model_stands_in_the_report():
    report = report_of(facts())
    text = html_text(html_of(report))
    words = {value for _, value in leaves(report) if isinstance(value, str)}
    assert len(words) > 300
    assert [each for each in words if as_read(each) not in text] == []


def test_the_front_says_how_much_was_looked_at_and_what_came_of_it():
    report = report_of(facts())
    assert report.verdict == "1\u202f328 findings"
    assert report.verdict_says == (
        "7 rules run",
        "1 place edited after the export",
        "2 rules not run: what they look for is open",
        "20\u202f431 rows rejected",
        "1 file unreadable",
    )
    assert [(each.name, each.value.replace("\u202f", " ")) for each in report.sizes] == [
        ("sites", "4"),
        ("gauges", "6 112"),
        ("calibrations", "32 340"),
        ("points of them", "812 000"),
        ("captures", "1 321 482"),
        ("period", "2016-01-04 to 2026-09-14"),
    ]
    assert [(each.severity, each.shown, each.rules) for each in report.severities] == [
        ("high", "1\u202f207", 2),
        ("medium", "33", 2),
        ("low", "88", 1),
    ]


def test_findings_stand_by_severity_then_by_number():
    report = report_of(facts())
    assert [(each.severity, each.rule) for each in report.rules] == [
        ("high", "captured-out-of-date"),
        ("high", "found-out-of-limits"),
        ("medium", "drift"),
        ("medium", "uneven-digits"),
        ("low", "shift"),
    ]
    assert [each.title for each in report.bars] == [each.title for each in report.rules]
    assert [each.rule for each in report.quiet] == ["clock-back", "two-places"]


def test_a_finding_cites_gauge_run_rows_file_and_line():
    (told, *_) = report_of(facts(rules=[rule()])).rules[0].findings
    assert (told.gauge, told.site, told.run) == ("N-0412", "north works", "C-2026-118")
    assert told.rows == "rows 211 to 221"
    assert told.place == "north/points-2026.parquet: 80211 to 80221"
    assert (len(told.excerpt.rows), told.excerpt.left_out) == (8, "3 more rows are not shown here.")
    alone = finding(seq_hi=211, line_hi=80211, excerpt=EXCERPT)
    (told,) = report_of(facts(rules=[rule(findings=[alone], count=1)])).rules[0].findings
    assert (told.rows, told.place) == ("row 211", "north/points-2026.parquet: 80211")
    nowhere = FindingFacts(said="Somebody was in two places.")
    (told,) = report_of(facts(rules=[rule(findings=[nowhere], count=1)])).rules[0].findings
    assert (told.gauge, told.rows, told.place, told.excerpt) == ("", "", "", None)


def test_a_fact_is_told_as_exact_and_a_chance_with_the_rate_that_was_held():
    by_rule = {each.rule: each for each in report_of(facts()).rules}
    assert by_rule["found-out-of-limits"].strength.startswith("Exact")
    assert {each.chance for each in by_rule["found-out-of-limits"].findings} == {""}
    digits = by_rule["uneven-digits"]
    assert "of 212 tests the false discovery rate is held at 0.001" in digits.strength
    assert [each.chance for each in digits.findings] == ["p = 3.2 × 10⁻¹²", "p = 3.1 × 10⁻⁴"]
    loose = report_of(facts(rate=None)).rules
    assert any("was not controlled" in each.strength for each in loose)
    assert not any("Benjamini" in each for each in report_of(facts(rate=None)).method)


def test_what_is_left_out_is_counted_and_said():
    few = Most(findings=2, sources=1, reasons=1, rejected=3, drifts=5, gauges=1, runs=4, sites=1)
    report = report_of(facts(), few)
    left = [
        report.rules[0].left_out,
        report.sources_left_out,
        report.rejected.reasons_left_out,
        report.rejected.rows_left_out,
        report.drift.left_out,
        report.curves.left_out,
        report.curves.gauges[0].left_out,
        report.sites.left_out,
    ]
    assert [each.replace("\u202f", " ").removesuffix(" not shown here.") for each in left] == [
        "1 202 more findings are",
        "3 more files are",
        "1 more reason is",
        "20 428 more rejected rows are",
        "37 more gauges are",
        "56 more gauges with findings are",
        "7 more runs are",
        "3 more sites are",
    ]
    whole = report_of(facts(), Most(findings=2000))
    assert whole.rules[1].left_out == ""
    edited = report_of(facts(edited=[f"place {number}" for number in range(14)]))
    assert edited.edited_left_out == "2 more such places are not shown here."


def test_what_was_not_run_and_what_could_not_be_read_is_on_the_first_page():
    html = html_of(report_of(facts()))
    front = html_text(html[: html.index("<h2>")])
    for words in (
        "Chain of hashes broken",
        "the log has no points.link",
        "west/points-2024.parquet",
        "its end is missing; it was cut off",
        "is no number with a decimal comma",
        "the rows of run C-2025-9 are not those exported",
        "east/captures.csv was not in order",
    ):
        assert closed_up(words) in front


def test_nothing_found_is_said_without_alarm():
    calm = facts(
        rules=[rule(count=0, findings=[])],
        not_run=(),
        rejected=RejectedFacts(),
        edited=(),
        notes=(),
        fleet=FleetFacts(),
    )
    report = report_of(calm)
    assert (report.verdict, report.verdict_says) == ("Nothing found", ("1 rule run",))
    html = html_of(report)
    assert 'class="verdict calm"' in html
    assert "<svg" not in html
    assert [each.split(":")[0] for each in report.missing] == [
        "Due dates",
        "Drift",
        "Reliability of intervals",
        "Sites",
    ]
    assert closed_up("does not show that a log is right") in html_text(html)
    assert 'class="verdict calm"' not in html_of(report_of(facts(rules=[], edited=["row 3"])))


def test_words_of_the_log_are_never_taken_for_markup():
    nasty = finding(NASTY, gauge=NASTY, site=NASTY, run=NASTY, file=NASTY)
    own = facts(
        sources=[NASTY],
        rules=[rule(NASTY, title=NASTY, innocent=NASTY, action=NASTY, findings=[nasty], count=1)],
        fleet=FleetFacts(
            drift=fleet().drift,
            curves=fleet().curves,
            sites=[SiteFacts(NASTY, 1, 1, 1, 1, 0, 0)],
        ),
    )
    object.__setattr__(own.fleet.drift, "gauges", [NASTY] * 43)
    object.__setattr__(own.fleet.curves[0], "gauge", NASTY)
    html = html_of(report_of(own))
    assert "<script" not in html
    assert "<img" not in html
    assert html_text(html).count(closed_up(NASTY)) >= 10


def test_the_report_asks_nothing_of_any_network_and_is_the_same_every_time():
    html = html_of(report_of(facts()))
    assert set(re.findall(r"""(?:src|href)=["']([^"']+)""", html)) == {"#rejected"}
    assert html.count('id="rejected"') == 1
    assert not re.search(r"url\(|@import|<script|<link", html)
    assert set(re.findall(r"https?://[^\"' <]+", html)) == {"http://www.w3.org/2000/svg"}
    assert html == html_of(report_of(facts()))


@pytest.mark.parametrize("lost", [True, False])
def test_a_file_that_is_lost_is_told_even_if_no_row_was_rejected(lost):
    rejected = RejectedFacts(lost=[("a.parquet", "is cut off")] if lost else [])
    report = report_of(facts(rejected=rejected))
    assert (report.rejected is not None) is lost
    assert ("1 file unreadable" in report.verdict_says) is lost
    html_of(report)


def test_the_page_names_how_much_is_shown():
    page = (Path(__file__).parents[4] / "docs" / "audit-report.md").read_text("utf-8")
    most = Most()
    for row in (
        f"| findings of a rule | {most.findings} |",
        f"| of those, with their rows | {most.excerpts}, with {most.excerpt_rows} rows each |",
        f"| months | {most.months} |",
        f"| gauges in the drift | {most.drifts} |",
        f"| gauges with error curves | {most.gauges}, with the first and the {most.runs - 1} new",
        f"| kinds and intervals | {most.reliabilities} |",
        f"| sites | {most.sites} |",
        f"| reasons for rejected rows, rejected rows | {most.reasons} |",
        f"| edited places | {most.edited} |",
        f"| names of what was read | {most.sources} |",
    ):
        assert row in page
    assert most.reasons == most.rejected

"""From an audit to its report: findings with their rows, and the fleet as it stands."""

import csv
import dataclasses
from datetime import date

import numpy as np
import pytest

from daq.audit.engine import audit
from daq.audit.intake import open_source
from daq.audit.layout import NULL, TABLES
from daq.audit.rules import built_in
from daq.report.audit.files import write_report
from daq.report.audit.from_audit import Audited, facts_of, general
from daq.report.audit.from_rows import cell_text
from daq.report.audit.from_tables import answers_of
from daq.report.audit.making import report_of
from daq.report.audit.sizes import Most
from daq.report.errors import ReportExistsError
from tests.daq.audit.fleet import DAY, LIMIT, MM, RUNS, fleet
from tests.daq.report.reading import closed_up, html_text

ON = date(2020, 7, 1)
GROSS = 40_000
"""How far the planted gauge is off, in nanometres: four times its limit."""


def written(folder, planted):
    """The tables as CSV files in the open log format, points with a line too many."""
    for name, table in planted.tables.items():
        columns = [each for each in TABLES[name].names if each in table]
        with open(folder / f"{name}.csv", "w", encoding="utf-8", newline="") as file:
            writer = csv.writer(file)
            writer.writerow(columns)
            rows = zip(*(table[each].tolist() for each in columns), strict=True)
            writer.writerows([["" if cell == NULL else cell for cell in row] for row in rows])
    with open(folder / "points.csv", "a", encoding="utf-8") as file:
        file.write("no,row\n")
    return folder


@pytest.fixture(scope="module")
def audited(tmp_path_factory):
    """A small fleet in which one gauge was found far out, audited; its log still open."""
    planted = fleet(gauges=8)
    points = planted["points"]
    rows = planted.rows_of("points", "G03")
    worst = rows[points["run"][rows] == points["run"][rows][-1]]
    points["indicated_nm"][worst] += GROSS
    folder = written(tmp_path_factory.mktemp("log"), planted)
    rules = built_in()
    with open_source([folder]) as source:
        result = audit(source, rules)
        yield Audited(result, source, rules, answers_of(source), ON, ["log"], {}), planted, worst


def test_the_facts_are_those_of_the_log(audited):
    made, planted, _ = audited
    size = facts_of(made).size
    assert (size.sites, size.gauges, size.calibrations) == (2, 8, 8 * RUNS)
    assert size.points == len(planted["points"]["gauge"])
    assert size.captures == len(planted["captures"]["gauge"])
    times = np.concatenate([planted["points"]["at_us"], planted["captures"]["at_us"]])
    assert (size.first_us, size.last_us) == (times.min(), times.max())


def test_a_finding_is_told_with_the_file_the_lines_and_the_rows(audited):
    made, planted, worst = audited
    rule = next(each for each in facts_of(made).rules if each.rule == "found-out-of-limits")
    (found,) = rule.findings
    assert (found.gauge, found.site, found.p) == ("G03", "site B", None)
    assert found.file.endswith("points.csv")
    assert (found.line_lo, found.line_hi) == (worst[0] + 2, worst[-1] + 2)  # after the header
    assert found.seq_lo == planted["points"]["seq"][worst[0]]
    assert found.excerpt.of == len(worst)
    first = dict(zip(found.excerpt.columns, found.excerpt.rows[0], strict=True))
    assert first["seq"] == str(found.seq_lo)
    indicated = planted["points"]["indicated_nm"][worst[0]]
    assert float(first["indicated, mm"].replace("−", "-")) == pytest.approx(indicated / MM)


def test_no_more_rows_are_read_than_are_shown(audited):
    made, _, worst = audited
    rules = {each.rule: each for each in facts_of(made, Most(excerpt_rows=3)).rules}
    excerpt = rules["found-out-of-limits"].findings[0].excerpt
    assert (len(excerpt.rows), excerpt.of) == (3, len(worst))
    assert facts_of(made, Most(findings=0)).rules[0].findings == []


def test_the_least_likely_stands_first_and_of_facts_the_largest(audited):
    made, *_ = audited
    (one,) = [each for each in made.audit.findings if each.rule == "found-out-of-limits"]

    def told(*of):
        findings = [dataclasses.replace(one, score=score, p=p, words=word) for score, p, word in of]
        ran = tuple(each for each in made.audit.ran if each.rule == one.rule)
        audit_of = dataclasses.replace(made.audit, findings=tuple(findings), ran=ran)
        (rule,) = facts_of(dataclasses.replace(made, audit=audit_of)).rules
        return [each.said for each in rule.findings]

    assert told((3, None, "3"), (-8, None, "8"), (5, None, "5")) == ["8", "5", "3"]
    assert told((1, 1e-3, "a"), (2, 1e-9, "b"), (9, 1e-5, "c")) == ["b", "c", "a"]


def test_a_log_of_bare_points_has_a_report_that_says_what_is_missing(tmp_path):
    bare = fleet(gauges=2)
    needed = {name: bare["points"][name] for name in TABLES["points"].needed}
    bare.tables = {"points": needed}
    rules = built_in()
    with open_source([written(tmp_path, bare)]) as source:
        result = audit(source, rules)
        made = Audited(result, source, rules, answers_of(source), ON, ["log"], {})
        report = report_of(facts_of(made))
    assert [each.split(":")[0] for each in report.missing] == [
        "Due dates",
        "Reliability of intervals",
        "Sites",
    ]
    assert len(report.not_run) == len(result.not_run) > 20
    assert (report.horizon, report.sites, report.reliability) == (None, None, None)
    assert len(report.drift.lines) == 2


def test_rules_that_ran_that_did_not_and_rows_that_were_rejected_are_all_told(audited):
    made, *_ = audited
    facts = facts_of(made)
    told = {each.rule for each in facts.rules} | {each.rule for each in facts.not_run}
    assert told == {each.id for each in made.rules}
    assert all(each.why for each in facts.not_run)
    assert facts.rejected.count == 1
    assert [(each.file.split("/")[-1], each.line) for each in facts.rejected.rows] == [
        ("points.csv", len(audited[1]["points"]["gauge"]) + 2)
    ]


def test_the_fleet_is_that_of_the_log(audited):
    made, planted, _ = audited
    fleet_facts = facts_of(made).fleet
    due = fleet_facts.due.due_us
    last = planted["calibrations"]["at_us"].reshape(8, RUNS)[:, -1]
    assert due.size == 8
    assert np.all(np.abs(due - last) < 200 * DAY)
    (line,) = fleet_facts.reliability
    assert (line.calibrations, line.within) == (8 * (RUNS - 1), 8 * (RUNS - 1) - 1)
    sites = {each.site: each for each in fleet_facts.sites}
    assert {name: each.gauges for name, each in sites.items()} == {"site A": 4, "site B": 4}
    assert sum(each.findings for each in sites.values()) == len(made.audit.findings)
    assert sites["site B"].high >= 1


def test_the_curves_of_a_gauge_with_findings_are_its_errors(audited):
    made, planted, _ = audited
    curves = next(each for each in facts_of(made).fleet.curves if each.gauge == "G03")
    assert (curves.limit_nm, curves.site) == (LIMIT, "site B")
    points = planted["points"]
    error = points["indicated_nm"] - points["reference_nm"]
    drawn = np.concatenate([each.error_nm for each in curves.runs])
    assert np.array_equal(drawn, error[planted.rows_of("points", "G03")])
    assert max(int(np.abs(each.error_nm).max()) for each in curves.runs) > LIMIT


def test_drift_has_the_interval_of_student_and_the_day_it_leaves(audited):
    made, *_ = audited
    drift = facts_of(made).fleet.drift
    answer = made.answers["drift"]
    assert drift.gauges == made.source.names("gauge", answer["gauge"])
    k = {1: 12.7062, 2: 4.30265, 3: 3.18245}  # Student's t, 97.5 %
    for at, dof in enumerate(answer["dof"].tolist()):
        half = k[dof] * answer["slope_se"][at] * 365.25
        assert (drift.high_nm - drift.low_nm)[at] / 2 == pytest.approx(half, rel=1e-5)
        if drift.leaves_us[at] != NULL:
            days = (drift.leaves_us[at] - answer["last_us"][at]) / DAY
            there = answer["fitted_nm"][at] + days * answer["slope_nm_a_day"][at]
            assert abs(there) == pytest.approx(LIMIT, rel=1e-4)


def test_the_report_is_written_and_none_over_another(audited, tmp_path):
    made, *_ = audited
    path = tmp_path / "out" / "audit.html"
    write_report(made, path)
    text = html_text(path.read_text("utf-8"))
    rule = next(each for each in made.rules if each.id == "found-out-of-limits")
    for words in (rule.rule.title, rule.rule.innocent, "restpoint impact GAUGE", "G03", "row"):
        assert closed_up(words) in text
    assert report_of(facts_of(made)).verdict in path.read_text("utf-8")
    with pytest.raises(ReportExistsError):
        write_report(made, path)


def test_a_sentence_for_all_findings_names_no_gauge():
    assert general("Run: restpoint impact {gauge}.") == "Run: restpoint impact GAUGE."
    assert general("within {limit_nm:mm}") == "within LIMIT_NM"


def test_a_value_of_the_log_keeps_every_digit():
    assert cell_text("nominal_nm", -12_000_001) == "−12.000001"
    assert cell_text("value_nm", 1_250_000) == "1.250"
    assert cell_text("lower_nm", None) == ""
    assert cell_text("at_us", 1_514_764_800_000_000) == "2018-01-01 00:00:00"
    assert cell_text("at_us", 2**62) == str(2**62)
    assert cell_text("operator", "A. Berg") == "A. Berg"

"""The audit as a whole: what it says, what it says it did not do, and how it is steered."""

import duckdb
import pytest

from daq.audit.engine import audit, write_evidence
from daq.audit.engine.chances import chance_of, told
from daq.audit.engine.saying import said
from daq.audit.errors import AuditError, RuleError
from daq.audit.intake import mapping_from, open_source
from daq.audit.rules import built_in, chosen
from tests.daq.audit.fleet import BEGIN, DAY, fleet
from tests.daq.audit.rules.faults import FAULTS, GAUGE

RULES = {rule.id: rule for rule in built_in()}


def test_a_rule_that_lacks_something_is_told_as_not_run():
    made = fleet(gauges=3)
    made.without("gauges", "limit_nm")
    del made.tables["standards"]
    result = audit(made, [RULES["drift"], RULES["standard-out-of-date"], RULES["clock-back"]])
    assert [(each.rule, each.why) for each in result.not_run] == [
        ("drift", "needs the column gauges.limit_nm"),
        ("standard-out-of-date", "needs the table standards"),
    ]
    assert [each.rule for each in result.ran] == ["clock-back"]


def test_a_log_without_a_row_is_audited_and_has_no_findings():
    made = fleet(gauges=2)
    for table in ("points", "captures"):
        made.tables[table] = {name: values[:0] for name, values in made[table].items()}
    made.tables["calibrations"] = {n: v[:0] for n, v in made["calibrations"].items()}
    assert audit(made, built_in()).findings == ()


def test_findings_do_not_depend_on_how_the_rows_are_cut_into_blocks(monkeypatch):
    made = fleet()
    for name in ("drift", "shift", "missing-numbers", "captured-before-first"):
        FAULTS[name](made)
    whole = audit(made, built_in()).findings
    blocks = made.blocks
    monkeypatch.setattr(made, "blocks", lambda table, columns, skip=0: blocks(table, columns, 1))
    key = lambda each: (each.rule, each.gauge, each.run, each.seq_lo)  # noqa: E731
    assert sorted(audit(made, built_in()).findings, key=key) == sorted(whole, key=key)
    assert len(whole) >= 4


def test_a_parameter_of_the_laboratory_takes_the_place_of_the_default():
    made = fleet()
    FAULTS["missing-numbers"](made)
    FAULTS["found-out-of-limits"](made)
    rule = RULES["found-out-of-limits"]
    assert audit(made, [rule]).findings
    assert not audit(made, [rule], {rule.id: {"coverage": 1000}}).findings


def test_a_parameter_that_no_rule_has_is_refused():
    with pytest.raises(RuleError, match="no parameter 'passes' of 'hysteresis'"):
        audit(fleet(gauges=1), [RULES["hysteresis"]], {"hysteresis": {"passes": 3}})


def test_a_calibration_that_was_broken_off_begins_no_interval():
    made = fleet()
    here = made["calibrations"]["run"] == f"{GAUGE}/2"
    made["calibrations"]["ended"][here] = "broken off"
    made["calibrations"]["certificate"][here] = ""
    found = audit(made, built_in()).findings
    assert {(each.rule, each.gauge, each.run) for each in found} == {
        ("captured-out-of-date", GAUGE, f"{GAUGE}/1")
    }


def test_progress_goes_up_to_all_rows():
    made = fleet(gauges=9)
    seen = []
    audit(made, [RULES["clock-back"]], progress=seen.append)
    assert [each.done for each in seen] == sorted(each.done for each in seen)
    assert seen[-1].done == seen[-1].of == 9 * (5 * 22 + 150)
    assert all(each.rate > 0 for each in seen)


def test_more_false_findings_allowed_never_finds_less():
    made = fleet()
    made["captures"]["value_nm"][made.rows_of("captures", GAUGE)[60:100]] += 9_000
    rule = RULES["shift"]
    values = {"shift": {"size": 0.3}}
    strict = audit(made, [rule], values, rate=1e-6).findings
    loose = audit(made, [rule], values, rate=0.5).findings
    assert {each.gauge for each in strict} <= {each.gauge for each in loose}
    assert GAUGE in {each.gauge for each in loose}


def test_a_chance_is_what_the_distribution_says():
    # Normal: 2 × 2.5 % beyond 1.959964; Student: 5 % beyond 2.228139 with 10 degrees of freedom
    # (published tables, from memory).
    assert chance_of(RULES["shift"], {"statistic": -1.959964, "looks": 1}) == pytest.approx(0.05)
    assert chance_of(RULES["shift"], {"statistic": 1.959964, "looks": 3}) == pytest.approx(0.15)
    row = {"statistic": 2.228139, "dof": 10}
    assert chance_of(RULES["drift"], row) == pytest.approx(0.05, abs=1e-6)


def test_one_small_chance_among_many_tests_is_no_finding():
    row = {"statistic": 3.0, "looks": 1}
    assert told(RULES["shift"], [row], tests=1, rate=0.01)
    assert not told(RULES["shift"], [row], tests=1000, rate=0.01)


def test_a_sentence_is_filled_in_as_people_write():
    row = {"a": 12_500, "b": BEGIN, "c": 0.125, "d": None, "e": 19_500, "f": 2**62}
    assert said("{a:mm} {b:day} {b:time} {c:%} {d:mm} {e:degC} {f:day}", row) == (
        "0.0125 mm 2018-01-01 2018-01-01 00:00 UTC 12.5 % unknown 19.5 °C "
        "a time beyond the calendar"
    )


def test_rules_are_chosen_by_name_and_a_wrong_name_is_refused():
    assert [rule.id for rule in chosen(built_in(), ["shift", "drift"])] == ["shift", "drift"]
    with pytest.raises(RuleError, match="no rule 'shfit'"):
        chosen(built_in(), ["shfit"])


@pytest.mark.parametrize(("ending", "read"), [("parquet", "read_parquet"), ("csv", "read_csv")])
def test_evidence_has_a_row_a_finding(tmp_path, ending, read):
    made = fleet()
    FAULTS["missing-numbers"](made)
    FAULTS["uneven-digits"](made)
    findings = audit(made, [RULES["missing-numbers"], RULES["uneven-digits"]]).findings
    out = tmp_path / f"it's.{ending}"
    write_evidence(findings, out)
    path = str(out).replace("'", "''")
    rows = duckdb.sql(
        f"SELECT rule, gauge_id, run_id, seq_lo, seq_hi, operator, words FROM {read}('{path}')"
    ).fetchall()
    assert rows == [
        (
            each.rule,
            each.gauge or None,
            each.run or None,
            each.seq_lo,
            each.seq_hi,
            each.facts.get("operator"),
            each.words,
        )
        for each in findings
    ]


def test_evidence_of_another_ending_is_refused(tmp_path):
    with pytest.raises(AuditError, match=r"must end in \.parquet or \.csv"):
        write_evidence((), tmp_path / "findings.xlsx")


MAPPING = """
[mapping]
format = 1
name = "chained"

[points]
files = "*.csv"
format = "csv"

[points.columns]
gauge = "g"
run = "r"
seq = "s"
at_us = { column = "t", time = "us" }
nominal_nm = { column = "n", unit = "nm" }
reference_nm = { column = "e", unit = "nm" }
indicated_nm = { column = "i", unit = "nm" }
link = "l"

[chain]
table = "points"
columns = ["gauge", "seq", "indicated_nm"]
digits = 16
"""


def chained(folder, change):
    """Three gauges of six rows, each with the hash of the row before; then one is changed."""
    import hashlib

    lines = ["g,r,s,t,n,e,i,l"]
    for gauge in ("A", "B 2", "C"):
        link = "0" * 16
        for seq in range(1, 7):
            value = 1000 * seq
            lines.append(f"{gauge},{gauge}/{seq // 4},{seq},{BEGIN + seq * DAY},0,0,{value},{link}")
            text = f"{gauge}|{seq}|{value}|{link}"
            link = hashlib.sha256(text.encode()).hexdigest()[:16]
    (folder / "points.csv").write_text("\n".join(change(lines)) + "\n", "utf-8")
    return open_source([folder], mapping_from(MAPPING.encode(), "chained.toml"))


def test_a_chain_that_holds_has_no_break_and_one_that_was_edited_has_it_there(tmp_path):
    with chained(tmp_path, lambda lines: lines) as source:
        result = audit(source, [RULES["broken-chain"]])
        assert result.not_run == ()
        assert result.findings == ()
    with chained(tmp_path, lambda lines: [s.replace(",3000,", ",3001,") for s in lines]) as source:
        found = audit(source, [RULES["broken-chain"]]).findings
    assert sorted((f.gauge, f.run, f.seq_lo, f.seq_hi) for f in found) == [
        (gauge, f"{gauge}/1", 3, 4) for gauge in ("A", "B 2", "C")
    ]


def test_rows_taken_out_of_a_chain_break_it(tmp_path):
    with chained(tmp_path, lambda lines: [*lines[:9], *lines[10:]]) as source:
        found = audit(source, [RULES["broken-chain"], RULES["missing-numbers"]]).findings
    assert {(f.rule, f.gauge) for f in found} == {
        ("broken-chain", "B 2"),
        ("missing-numbers", "B 2"),
    }

"""Rule files: what is sound, what is refused and where, and a laboratory's own rule."""

import pytest

from daq.audit.engine import audit
from daq.audit.errors import RuleError
from daq.audit.rules import built_in, load_rules, rule_from, with_values
from tests.daq.audit.fleet import fleet

OWN = '''
query = """
SELECT gauge, run, seq_lo, seq_hi, points AS score, points FROM passes WHERE points < $points
"""

[rule]
format = 1
id = "few-points"
title = "Few points"
sentence = "Calibration {run} of gauge {gauge} has {points} points."
innocent = "A short check."
action = "Ask."
rests_on = "House rule 7."
severity = "low"
needs = ["points"]

[parameters.points]
default = 22
meaning = "points that are needed"
'''


def problems(text):
    with pytest.raises(RuleError) as refused:
        rule_from(text.encode(), "own.toml")
    return "\n".join(refused.value.problems)


def test_a_rule_of_the_laboratory_runs_like_ours(tmp_path):
    (tmp_path / "few.toml").write_text(OWN, "utf-8")
    (rule,) = load_rules(tmp_path)
    made = fleet(gauges=3)
    assert not audit(made, [rule]).findings
    found = audit(made, [rule], {"few-points": {"points": 23}}).findings
    assert len(found) == 15
    assert found[0].words == "Calibration G00/0 of gauge G00 has 22 points."


@pytest.mark.parametrize(
    ("old", "new", "expected"),
    [
        ("$points", "$limit", "own.toml:2: query: $limit is no parameter"),
        ("SELECT", "DROP TABLE passes; SELECT", "query: has a semicolon"),
        ("SELECT gauge", "UPDATE gauge", "is no SELECT"),
        ('"low"', '"dreadful"', "own.toml:14"),
        ('needs = ["points"]', 'needs = ["points.colour"]', '"points.colour" is nothing'),
        ("format = 1", "format = 2", "own.toml:7"),
        ("title", "tittle", "own.toml:9"),
        ('id = "few-points"', 'id = "Few points"', "own.toml:8"),
        ("default = 22", 'default = "22"', "own.toml:18"),
    ],
)
def test_a_mistake_is_told_with_its_line(old, new, expected):
    assert expected in problems(OWN.replace(old, new, 1))


def test_a_file_that_is_no_text_or_too_large_is_refused():
    with pytest.raises(RuleError, match=r"own\.toml:2: is not UTF-8"):
        rule_from(b"a = 1\n\xff", "own.toml")
    with pytest.raises(RuleError, match="too large"):
        rule_from(b" " * 200_000, "own.toml")


def test_all_files_of_a_folder_are_told_at_once_and_two_rules_of_one_name_refused(tmp_path):
    (tmp_path / "a.toml").write_text(OWN, "utf-8")
    (tmp_path / "b.toml").write_text(OWN, "utf-8")
    (tmp_path / "c.toml").write_text("query = 3\n", "utf-8")
    with pytest.raises(RuleError) as refused:
        load_rules(tmp_path)
    told = "\n".join(refused.value.problems)
    assert "b.toml:1: rule.id: few-points" in told
    assert "c.toml" in told


def test_a_folder_without_a_rule_is_refused(tmp_path):
    with pytest.raises(RuleError, match="has no rule"):
        load_rules(tmp_path)
    with pytest.raises(RuleError, match="is no folder"):
        load_rules(tmp_path / "nowhere")


@pytest.mark.parametrize(
    ("old", "new", "expected"),
    [
        ("FROM passes", "FROM nowhere", "few-points: its query cannot be run"),
        ("points AS score, points", "points AS score", "its sentence names 'points'"),
        ("seq_lo, seq_hi, ", "seq_lo, ", "its query gives no seq_hi"),
    ],
)
def test_a_rule_that_cannot_be_run_is_told_by_name(old, new, expected):
    rule = rule_from(OWN.replace(old, new, 1).replace("22", "23").encode(), "own.toml")
    with pytest.raises(RuleError, match=expected):
        audit(fleet(gauges=2), [rule])


def test_parameters_are_written_so_that_any_engine_reads_them():
    rules = {rule.id: rule for rule in built_in()}
    rule = rules["hysteresis"]
    sql = with_values("$share $pairs", rule, {"share": 1e-7})
    assert sql == "CAST(1e-07 AS DOUBLE) 3"


@pytest.mark.parametrize("rule", built_in(), ids=lambda rule: rule.id)
def test_a_rule_uses_all_its_parameters_and_says_what_it_rests_on(rule):
    for name in rule.parameters:
        assert f"${name}" in rule.query
    assert rule.rule.sentence.endswith(".")
    assert rule.rule.action.endswith(".")
    assert rule.rule.innocent.endswith(".")

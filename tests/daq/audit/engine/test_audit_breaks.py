"""The chain of a foreign log, row by row: links of any length, and what is no link."""

import hashlib

import pytest

from daq.audit.engine import audit
from daq.audit.intake import mapping_from, open_source
from daq.audit.rules import built_in

MAPPING = """
[mapping]
format = 1

[captures]
files = "captures.csv"
format = "csv"

[captures.columns]
gauge = "g"
seq = "s"
at_us = {{ column = "t", time = "us" }}
job = "j"
value_nm = {{ column = "v", unit = "nm" }}
lower_nm = {{ column = "l", unit = "nm" }}
link = "k"

[chain]
table = "captures"
columns = ["gauge", "job", "seq", "value_nm", "lower_nm"]
separator = "'"
digits = {digits}
"""


def chained(folder, digits, change=lambda rows: rows, lower="7"):
    """Six rows of one gauge, each with the hash of the row before; then some are changed."""
    rows, link = [], "0" * digits
    for seq in range(1, 7):
        row = {"g": "A 1", "s": seq, "t": seq, "j": "", "v": -seq, "l": lower, "k": link}
        rows.append(row)
        text = f"A 1''{seq}'{-seq}'{lower}'{link}"
        link = hashlib.sha256(text.encode()).hexdigest()[:digits]
    lines = ["g,s,t,j,v,l,k", *(",".join(map(str, row.values())) for row in change(rows))]
    (folder / "captures.csv").write_text("\n".join(lines) + "\n", "utf-8")
    mapping = mapping_from(MAPPING.format(digits=digits).encode(), "chained.toml")
    rules = [rule for rule in built_in() if rule.id == "broken-chain"]
    with open_source([folder], mapping) as source:
        return [(each.seq_lo, each.seq_hi) for each in audit(source, rules).findings]


@pytest.mark.parametrize("digits", [8, 16, 17, 40, 64])
def test_a_link_may_have_any_number_of_digits(tmp_path, digits):
    assert chained(tmp_path, digits) == []
    found = chained(tmp_path, digits, lambda rows: [*rows[:3], {**rows[3], "v": 9}, *rows[4:]])
    assert found == [(4, 5)]


@pytest.mark.parametrize("digits", [8, 16, 64])
@pytest.mark.parametrize("place", [0, -1])
def test_each_digit_counts(tmp_path, digits, place):
    def change(rows):
        link = list(rows[3]["k"])
        link[place] = "0" if link[place] != "0" else "1"
        rows[3]["k"] = "".join(link)
        return rows

    assert chained(tmp_path, digits, change) == [(3, 4), (4, 5)]


@pytest.mark.parametrize("link", ["", "00", "0" * 17, "no hex at all ..", "0x00000000000000"])
def test_what_is_no_link_is_a_break(tmp_path, link):
    assert (1, 1) in chained(tmp_path, 16, lambda rows: [{**rows[0], "k": link}, *rows[1:]])


def test_after_a_row_that_lacks_a_value_nothing_is_told_of_the_next(tmp_path):
    assert chained(tmp_path, 16, lambda rows: [{**row, "l": ""} for row in rows]) == []


@pytest.mark.parametrize("gauges", [("7", "12"), ("7", "G 12"), ("-1", "7")])
def test_gauges_are_called_what_the_log_calls_them(tmp_path, gauges):
    rows = [f"{gauge},{seq},{seq},,1,1,0000" for gauge in gauges for seq in (1, 2)]
    (tmp_path / "captures.csv").write_text("\n".join(["g,s,t,j,v,l,k", *rows]) + "\n", "utf-8")
    mapping = mapping_from(MAPPING.format(digits=16).encode(), "chained.toml")
    rules = [rule for rule in built_in() if rule.id == "broken-chain"]
    with open_source([tmp_path], mapping) as source:
        findings = audit(source, rules).findings
    assert {each.gauge for each in findings} == set(gauges)
    assert len(findings) == 2 * len(gauges)

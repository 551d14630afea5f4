"""restpoint audit, from files to the exit status."""

import json

import duckdb
import numpy as np
import pytest

from daq.audit.layout import TABLES
from daq.audit.rules import built_in
from daq.cli.audit import command
from tests.daq.audit.fleet import fleet
from tests.daq.audit.rules.faults import FAULTS


def write(made, folder):
    """A fleet as Parquet files in the open log format."""
    for table, columns in made.tables.items():
        given = {
            name: values if TABLES[table].column(name).kind == "integer" else values.astype(str)
            for name, values in columns.items()
        }
        chosen = ", ".join(
            f"nullif({name}, CAST({-(2**63) + 1} AS BIGINT) - 1) AS {name}"
            if given[name].dtype == np.int64
            else name
            for name in given
        )
        duckdb.sql(f"COPY (SELECT {chosen} FROM given) TO '{folder}/{table}.parquet'")
    return folder


@pytest.fixture
def log(tmp_path):
    folder = tmp_path / "log"
    folder.mkdir()
    return folder


def run(capsys, *asked):
    status = command.main([str(each) for each in asked], standalone_mode=False)
    return status, capsys.readouterr().out


def test_a_sound_log_has_no_findings_and_ends_with_0(log, capsys):
    write(fleet(gauges=12), log)
    status, said = run(capsys, log)
    assert status == 0
    assert "0 findings by" in said
    assert "Not run: broken-chain needs" in said


def test_a_fault_is_told_with_its_rows_and_what_to_do_and_ends_with_1(log, capsys, tmp_path):
    made = fleet(gauges=12)
    FAULTS["missing-numbers"](made)
    write(made, log)
    out = tmp_path / "evidence.parquet"
    status, said = run(capsys, log, "--rows", "--evidence", out)
    assert status == 1
    assert "Gap in the sequence (high, missing-numbers): 1" in said
    assert "Numbers 50 to 52 are missing from the points of gauge G05 (3 in all)." in said
    assert f"{log}/points.parquet:599 to 600, 2 rows" in said
    assert "What to do:" in said
    columns = "rule, gauge_id, seq_lo, seq_hi, file, row_lo, row_hi, rows"
    rows = duckdb.sql(f"SELECT {columns} FROM '{out}'").fetchall()
    place = (f"{log}/points.parquet", 599, 600, 2)
    assert rows[0] == ("missing-numbers", "G05", 50, 52, *place)
    status, said = run(capsys, log, "--rows", "--json")
    stretch = dict(zip(("file", "first", "last", "rows"), place, strict=True))
    assert json.loads(said.splitlines()[0])["rows"] == [stretch]


def test_without_rows_asked_for_no_places_are_looked_up(log, capsys, tmp_path):
    made = fleet(gauges=12)
    FAULTS["missing-numbers"](made)
    write(made, log)
    out = tmp_path / "evidence.csv"
    _, said = run(capsys, log, "--evidence", out)
    assert "points.parquet:" not in said
    assert "row_lo" not in out.read_text("utf-8")


def test_json_has_an_object_a_finding_and_one_of_what_was_done(log, capsys):
    made = fleet(gauges=12)
    FAULTS["too-quick"](made)
    write(made, log)
    status, said = run(capsys, log, "--rule", "too-quick", "--rule", "broken-chain", "--json")
    lines = [json.loads(line) for line in said.splitlines()]
    assert status == 1
    assert [each["gauge"] for each in lines[:-1]] == ["G05"]
    assert lines[-1]["findings"] == 1
    assert lines[-1]["not_run"][0]["rule"] == "broken-chain"
    assert lines[-1]["rows"]["points"] == 12 * 110


def test_a_rule_of_the_laboratory_takes_the_place_of_ours_and_parameters_are_set(
    log, capsys, tmp_path
):
    made = fleet(gauges=12)
    FAULTS["odd-hours"](made)
    write(made, log)
    assert run(capsys, log, "--rule", "odd-hours")[0] == 1
    assert run(capsys, log, "--rule", "odd-hours", "--set", "odd-hours.first_hour=0")[0] == 0
    own = tmp_path / "rules"
    own.mkdir()
    text = """
query = "SELECT gauge, run, seq_lo, seq_hi, 1 AS score FROM runs WHERE passes > 99"

[rule]
format = 1
id = "odd-hours"
title = "Other"
sentence = "Other."
innocent = "Other."
action = "Other."
rests_on = "Other."
severity = "low"
"""
    (own / "other.toml").write_text(text, "utf-8")
    assert run(capsys, log, "--rules", own, "--rule", "odd-hours")[0] == 0


def test_rows_that_cannot_be_read_are_no_clean_answer(log, capsys):
    write(fleet(gauges=2), log)
    (log / "captures.parquet").unlink()
    head = "gauge,seq,at_us,value_nm"
    (log / "captures.csv").write_text(f"{head}\nG00,1,12,3\nG00,2,later,3\n", "utf-8")
    status, said = run(capsys, log, "--rule", "clock-back")
    assert status == 1
    assert "Not read:" in said
    assert "0 findings" in said


def test_the_list_has_every_rule(capsys):
    status, said = run(capsys, "--list")
    assert status == 0
    assert [line.split()[0] for line in said.splitlines()] == [rule.id for rule in built_in()]
    marked = {line.split()[0] for line in said.splitlines() if "(only when named)" in line}
    assert marked == {rule.id for rule in built_in() if not rule.rule.default}


def test_a_rule_that_is_run_only_where_it_is_named_is_told_as_not_run(log, capsys):
    write(fleet(gauges=2), log)
    words = "Not run: copied-part is run only where it is named with --rule\n"
    assert words in run(capsys, log)[1]
    assert words not in run(capsys, log, "--rule", "copied-part")[1]
    assert words not in run(capsys, log, "--rule", "all")[1]


@pytest.mark.parametrize("wrong", ["drift", "drift.passes", "drift.passes=many", "passes=3"])
def test_a_parameter_that_is_written_wrongly_is_refused(log, wrong):
    import click

    with pytest.raises(click.UsageError, match="write it as"):
        command.main([str(log), "--set", wrong], standalone_mode=False)


@pytest.mark.parametrize(
    "address", ["s3a://bucket/log", "hdfs:///a//b", "file:///log", "HDFS://h/"]
)
def test_an_address_stays_as_it_is_written_and_needs_an_engine_that_reads_it(address):
    import click

    with pytest.raises(click.UsageError, match=f"^{address} is an address, .*name --engine"):
        command.main([address], standalone_mode=False)


def test_a_folder_with_a_colon_in_its_name_is_a_folder(log, capsys):
    folder = log / "s3a:" / "log"
    folder.mkdir(parents=True)
    write(fleet(gauges=2), folder)
    assert run(capsys, folder)[0] == 0

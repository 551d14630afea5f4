"""Run after run: only what is new, bound into a chain that shows what was done to the files."""

import hashlib
import json
import sqlite3
import struct
from datetime import UTC, datetime
from itertools import pairwise

import duckdb
import pytest
from click.testing import CliRunner

from daq.audit.errors import LogExportError
from daq.audit.export import check_export, export_log
from daq.audit.export.chain import digest_of
from daq.audit.layout import CAPTURES, TABLES
from daq.cli import restpoint
from daq.logbook import Logbook
from daq.logbook.calibration import CalibrationPoint
from daq.logbook.job import JobPoint, JobResult
from daq.logbook.records import record_from
from tests.daq.audit.export.exported import DATA, kept, rows, written


def all_records(name):
    """The records of a kept sample after its cover."""
    lines = (DATA / f"logbook_format_{name}.jsonl").read_text("utf-8").splitlines()
    return [record_from(json.dumps(json.loads(line)["record"])) for line in lines[1:]]


def at_a_commit(records, cut):
    """The next place where a transaction begins: a capture is kept together with what it is for."""
    while isinstance(records[cut], JobPoint | JobResult | CalibrationPoint):
        cut += 1
    return cut


@pytest.mark.parametrize("name", ["jobs_1", "calibration_1"])
@pytest.mark.parametrize("cuts", [(3,), (10, 40, 60), (50,)])
def test_many_runs_write_the_same_rows_as_one(tmp_path, name, cuts):
    records = all_records(name)
    path = tmp_path / "a.logbook"
    parts = [0, *(at_a_commit(records, cut) for cut in cuts), len(records)]
    for first, last in pairwise(parts):
        written(path, records[first:last])
        export_log(path, tmp_path / "many")
    export_log(path, tmp_path / "one")
    for table in TABLES:
        many, one = rows(tmp_path / "many", table), rows(tmp_path / "one", table)
        for each in (*many, *one):
            each.pop("link", None)
            if table == "gauges":
                each.pop("site")  # no station was named yet when it was entered
        assert many == one
    assert check_export(tmp_path / "many") == []


def test_a_second_run_without_news_writes_nothing(tmp_path):
    book = kept("1", tmp_path)
    export_log(book, tmp_path / "out")
    before = sorted(tmp_path.joinpath("out").rglob("*"))
    done = export_log(book, tmp_path / "out")
    assert (done.files, done.link, done.last) == ((), "", 6)
    assert sorted(tmp_path.joinpath("out").rglob("*")) == before


def test_numbers_go_on_where_they_stopped(tmp_path):
    path, records = tmp_path / "a.logbook", all_records("jobs_1")
    cut = at_a_commit(records, 20)
    for part in (records[:cut], records[cut:]):
        written(path, part)
        export_log(path, tmp_path / "out")
    found = rows(tmp_path / "out", "captures")
    assert [each["seq"] for each in found] == [*range(1, 33)]
    assert len({each["link"] for each in found}) == 2


def test_another_logbook_in_the_same_folder_has_a_chain_of_its_own(tmp_path):
    export_log(kept("1", tmp_path), tmp_path / "out")
    export_log(kept("jobs_1", tmp_path), tmp_path / "out")
    assert len(rows(tmp_path / "out", "captures")) == 35
    assert check_export(tmp_path / "out") == []


def tamper(path, statement):
    """Change a logbook as somebody would who can take its guards away."""
    with sqlite3.connect(path) as connection:
        guards = connection.execute(
            "SELECT name FROM sqlite_master WHERE type = 'trigger'"
        ).fetchall()
        for (name,) in guards:
            connection.execute(f'DROP TRIGGER "{name}"')
        connection.execute(statement)
    connection.close()


def test_a_logbook_that_was_rewritten_is_not_gone_on_with(tmp_path):
    book = kept("1", tmp_path)
    export_log(book, tmp_path / "out")
    tamper(book, f"UPDATE records SET hash = '{'0' * 64}' WHERE sequence = 6")
    with pytest.raises(LogExportError, match="exported up to record 6 of this logbook, but that"):
        export_log(book, tmp_path / "out")


def test_a_logbook_that_was_cut_off_is_not_gone_on_with(tmp_path):
    book = kept("1", tmp_path)
    export_log(book, tmp_path / "out")
    tamper(book, "DELETE FROM records WHERE sequence = 6")
    with pytest.raises(LogExportError, match="is not there any more"):
        export_log(book, tmp_path / "out")


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE records SET body = replace(body, '12.339667', '12.339668') WHERE sequence = 2",
        "DELETE FROM records WHERE sequence = 3",
    ],
)
def test_a_record_that_is_not_as_written_is_not_exported(tmp_path, statement):
    book = kept("1", tmp_path)
    tamper(book, statement)
    with pytest.raises(LogExportError, match="is not as it was written, or does not follow"):
        export_log(book, tmp_path / "out")
    assert not (tmp_path / "out").exists()


def exported(tmp_path, form="parquet"):
    out = tmp_path / "out"
    done = export_log(kept("1", tmp_path), out, form=form)
    return out, done.files[0]


def test_an_edited_value_is_found_though_the_file_is_sound(tmp_path):
    out, path = exported(tmp_path)
    query = f"SELECT * REPLACE (value_nm + (seq = 2)::BIGINT AS value_nm) FROM '{path}'"
    with duckdb.connect() as connection:
        connection.execute(f"COPY ({query}) TO '{tmp_path / 'new.parquet'}'")
    (tmp_path / "new.parquet").replace(path)
    assert check_export(out) == [
        f"{path}: the file is not the one that was written",
        f"{path}: rows were edited, or put in another order",
    ]


@pytest.mark.parametrize("form", ["csv", "jsonl"])
def test_an_edited_name_is_found_in_text_files_too(tmp_path, form):
    out, path = exported(tmp_path, form)
    assert check_export(out) == []
    path.write_text(path.read_text("utf-8").replace("A. Fitter", "B. Fitter", 1), "utf-8")
    assert f"{path}: rows were edited, or put in another order" in check_export(out)


def test_a_file_taken_away_or_added_is_found(tmp_path):
    out, path = exported(tmp_path)
    path.rename(path.with_name("other.parquet"))
    assert check_export(out) == [
        f"{path}: the file is gone or cannot be read",
        f"{path.with_name('other.parquet')}: no run wrote this file",
    ]


def test_a_manifest_that_was_edited_does_not_fit_the_chain(tmp_path):
    out, _ = exported(tmp_path)
    (manifest,) = out.glob("chain/*/manifest.jsonl")
    manifest.write_text(manifest.read_text("utf-8").replace('"last": 6', '"last": 5'), "utf-8")
    assert check_export(out) == [f"{manifest}:1: run 1 does not fit the chain"]


def test_a_run_that_broke_off_before_its_commit_is_done_again(tmp_path, monkeypatch):
    path, records = tmp_path / "a.logbook", all_records("jobs_1")
    cut = at_a_commit(records, 20)
    written(path, records[:cut])
    export_log(path, tmp_path / "out")
    written(path, records[cut:])

    def broken(*_):
        raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        patch.setattr("daq.audit.export.manifest._append", broken)
        with pytest.raises(KeyboardInterrupt):
            export_log(path, tmp_path / "out")
    export_log(path, tmp_path / "out")
    assert [each["seq"] for each in rows(tmp_path / "out", "captures")] == [*range(1, 33)]
    assert check_export(tmp_path / "out") == []


def test_a_run_that_broke_off_just_after_its_commit_is_not_done_twice(tmp_path):
    book = kept("1", tmp_path)
    export_log(book, tmp_path / "out")
    (mark,) = tmp_path.joinpath("out").glob("chain/*/watermark.json")
    mark.rename(mark.with_name("watermark.next.json"))
    assert export_log(book, tmp_path / "out").link == ""
    mark.with_name("watermark.next.json").unlink()
    with pytest.raises(LogExportError, match="does not fit the manifest beside it"):
        export_log(book, tmp_path / "out")


def test_the_digest_is_what_the_page_says():
    """Worked out by hand from the description in docs/log-format.md, on one row."""
    one = {c.name: ["x"] if c.kind == "text" else [7] for c in CAPTURES.columns}
    packed = b"".join(
        c.name.encode()
        + b"\n"
        + (b'["x"]\n' + struct.pack("<q", 0) if c.kind == "text" else struct.pack("<q", 7))
        for c in CAPTURES.columns
        if c.name != "link"
    )
    assert digest_of(CAPTURES, one) == hashlib.sha256(packed).hexdigest()


def test_the_command_writes_tables_and_says_what(tmp_path):
    book, out = kept("1", tmp_path), tmp_path / "out"
    run = CliRunner().invoke
    said = run(restpoint, ["log", "export", "--parquet", str(out), str(book), "--site", "S"])
    assert said.exit_code == 0, said.output
    assert f"Records 1 to 6: 3 captures written to {out}, link " in said.stderr
    again = run(restpoint, ["log", "export", "--parquet", str(out), str(book)])
    assert "Nothing is new since record 6" in again.stderr
    text = run(restpoint, ["log", "export", "--tables", "csv", str(book), str(tmp_path / "csv")])
    assert text.exit_code == 0
    assert (tmp_path / "csv" / "captures" / "site=bench%202").is_dir()
    wrong = run(restpoint, ["log", "export", "--tables", "csv", str(book)])
    assert wrong.exit_code == 2
    assert run(restpoint, ["log", "export", str(book)]).exit_code == 2
    assert (
        run(restpoint, ["log", "export", str(book), str(out / "a.csv"), "--site", "S"]).exit_code
        == 2
    )


def test_the_command_writes_the_records_as_before(tmp_path):
    book = kept("1", tmp_path)
    said = CliRunner().invoke(restpoint, ["log", "export", str(book), str(tmp_path / "a.csv")])
    assert said.exit_code == 0
    assert (tmp_path / "a.csv").read_text("utf-8").startswith("sequence,kind,")


def test_a_writer_may_be_at_work_meanwhile(tmp_path):
    path = tmp_path / "a.logbook"
    with Logbook.open(path, at=datetime(2026, 3, 1, tzinfo=UTC)) as book:
        book.append_many(all_records("1")[:2])
        assert export_log(path, tmp_path / "out").last == 3

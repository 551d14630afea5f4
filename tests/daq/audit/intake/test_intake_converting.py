"""A foreign log turned once into the open format: the same audit, without sorting or a mapping."""

import duckdb
import pytest

from daq.audit.engine import audit
from daq.audit.errors import IntakeError
from daq.audit.intake import convert_log, mapping_from, open_source
from daq.audit.intake.opening import REJECTED
from daq.audit.layout import TABLES
from daq.audit.rules import built_in
from tests.daq.audit.intake.foreign import write_parquet

MAPPING = """
[mapping]
format = 1

[points]
files = "calib*.parquet"
format = "parquet"

[points.columns]
gauge = "g"
run = "r"
seq = "n"
at_us = { column = "t", time = "iso" }
found = { column = "state", words = { before = "as found", after = "as left" } }
way = "way"
nominal_nm = { column = "nominal", unit = "mm" }
reference_nm = { column = "ref", unit = "mm" }
indicated_nm = { column = "ind", unit = "mm" }
operator = "by"
standard = "std"
link = "link"

[captures]
files = "caps*.parquet"
format = "parquet"

[captures.columns]
gauge = "g"
seq = "n"
at_us = { column = "t", time = "iso" }
feature = "f"
value_nm = { column = "v", unit = "mm" }
lower_nm = { column = "lo", unit = "mm" }
upper_nm = { column = "hi", unit = "mm" }

[gauges]
files = "gauges.csv"
format = "csv"

[gauges.columns]
gauge = "g"
step_nm = { column = "step", unit = "mm" }
limit_nm = { column = "mpe", unit = "mm" }
interval_days = "days"

[chain]
table = "points"
columns = ["gauge", "seq", "indicated_nm"]
digits = 16
"""

POINTS = """
SELECT (i // 40) AS g, i // 20 AS r, i % 40 + 1 AS n,
  TIMESTAMP '2024-01-01' + INTERVAL (i % 40 // 20 * 365) DAY
    + INTERVAL ((i * 7 + i % 3) % 40 * 20) SECOND AS t,
  CASE WHEN i % 40 < 20 THEN 'before' ELSE 'after' END AS state,
  CASE WHEN i % 2 = 0 THEN 'up' ELSE 'down' END AS way,
  (i % 10)::DOUBLE AS nominal, i % 10 + 0.0003::DOUBLE AS ref,
  CASE WHEN i = 77 THEN 'nan'::DOUBLE
    WHEN i % 11 = 0 THEN i % 10 + 0.4 ELSE i % 10 + 0.01 END::DOUBLE AS ind,
  'by ' || (i % 20 // 15) AS "by", 'S' || (i % 5) AS std, '0123456789abcdef' AS link
FROM range({lo}, {hi}) x(i) ORDER BY hash(i)
"""

CAPTURES = """
SELECT i // 300 AS g, i % 300 + 1 + (i % 300 // 250) AS n,
  TIMESTAMP '2024-03-01' + INTERVAL (i % 300 * 3) DAY AS t, 'f' || (i % 300 // 100) AS f,
  CASE WHEN i % 300 BETWEEN 40 AND 55 THEN 5.0 ELSE 5 + (i * 37 % 101) / 1000 END::DOUBLE AS v,
  4.9::DOUBLE AS lo, 5.2::DOUBLE AS hi
FROM range(9000) x(i) ORDER BY hash(i)
"""


@pytest.fixture
def log(tmp_path):
    folder = tmp_path / "log"
    folder.mkdir()
    # One gauge has rows in both files.
    write_parquet(folder / "calib1.parquet", POINTS.format(lo=0, hi=60))
    write_parquet(folder / "calib2.parquet", POINTS.format(lo=60, hi=80))
    write_parquet(folder / "caps.parquet", CAPTURES)
    lines = ["g,step,mpe,days", *(f"{g},0.01,0.02,200" for g in range(30)), "3,0.01,0.5,200"]
    (folder / "gauges.csv").write_text("\n".join([*lines, "x,wide,1,1"]) + "\n")
    return folder


@pytest.fixture
def mapping():
    return mapping_from(MAPPING.encode(), "mapping.toml")


def evidence(source):
    found = audit(source, built_in())
    facts = [
        (each.rule, each.gauge, each.run, each.seq_lo, each.seq_hi, each.score, each.p, each.words)
        for each in found.findings
    ]
    return sorted(map(repr, facts)), found.ran, found.not_run, found.rows


@pytest.mark.parametrize("names_are_text", [True, False])
def test_the_audit_of_what_is_kept_finds_the_same(tmp_path, log, mapping, names_are_text):
    if not names_are_text:
        (log / "gauges.csv").unlink()
    with open_source([log], mapping) as source:
        foreign = evidence(source)
        rejected = source.rejects.count
    made = convert_log([log], mapping, tmp_path / "kept")
    with open_source([tmp_path / "kept"], rejects_to=tmp_path / "again.csv") as source:
        assert evidence(source) == foreign
        assert source.rejects.kept == made.rejects.kept
        assert source.notes == []
        assert {name: source.rows(name) for name in TABLES if source.columns(name)} == made.rows
    listed = (tmp_path / "kept" / REJECTED).read_text("utf-8")
    assert (tmp_path / "again.csv").read_text("utf-8") == listed
    assert made.rejects.count == rejected == 1 + names_are_text
    rules = {line.split("'")[1] for line in foreign[0]}
    assert {"broken-chain", "missing-numbers", "still-readings"} <= rules


def test_what_is_left_out_is_told_with_file_and_row(tmp_path, log, mapping):
    told = tmp_path / "told.csv"
    made = convert_log([log], mapping, tmp_path / "kept", rejects_to=told)
    assert sorted((each.file.rpartition("/")[2], each.column) for each in made.rejects.kept) == [
        ("calib2.parquet", "ind"),
        ("gauges.csv", "step"),
    ]
    assert len(told.read_text().splitlines()) == 3
    assert made.rows["points"] == 79


def test_a_file_that_is_lost_whole_stays_told(tmp_path, log, mapping):
    (log / "gauges.csv").write_bytes(b"\xff\xfe\x00\xd8,\n")
    made = convert_log([log], mapping, tmp_path / "kept")
    with open_source([tmp_path / "kept"]) as source:
        assert source.rejects.lost_files == made.rejects.lost_files
        assert len(source.rejects.lost_files) == 1


@pytest.mark.parametrize("listed", ["", "a,b\n", "file,line,column,reason,value\na,b,c,d,e\n"])
def test_a_list_of_what_was_left_out_that_cannot_be_read_is_no_empty_list(
    tmp_path, log, mapping, listed
):
    convert_log([log], mapping, tmp_path / "kept")
    (tmp_path / "kept" / REJECTED).write_text(listed, "utf-8")
    with pytest.raises(IntakeError, match="does not list rejected rows as it should"):
        open_source([tmp_path / "kept"])


def test_a_sound_log_has_no_list_of_what_was_left_out(tmp_path, log, mapping):
    made = convert_log([log], mapping, tmp_path / "kept")
    assert made.rejects
    again = convert_log([tmp_path / "kept" / "points"], None, tmp_path / "sound")
    assert not again.rejects
    assert not (tmp_path / "sound" / REJECTED).exists()


def test_numbers_stay_numbers_and_texts_stay_texts(tmp_path, log, mapping):
    (log / "gauges.csv").unlink()
    made = convert_log([log], mapping, tmp_path / "kept")
    assert all(each.is_file() for each in made.files)
    points = next(each for each in made.files if each.parent.name == "points")
    kinds = dict(row[:2] for row in duckdb.sql(f"DESCRIBE FROM '{points}'").fetchall())
    assert kinds["gauge"] == kinds["run"] == kinds["indicated_nm"] == "BIGINT"
    assert kinds["operator"] == kinds["found"] == "VARCHAR"
    rows = duckdb.sql(f"SELECT gauge, seq FROM '{points}'").fetchall()
    assert rows == sorted(rows)


def test_a_folder_with_other_files_is_refused_and_left_alone(tmp_path, log, mapping):
    to = tmp_path / "kept"
    to.mkdir()
    (to / "mine.txt").write_text("mine")
    with pytest.raises(IntakeError, match="holds other files"):
        convert_log([log], mapping, to)
    assert [each.name for each in to.iterdir()] == ["mine.txt"]


def test_a_folder_within_the_log_is_refused(tmp_path, log, mapping):
    with pytest.raises(IntakeError, match="within the log"):
        convert_log([log], mapping, log / "kept")
    assert not (log / "kept").exists()


def test_nothing_is_left_of_what_could_not_be_read(tmp_path, mapping):
    (tmp_path / "log").mkdir()
    with pytest.raises(IntakeError, match="no log"):
        convert_log([tmp_path / "log"], mapping, tmp_path / "kept")
    assert [each.name for each in tmp_path.iterdir()] == ["log"]


@pytest.mark.parametrize("separator", ["|", '"', "\\", "\n", "é"])
def test_the_chain_is_read_as_it_was_written(tmp_path, log, separator):
    told = {"\n": "\\n", '"': '\\"', "\\": "\\\\"}.get(separator, separator)
    text = MAPPING.replace("digits = 16", f'digits = 16\nseparator = "{told}"')
    mapping = mapping_from(text.encode(), "mapping.toml")
    convert_log([log], mapping, tmp_path / "kept")
    with open_source([tmp_path / "kept"]) as source:
        assert source.chain == mapping.chain
        assert source.chain.separator == separator

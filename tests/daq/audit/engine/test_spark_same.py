"""The audit on Spark finds what the audit on one machine finds, row for row, by the same rules.

These tests run where pyspark and Java are installed. Two cores of this machine are the cluster, or
the one whose address is in RESTPOINT_SPARK.
"""

import json
import os
import shutil
import subprocess
import sys
from importlib.util import find_spec
from pathlib import Path

import duckdb
import pytest

from daq.audit.engine import audit, places_of
from daq.audit.engine.spark import audit_on_spark, is_spark, spark_log
from daq.audit.engine.spark_store import as_doubles
from daq.audit.errors import AuditError
from daq.audit.intake import mapping_from, open_source
from daq.audit.rules import built_in
from tests.daq.audit.faulty_log import BETWEEN_GAUGES, faulty_fleet, write

NEEDED = [each for each in ("pyspark", "pyarrow", "pandas") if find_spec(each) is None]
if shutil.which("java") is None and "JAVA_HOME" not in os.environ:
    NEEDED.append("Java")
needs_spark = pytest.mark.skipif(bool(NEEDED), reason=f"needs {', '.join(NEEDED)}")

pytestmark = [
    pytest.mark.timeout(500),
    # pyspark warns of newer pandas than it was tried with, and leaves sockets to be collected.
    pytest.mark.filterwarnings("ignore::FutureWarning:pyspark"),
    pytest.mark.filterwarnings("ignore::ResourceWarning"),
    pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning"),
]

ENGINE = os.environ.get("RESTPOINT_SPARK", "local[2]")
GAUGES = 110
ALL_RUN_BUT = {"broken-chain"}

MAPPING = b"""
[mapping]
format = 1

[points]
files = "measured/*.parquet"
format = "parquet"

[points.columns]
gauge = "Gauge"
run = "Run"
seq = "No"
at_us = { column = "When", time = "iso" }
found = { column = "State", words = { before = "as found", after = "as left" } }
nominal_nm = { column = "Nominal", unit = "mm" }
reference_nm = { column = "Reference", unit = "mm" }
indicated_nm = { column = "Reading", unit = "mm" }
operator = "By"
link = "Before"

[chain]
table = "points"
columns = ["gauge", "seq", "indicated_nm"]
separator = "|"
digits = 16
"""


@pytest.fixture(scope="module", autouse=True)
def surroundings():
    """Workers find the program, and Java compiles little: the tests are too short to profit."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("PYTHONPATH", str(Path(__file__).parents[4]), prepend=os.pathsep)
        patch.setenv("JDK_JAVA_OPTIONS", "-XX:TieredStopAtLevel=1 -XX:+UseSerialGC")
        yield


def evidence(result):
    """What was found, in its order, each with the types of its values."""
    return [
        (
            each.rule, each.severity, each.about, each.gauge, each.run, each.seq_lo, each.seq_hi,
            each.score, each.strength, each.p, each.gauge_number,
            tuple(
                (name, type(value).__name__, value) for name, value in sorted(each.facts.items())
            ),
            each.words,
        )
        for each in result.findings
    ]  # fmt: skip


@needs_spark
def test_every_rule_finds_the_same_on_spark_row_for_row(tmp_path):
    write(faulty_fleet(GAUGES).tables, tmp_path)
    rules = built_in()
    with open_source([tmp_path]) as source:
        here = audit(source, rules)
        places = places_of(source, here.findings)
    with spark_log(ENGINE, [str(tmp_path)]) as log:
        there = audit_on_spark(log, rules)
        assert places_of(log, there.findings) == places
        assert not log.rejects
    assert evidence(there) == evidence(here)
    assert set(there.ran) == set(here.ran)
    assert there.not_run == here.not_run
    assert {each.rule for each in there.not_run} == ALL_RUN_BUT
    assert there.rows == here.rows
    assert sum(there.rows[name] for name in ("points", "captures")) > 20_000
    assert sum(map(len, places)) > 300
    fired = {each.rule for each in there.findings}
    assert fired >= {*BETWEEN_GAUGES}
    assert len(fired) >= 40, sorted({rule.id for rule in rules} - fired)


@needs_spark
def test_a_foreign_log_with_a_broken_chain_and_bad_rows_comes_out_the_same(tmp_path):
    (tmp_path / "measured").mkdir()
    file = tmp_path / "measured" / "a.parquet"
    with duckdb.connect() as connection:
        connection.execute(
            """CREATE TABLE told AS
            SELECT 'G' || g AS "Gauge", 'G' || g || '/' || (n // 10) AS "Run", n + 1 AS "No",
              TIMESTAMP '2024-01-01' + INTERVAL (g * 1000 + n) MINUTE AS "When",
              'before' AS "State", (n % 10)::DOUBLE AS "Nominal",
              (n % 10 + 0.0004)::DOUBLE AS "Reference",
              n % 10 + ((n * 7 + g) % 5) / 1000 AS "Reading",
              'P' || (g % 3) AS "By", repeat('0', 16) AS "Before"
            FROM range(20) AS gauges(g), range(40) AS rows(n) ORDER BY g, n"""
        )
        for number in range(2, 41):
            connection.execute(
                """UPDATE told SET "Before" = left(sha256(b."Gauge" || '|' || b."No" || '|' ||
                CAST(b."Reading" * 1000000 AS BIGINT) || '|' || b."Before"), 16)
                FROM told AS b WHERE b."Gauge" = told."Gauge" AND b."No" = told."No" - 1
                AND told."No" = ?""",
                [number],
            )
        connection.execute("""UPDATE told SET "Reading" = 5.01 WHERE "Gauge" = 'G3' AND "No" = 6""")
        connection.execute("""DELETE FROM told WHERE "Gauge" = 'G4' AND "No" IN (8, 9)""")
        connection.execute("""UPDATE told SET "Reading" = NULL WHERE "Gauge" = 'G5' AND "No" = 7""")
        connection.execute("""UPDATE told SET "State" = 'odd' WHERE "Gauge" = 'G6' AND "No" = 7""")
        connection.execute(f"COPY told TO '{file}' (FORMAT parquet)")
    mapping = mapping_from(MAPPING, "mapping.toml")
    rules = built_in()
    with open_source([tmp_path], mapping) as source:
        here = audit(source, rules)
        rejected = [
            (each.file, each.line, each.column, each.reason) for each in source.rejects.kept
        ]
    with spark_log(ENGINE, [str(tmp_path)], mapping) as log:
        there = audit_on_spark(log, rules)
        told = [(each.file, each.line, each.column, each.reason) for each in log.rejects.kept]
    assert evidence(there) == evidence(here)
    assert sum(each.rule == "broken-chain" for each in there.findings) == 4
    assert sorted(told) == sorted(rejected)
    assert len(told) == 2
    assert there.rows == here.rows == {"points": 796}


@needs_spark
def test_a_path_that_is_not_there_and_files_of_text_are_told(tmp_path):
    with pytest.raises(AuditError, match="There is no "):
        spark_log(ENGINE, [str(tmp_path / "nowhere")])
    (tmp_path / "points.csv").write_text("gauge\n", encoding="utf-8")
    with spark_log(ENGINE, [str(tmp_path)]) as log:
        assert [*log.rejects.words()] == [
            f"{tmp_path}/points.csv: is no Parquet file, and a cluster reads no other"
        ]


NUMBERS_OF_OTHERS = """
[mapping]
format = 1

[captures]
files = "captures.parquet"
format = "parquet"

[captures.columns]
gauge = "g"
seq = "s"
at_us = { column = "t", time = "us" }
value_nm = { column = "v", unit = "mm" }
u_nm = { column = "u", unit = "µm" }
"""


@needs_spark
@pytest.mark.parametrize("kind", ["FLOAT", "DOUBLE"])
def test_floats_that_are_no_lengths_are_rejected_as_on_one_machine(tmp_path, kind):
    values = ["1.5", "'nan'", "'inf'", "'-inf'", "NULL", "1e30", "-1e30", "2.5"]
    rows = ", ".join(
        f"('G{row // 4}', {row + 1}, {row + 1}, CAST({value} AS {kind}), CAST({u} AS {kind}))"
        for row, (value, u) in enumerate((v, u) for v in values for u in ("0.5", "'nan'", "NULL"))
    )
    # Another writer leaves what is no number out of a file's statistics.
    parquet = pytest.importorskip("pyarrow.parquet")
    told = duckdb.sql(f"SELECT * FROM (VALUES {rows}) AS r(g, s, t, v, u)").to_arrow_table()
    parquet.write_table(told, tmp_path / "captures.parquet")
    mapping = mapping_from(NUMBERS_OF_OTHERS.encode(), "others.toml")
    rules = [rule for rule in built_in() if rule.id in ("missing-numbers", "clock-back")]
    with open_source([tmp_path], mapping) as source:
        here = audit(source, rules)
        rejected = sorted((each.line, each.column) for each in source.rejects.kept)
    with spark_log(ENGINE, [str(tmp_path)], mapping) as log:
        there = audit_on_spark(log, rules)
        told = sorted((each.line, each.column) for each in log.rejects.kept)
    assert told == rejected
    sound = {row + 1 for row in (0, 2, 21, 23)}
    assert {line for line, _ in told} == {*range(1, 25)} - sound
    assert there.rows == here.rows == {"captures": len(sound)}
    assert evidence(there) == evidence(here)


@needs_spark
def test_what_is_kept_of_the_windows_goes_to_the_folder_for_checkpoints(tmp_path):
    write(faulty_fleet(30).tables, tmp_path / "log")
    rules = [rule for rule in built_in() if rule.id == "captured-out-of-date"]
    with open_source([tmp_path / "log"]) as source:
        here = audit(source, rules)
    with spark_log(ENGINE, [(tmp_path / "log").as_uri()]) as log:
        log.session.sparkContext.setCheckpointDir(str(tmp_path / "kept"))
        there = audit_on_spark(log, rules)
    assert evidence(there) == evidence(here)
    assert here.findings
    assert [*(tmp_path / "kept").rglob("part-*")]


@needs_spark
@pytest.mark.parametrize("address", ["viewfs://bench/log", "viewfs:///log"])
def test_an_address_of_another_file_system_is_read_as_it_is_written(tmp_path, address):
    write(faulty_fleet(12).tables, tmp_path / "log")
    conf = tmp_path / "conf"
    conf.mkdir()
    text = "".join(
        f"spark.hadoop.fs.viewfs.mounttable.{name}.link./log {(tmp_path / 'log').as_uri()}\n"
        for name in ("bench", "default")
    )
    (conf / "spark-defaults.conf").write_text(text, "utf-8")
    command = [sys.executable, "-m", "daq.cli", "audit", "--engine", ENGINE, "--rule", "clock-back"]
    done = subprocess.run(
        [*command, "--json", address],
        env={**os.environ, "SPARK_CONF_DIR": str(conf)},
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )
    last = json.loads(done.stdout.splitlines()[-1])
    assert last["rows"]["captures"] == 12 * 150, done.stderr
    assert last["notes"] == [
        f"{address}: whether an export of ours there was edited was not looked at"
    ]


@pytest.mark.parametrize("engine", ["local", "local[2]", "local[*]", "spark://bench:7077"])
def test_engines_of_spark_are_known_by_their_names(engine):
    assert is_spark(engine)


@pytest.mark.parametrize("engine", ["duckdb", "local[0]", "spark://bench", "http://bench:1"])
def test_other_names_are_no_engines_of_spark(engine):
    assert not is_spark(engine)


def test_numbers_with_a_point_become_floats_but_texts_and_names_stay():
    sql = "SELECT t1.a / 25.4, '1.5 mm', 1e-3 FROM t1 WHERE b > 0.5"
    assert as_doubles(sql) == "SELECT t1.a / 25.4D, '1.5 mm', 1e-3 FROM t1 WHERE b > 0.5D"

"""The audit on Spark finds what the audit on one machine finds, row for row, by the same rules.

These tests run where pyspark and Java are installed; two cores of this machine are the cluster.
"""

import math
import os
import shutil
from collections import Counter
from importlib.util import find_spec
from pathlib import Path

import duckdb
import numpy as np
import pytest

from daq.audit.engine import audit
from daq.audit.engine.spark import audit_on_spark, is_spark, spark_log
from daq.audit.engine.spark_store import as_doubles
from daq.audit.errors import AuditError
from daq.audit.intake import mapping_from, open_source
from daq.audit.layout import NULL, TABLES
from daq.audit.rules import built_in
from tests.daq.audit.fleet import fleet
from tests.daq.audit.rules import faults

NEEDED = [each for each in ("pyspark", "pyarrow", "pandas") if find_spec(each) is None]
if shutil.which("java") is None and "JAVA_HOME" not in os.environ:
    NEEDED.append("Java")
needs_spark = pytest.mark.skipif(bool(NEEDED), reason=f"needs {', '.join(NEEDED)}")

pytestmark = [
    pytest.mark.timeout(240),
    # pyspark warns of newer pandas than it was tried with, and leaves sockets to be collected.
    pytest.mark.filterwarnings("ignore::FutureWarning:pyspark"),
    pytest.mark.filterwarnings("ignore::ResourceWarning"),
    pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning"),
]

GAUGES = 110
BETWEEN_GAUGES = ("captured-at-two-places", "copied-part", "copied-readings", "two-places")
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


def faulty_fleet(monkeypatch):
    """A fleet with the fault of each rule, every one in a gauge of its own as far as it goes."""
    made = fleet(GAUGES)
    # What the others would undo comes last, in gauges at another site than those they are like.
    order = sorted(faults.FAULTS, key=lambda name: (name in BETWEEN_GAUGES, name))
    for number, name in enumerate(order):
        plant = faults.FAULTS[name]
        gauge = f"G{10 + 2 * number + (name in BETWEEN_GAUGES):02}"
        monkeypatch.setattr(faults, "GAUGE", gauge)
        monkeypatch.setattr(faults, "RUN", f"{gauge}/2")
        monkeypatch.setattr(faults.rows, "__defaults__", (f"{gauge}/2",))
        try:
            plant(made)
        except (IndexError, ValueError):
            continue  # an earlier fault has taken away what this one needs
    return made


def write(tables, folder):
    """Tables of the open format as Parquet, points and captures in two files each."""
    with duckdb.connect() as connection:
        for name, columns in tables.items():
            form = TABLES[name]
            chosen = ", ".join(
                f"CAST({each} AS VARCHAR) AS {each}"
                if form.column(each).kind == "text"
                else f"nullif(CAST({each} AS BIGINT), CAST({NULL + 1} AS BIGINT) - 1) AS {each}"
                for each in columns
            )
            rows = len(next(iter(columns.values())))
            halves = [slice(0, rows)]
            if name in ("points", "captures"):
                gauges = columns["gauge"]
                middle = int(np.flatnonzero(gauges == gauges[rows // 2])[0])
                halves = [slice(0, middle), slice(middle, rows)]
            (folder / name).mkdir(parents=True)
            for number, half in enumerate(halves):
                given = {each: values[half] for each, values in columns.items()}
                assert given
                connection.execute(
                    f"COPY (SELECT {chosen} FROM given) TO '{folder / name / f'{number}.parquet'}' "
                    "(FORMAT parquet)"
                )


def rounded(value):
    """Floats to nine digits: sums come in another order on a cluster. All else as it is."""
    if not isinstance(value, float) or not math.isfinite(value) or value == 0:
        return value
    return float(f"{value:.9g}")


def evidence(result):
    """What was found, each with the types of its values, however the rows were ordered."""
    return Counter(
        (
            each.rule, each.severity, each.about, each.gauge, each.run, each.seq_lo, each.seq_hi,
            rounded(each.score), each.strength, rounded(each.p), each.gauge_number,
            tuple(
                (name, type(value).__name__, rounded(value))
                for name, value in sorted(each.facts.items())
            ),
            each.words,
        )
        for each in result.findings
    )  # fmt: skip


@needs_spark
def test_every_rule_finds_the_same_on_spark_row_for_row(tmp_path, monkeypatch):
    write(faulty_fleet(monkeypatch).tables, tmp_path)
    rules = built_in()
    with open_source([tmp_path]) as source:
        here = audit(source, rules)
        places = source.where("points", here.findings[0].gauge_number, 1, 3)
    with spark_log("local[2]", [str(tmp_path)]) as log:
        there = audit_on_spark(log, rules)
        assert log.where("points", here.findings[0].gauge_number, 1, 3) == places
        assert not log.rejects
    assert evidence(there) == evidence(here)
    assert set(there.ran) == set(here.ran)
    assert there.not_run == here.not_run
    assert {each.rule for each in there.not_run} == ALL_RUN_BUT
    assert there.rows == here.rows
    assert sum(there.rows[name] for name in ("points", "captures")) > 20_000
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
    with spark_log("local[2]", [str(tmp_path)], mapping) as log:
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
        spark_log("local[1]", [str(tmp_path / "nowhere")])
    (tmp_path / "points.csv").write_text("gauge\n", encoding="utf-8")
    with spark_log("local[1]", [str(tmp_path)]) as log:
        assert [*log.rejects.words()] == [
            f"{tmp_path}/points.csv: is no Parquet file, and a cluster reads no other"
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

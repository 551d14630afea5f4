"""Findings as a file: a row each, for other programs."""

from collections.abc import Sequence
from pathlib import Path

import duckdb

from daq.audit.engine.evidence import Evidence
from daq.audit.errors import AuditError

_COLUMNS = (
    ("rule", "VARCHAR"),
    ("gauge_id", "VARCHAR"),
    ("run_id", "VARCHAR"),
    ("seq_lo", "BIGINT"),
    ("seq_hi", "BIGINT"),
    ("score", "DOUBLE"),
    ("strength", "VARCHAR"),
    ("p", "DOUBLE"),
    ("severity", "VARCHAR"),
    ("about", "VARCHAR"),
    ("site", "VARCHAR"),
    ("operator", "VARCHAR"),
    ("words", "VARCHAR"),
)
_TOGETHER = 2_000


def write_evidence(findings: Sequence[Evidence], out: Path) -> None:
    """Findings as Parquet or CSV, by the ending of the file's name.

    Columns: ``rule, gauge_id, run_id, seq_lo, seq_hi, score, strength, p, severity, about, site,
    operator, words``. Gauges and runs are whole numbers where the log has such for all of them.

    Raises:
        AuditError: the file cannot be written, or has another ending.
    """
    form = {".parquet": "FORMAT parquet", ".csv": "FORMAT csv, HEADER"}.get(out.suffix)
    if form is None:
        raise AuditError(f"{out} must end in .parquet or .csv.")
    with duckdb.connect() as connection:
        columns = ", ".join(f"{name} {kind}" for name, kind in _COLUMNS)
        connection.execute(f"CREATE TABLE evidence ({columns})")
        places = ", ".join("?" for _ in _COLUMNS)
        rows = [_row(each) for each in findings]
        for first in range(0, len(rows), _TOGETHER):
            connection.executemany(
                f"INSERT INTO evidence VALUES ({places})", rows[first : first + _TOGETHER]
            )
        shown = ", ".join(
            f"TRY_CAST({name} AS BIGINT) AS {name}" if _is_whole(connection, name) else name
            for name, _ in _COLUMNS
        )
        target = str(out).replace("'", "''")
        try:
            connection.execute(f"COPY (SELECT {shown} FROM evidence) TO '{target}' ({form})")
        except duckdb.IOException as error:
            raise AuditError(f"{out} cannot be written: {error}") from error


def _row(found: Evidence) -> tuple[object, ...]:
    return (
        found.rule,
        found.gauge or None,
        found.run or None,
        found.seq_lo,
        found.seq_hi,
        found.score,
        found.strength,
        found.p,
        found.severity,
        found.about,
        found.facts.get("site"),
        found.facts.get("operator"),
        found.words,
    )


def _is_whole(connection: duckdb.DuckDBPyConnection, name: str) -> bool:
    """Whether all texts of a column are whole numbers, written as such."""
    if name not in ("gauge_id", "run_id"):
        return False
    row = connection.execute(
        f"SELECT count({name}) = count(TRY_CAST({name} AS BIGINT)) AND count({name}) > 0 AND "
        f"bool_and(coalesce(CAST(TRY_CAST({name} AS BIGINT) AS VARCHAR) = {name}, true)) "
        "FROM evidence"
    ).fetchone()
    return bool(row and row[0])

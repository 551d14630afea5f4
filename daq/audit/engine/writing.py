"""Findings as a file: a row each, for other programs."""

from collections.abc import Sequence
from pathlib import Path

import duckdb

from daq.audit.engine.evidence import Evidence
from daq.audit.errors import AuditError
from daq.audit.intake.places import Stretch

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
_PLACES = (
    ("file", "VARCHAR"),
    ("row_lo", "BIGINT"),
    ("row_hi", "BIGINT"),
    ("rows", "BIGINT"),
)


def write_evidence(
    findings: Sequence[Evidence],
    out: Path,
    places: Sequence[Sequence[Stretch]] | None = None,
) -> None:
    """Findings as Parquet or CSV, by the ending of the file's name.

    Columns: ``rule, gauge_id, run_id, seq_lo, seq_hi, score, strength, p, severity, about, site,
    operator, words``. Gauges and runs are whole numbers where the log has such for all of them.

    Args:
        findings: what was found.
        out: the file.
        places: where each finding's rows stand (`daq.audit.engine.places_of`); then there are the
            columns ``file, row_lo, row_hi, rows`` too: rows from 1, of a text file lines, and how
            many of them. Rows in several files have all their names, and no ``row_lo, row_hi``.

    Raises:
        AuditError: the file cannot be written, or has another ending.
    """
    form = {".parquet": "FORMAT parquet", ".csv": "FORMAT csv, HEADER"}.get(out.suffix)
    if form is None:
        raise AuditError(f"{out} must end in .parquet or .csv.")
    columns = _COLUMNS if places is None else (*_COLUMNS, *_PLACES)
    rows = [_row(each) for each in findings]
    if places is not None:
        rows = [(*row, *_place(each)) for row, each in zip(rows, places, strict=True)]
    with duckdb.connect() as connection:
        # A list a column, since a statement a row takes longer than the audit.
        lists = [[row[place] for row in rows] for place in range(len(columns))]
        given = ", ".join(f"unnest(CAST(? AS {kind}[])) AS {name}" for name, kind in columns)
        connection.execute(f"CREATE TABLE evidence AS SELECT {given}", lists)
        shown = ", ".join(
            f"TRY_CAST({name} AS BIGINT) AS {name}" if _is_whole(connection, name) else name
            for name, _ in columns
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


def _place(stretches: Sequence[Stretch]) -> tuple[object, ...]:
    if not stretches:
        return None, None, None, 0
    rows = sum(each.rows for each in stretches)
    if len(stretches) > 1:
        return "; ".join(each.file for each in stretches), None, None, rows
    return stretches[0].file, stretches[0].first, stretches[0].last, rows


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

"""The audit on a cluster: the same kernel and the same rules as on one machine, run by Spark.

Rows go to the workers by gauge, sorted by number; each worker runs the kernel over whole gauges.
What it makes of them stays on the cluster, and the rules ask it there. It needs the extra
``cluster`` here, and restpoint with the same version of duckdb on every worker.
"""

import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from daq.audit.engine.asking import Parameters, ask, check_parameters, lacks
from daq.audit.engine.calendar import CALENDAR, RUNS, WINDOWS
from daq.audit.engine.evidence import Audit
from daq.audit.engine.fill import (
    SMALL,
    capture_columns,
    extras_of,
    make_tables,
    point_kernel,
)
from daq.audit.engine.spark_log import SparkLog
from daq.audit.engine.spark_open import open_on_spark
from daq.audit.engine.spark_rows import FILE, ROW
from daq.audit.engine.spark_session import is_spark, session_for
from daq.audit.engine.spark_store import SparkStore
from daq.audit.engine.spark_work import (
    COUNTS,
    PART,
    REJECTS,
    Dtypes,
    Kept,
    made_schema,
    over_captures,
    over_points,
)
from daq.audit.engine.store import KINDS, Store
from daq.audit.intake.mapping import Mapping
from daq.audit.kernel import POINTS
from daq.audit.kernel.columns import NAMES
from daq.audit.layout import LARGE
from daq.audit.rules import Rule, with_values
from daq.audit.rules.rule import SHARED

__all__ = ["audit_on_spark", "is_spark", "spark_log"]

_OF_POINTS = ("passes", "series", "digits", "pieces")
_OF_CAPTURES = ("stills", "inches", "shifts", "gauge_captures", "windows", "asked", "stays")
_OF_BOTH = ("disorder", "gaps", "clock", "breaks")


def spark_log(
    engine: str,
    paths: Sequence[str | Path],
    mapping: Mapping | None = None,
    *,
    rejects_to: Path | None = None,
) -> SparkLog:
    """A log on an engine of Spark; close it when the audit is done.

    Args:
        engine: ``spark://HOST:PORT`` or ``local[CORES]``.
        paths: files or folders of Parquet that Spark reads; an address, such as
            ``s3a://BUCKET/log``, as text.
        mapping: which column is what; None if the files are in the open format.
        rejects_to: a CSV file for every rejected row.

    Raises:
        AuditError: Spark is not installed or not reached, or the log cannot be read there.
    """
    session = session_for(engine)
    try:
        return open_on_spark(session, [str(path) for path in paths], mapping, rejects_to=rejects_to)
    except BaseException:
        session.stop()
        raise


def audit_on_spark(
    log: SparkLog,
    rules: Sequence[Rule],
    parameters: Parameters | None = None,
    *,
    rate: float = SHARED["rate"],
) -> Audit:
    """Run rules over a log on a cluster; as `daq.audit.engine.audit`.

    Raises:
        RuleError: a parameter that a rule does not have, or a query that cannot be run.
    """
    given = parameters or {}
    check_parameters(rules, given)
    store = SparkStore(log.session)
    _small_tables(store, log)
    dtypes = _dtypes()
    extras = extras_of(rules)
    points = _points(log, dtypes, extras)
    for name in _OF_POINTS:
        store.define(name, [points], dtypes)
    store.run(RUNS)
    store.run(CALENDAR)
    captures = _captures(log, store, dtypes, extras)
    for name in _OF_CAPTURES:
        store.define(name, [captures], dtypes)
    for name in _OF_BOTH:
        store.define(name, [points, captures], dtypes)
    for made in (points, captures):
        _count(log, made)
    _learn(store, log, rules, given)
    return ask(store, log, rules, given, rate)


def _small_tables(store: SparkStore, log: SparkLog) -> None:
    """The small tables, made ready on this machine as they are for the audit on one."""
    with tempfile.TemporaryDirectory(prefix="restpoint-audit-") as folder:
        here = Store(Path(folder), 192)
        try:
            for name in SMALL:
                here.add_small(log, name)  # type: ignore[arg-type]
                store.add_small(here.connection, name)
        finally:
            here.close()


def _dtypes() -> Dtypes:
    """The columns of the kernel's tables and their types, as the kernel makes them."""
    kept = Kept()
    make_tables(kept)  # type: ignore[arg-type]
    whole = np.dtype(np.int64)
    dtypes = {
        name: {column: values.dtype for column, values in parts[0].items()}
        for name, parts in kept.tables.items()
    }
    dtypes["breaks"] = {**dict.fromkeys(("gauge", "run", "seq_lo", "seq_hi"), whole)}
    dtypes["breaks"]["source"] = np.dtype(np.int8)
    dtypes[COUNTS] = dict.fromkeys(("table", "rows"), whole)
    dtypes[REJECTS] = dict.fromkeys(("table", "file", "row", "what"), whole)
    return dtypes


def _points(log: SparkLog, dtypes: Dtypes, extras: frozenset[str]) -> Any:
    """What the kernel makes of the points, kept on the cluster."""
    has = [name for name in POINTS if name in log.columns("points")]
    if not has:
        return log.session.createDataFrame([], made_schema(dtypes))
    rows = log.frame("points", has).repartition("gauge")
    work = over_points(point_kernel(log, extras), has, dtypes, log.begins())
    ordered = rows.sortWithinPartitions("gauge", "seq", FILE, ROW)
    return ordered.mapInArrow(work, made_schema(dtypes)).persist()


def _captures(log: SparkLog, store: SparkStore, dtypes: Dtypes, extras: frozenset[str]) -> Any:
    """What the kernel makes of the captures and the windows of their gauges."""
    from pyspark.sql import functions as f

    wanted = capture_columns(extras)
    has = [name for name in wanted if name in log.columns("captures")]
    if not has:
        return log.session.createDataFrame([], made_schema(dtypes))
    rows = log.frame("captures", has).withColumn(PART, f.lit(1).cast("bigint"))
    cases = " ".join(f"WHEN '{kind}' THEN {place}" for place, kind in enumerate(KINDS))
    windows = store.frame(WINDOWS.format(kind=f"CAST(CASE what {cases} END AS BIGINT)"))
    places = {
        "gauge": "gauge",
        "seq": "kind",
        "at_us": "from_us",
        "value_nm": "until_us",
        FILE: "run",
        PART: "CAST(0 AS BIGINT)",
    }
    zero = "CAST(0 AS BIGINT)"
    shaped = windows.selectExpr(
        *(f"CAST({places.get(name, zero)} AS BIGINT) AS `{name}`" for name in rows.columns)
    )
    together = rows.unionByName(_apart(shaped)).repartition("gauge")
    work = over_captures(extras, has, dtypes, log.begins())
    ordered = together.sortWithinPartitions("gauge", PART, "seq", FILE, ROW)
    return ordered.mapInArrow(work, made_schema(dtypes)).persist()


def _apart(frame: Any) -> Any:
    """The same rows, written down, so that Spark's planner does not look into their making.

    Where points stood in the plan of the captures, Spark would not find again what it has kept of
    the captures in a plan that has both, and work it all out anew for every rule. They are written
    to the cluster's folder for checkpoints, where it has one; else each worker keeps its own.
    """
    if frame.sparkSession.sparkContext.getCheckpointDir() is not None:
        return frame.checkpoint()
    return frame.localCheckpoint()


def _count(log: SparkLog, made: Any) -> None:
    """How many rows there were, and which were rejected; this runs the kernel."""
    found = made.selectExpr(f"inline(`{COUNTS}`)").groupBy("table").sum("rows")
    for table, rows in found.collect():
        log.counted[LARGE[table]] = rows
    rejects = made.selectExpr(f"inline(`{REJECTS}`)").orderBy("table", "file", "row")
    for row in rejects.toLocalIterator():
        log.reject(LARGE[row[0]], *row[1:])


def _learn(store: SparkStore, log: SparkLog, rules: Sequence[Rule], given: Parameters) -> None:
    """Ask all rules, and look up all names in the answers in one pass over the log."""
    codes: dict[str, list[int]] = {}
    for rule in rules:
        if lacks(rule, log):
            continue
        for row in store.rows(with_values(rule.query, rule, given.get(rule.id, {}))):
            for column, value in row.items():
                name = column.removeprefix("other_")
                if name in NAMES and isinstance(value, int):
                    codes.setdefault(name, []).append(value)
    log.learn({name: np.unique(np.array(values, dtype=np.int64)) for name, values in codes.items()})

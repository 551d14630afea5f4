"""A connection to Spark: a cluster by its address, or this machine alone (``local[2]``)."""

import os
import re
import sys
from typing import Any

from daq.audit.errors import AuditError

_ENGINE = re.compile(r"local(\[(\*|[1-9][0-9]*)\])?|spark://[^\s/]+:[0-9]+(,[^\s/]+:[0-9]+)*")
_HERE = re.compile(r"local.*|spark://(127\.0\.0\.1|localhost):[0-9]+")
_BATCH_ROWS = 100_000


def is_spark(engine: str) -> bool:
    """Whether an engine's name is one of Spark's: ``spark://HOST:PORT`` or ``local[CORES]``."""
    return _ENGINE.fullmatch(engine) is not None


def session_for(engine: str) -> Any:
    """A Spark session on that engine; what is not set here is as Spark's own files have it.

    Raises:
        AuditError: the name is none of Spark's, pyspark is not installed, or the cluster does not
            answer.
    """
    if not is_spark(engine):
        raise AuditError(
            f"{engine!r} is no engine; write spark://HOST:PORT, or local[2] for two cores here."
        )
    try:
        import pyarrow  # noqa: F401
        from pyspark.sql import SparkSession
    except ImportError as error:
        raise AuditError(
            f"The engine {engine} needs pyspark ({error}). "
            "Install it with: pip install 'restpoint[cluster]'"
        ) from None
    os.environ.setdefault("PYSPARK_PYTHON", sys.executable)
    if _HERE.fullmatch(engine):
        os.environ.setdefault("SPARK_LOCAL_IP", "127.0.0.1")
    builder = SparkSession.builder.master(engine).appName("restpoint audit")
    for name, value in _settings(engine).items():
        builder = builder.config(name, value)
    try:
        session = builder.getOrCreate()
    except Exception as error:  # whatever Java says: py4j has no class of its own for it
        raise AuditError(
            f"Spark on {engine} cannot be reached: {str(error).splitlines()[0]}"
        ) from error
    session.sparkContext.setLogLevel("ERROR")
    return session


def _settings(engine: str) -> dict[str, str]:
    settings = {
        "spark.sql.session.timeZone": "UTC",
        # Without it a sum that is too large comes round as a wrong number.
        "spark.sql.ansi.enabled": "true",
        "spark.sql.execution.arrow.maxRecordsPerBatch": str(_BATCH_ROWS),
        # A name such as "1.0" must not become a partition, and a file's own column stays.
        "spark.sql.sources.partitionColumnTypeInference.enabled": "false",
    }
    if _HERE.fullmatch(engine):
        cores = re.search(r"\[(\d+)\]", engine)
        settings |= {
            "spark.driver.host": "127.0.0.1",
            "spark.driver.bindAddress": "127.0.0.1",
            "spark.ui.enabled": "false",
            "spark.ui.showConsoleProgress": "false",
            # What is asked here is small: compiling and planning anew costs more than it saves.
            "spark.sql.adaptive.enabled": "false",
            "spark.sql.codegen.wholeStage": "false",
            "spark.sql.codegen.factoryMode": "NO_CODEGEN",
            "spark.sql.shuffle.partitions": cores[1] if cores else "4",
        }
    return settings

"""In which files, and where there, stretches of rows stand: one read of a table on a cluster."""

from collections.abc import Sequence
from typing import Any

import numpy as np

from daq.audit.engine.spark_rows import BAD, FILE, ROW
from daq.audit.intake.places import Stretch
from daq.audit.source import Ints


def stretches_on_spark(
    rows: Any, files: Sequence[str], gauge: Ints, seq_lo: Ints, seq_hi: Ints
) -> list[list[Stretch]]:
    """For each stretch that is wanted, where its rows stand, by file, in the order of the rows.

    Args:
        rows: a frame of the table, from `SparkLog.frame`, with ``gauge`` and ``seq``.
        files: the names of the files that its numbers of files stand for.
        gauge: whose rows, as a number; shape (n,), as the other two.
        seq_lo: the first number, included.
        seq_hi: the last number, included.
    """
    import pyarrow as pa
    from pyspark.sql import functions as f

    place = np.arange(gauge.size)
    wanted = rows.sparkSession.createDataFrame(
        pa.table({"place": place, "of": gauge, "lo": seq_lo, "hi": seq_hi})
    )
    is_in = (f.col("gauge") == f.col("of")) & f.col("seq").between(f.col("lo"), f.col("hi"))
    told = (
        rows.where(f.col(BAD) == 0)
        .join(f.broadcast(wanted), is_in)
        .groupBy("place", FILE)
        .agg(f.min("seq"), f.min(ROW), f.max(ROW), f.count("*"))
    )
    found: list[list[tuple[int, Stretch]]] = [[] for _ in range(gauge.size)]
    for number, file, seq, first, last, count in told.collect():
        found[number].append((seq, Stretch(files[file], first + 1, last + 1, count)))
    return [[each for _, each in sorted(one)] for one in found]

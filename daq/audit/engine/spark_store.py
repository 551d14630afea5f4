"""The tables that the rules ask, as views of Spark; the rules' SQL is run as it stands."""

import re
from collections.abc import Sequence
from functools import reduce
from typing import Any

import duckdb
import numpy as np

from daq.audit.engine.spark_work import Dtypes
from daq.audit.engine.store import WORDS, as_read, as_said
from daq.audit.errors import RuleError

_DECIMALS = re.compile(r"('(?:[^']|'')*')|(?<![\w.])(\d+\.\d+)(?![\w.])")
_MAKES = re.compile(
    r"\bCREATE\s+(?:TABLE|VIEW)\s+(?:IF\s+NOT\s+EXISTS\s+)?(\w+)\s+AS\s", re.IGNORECASE
)


def as_doubles(sql: str) -> str:
    """SQL whose numbers with a point are floats of 64 bits.

    Spark works with such numbers in decimals of few places, and rounds; DuckDB does not.
    """
    return _DECIMALS.sub(lambda found: found[1] or f"{found[2]}D", sql)


class SparkStore:
    """Views in a Spark session, asked as `daq.audit.engine.store.Store` is.

    What was asked once is remembered, so that all names in the answers can be looked up at once.
    """

    def __init__(self, session: Any) -> None:
        self.session = session
        self._answers: dict[str, list[dict[str, Any]]] = {}

    def define(self, name: str, made: Sequence[Any], dtypes: Dtypes) -> None:
        """A table of the kernel, out of what the workers made."""
        columns = dtypes[name]
        read = (as_read(each, np.zeros(0, dtype=dtype)) for each, dtype in columns.items())
        frame = reduce(
            lambda a, b: a.unionAll(b), (each.selectExpr(f"inline(`{name}`)") for each in made)
        ).selectExpr(*read)
        words = WORDS.get(name, {})
        self.keep(name, frame.selectExpr(*(as_said(each, words.get(each)) for each in columns)))

    def keep(self, name: str, frame: Any) -> None:
        """A frame as a view."""
        frame.createOrReplaceTempView(name)

    def add_small(self, small: duckdb.DuckDBPyConnection, name: str) -> None:
        """A small table that stands in a DuckDB, ready for the rules."""
        self.keep(name, self.session.createDataFrame(small.table(name).to_arrow_table()))

    def run(self, sql: str) -> None:
        """A statement that makes a table or view; here it is always a view."""
        self.session.sql(_MAKES.sub(r"CREATE OR REPLACE TEMPORARY VIEW \1 AS ", as_doubles(sql)))

    def frame(self, sql: str) -> Any:
        """What a query gives, left on the cluster."""
        return self.session.sql(as_doubles(sql))

    def rows(self, sql: str) -> list[dict[str, Any]]:
        """What a query gives, row by row."""
        from pyspark.errors import PySparkException

        if sql not in self._answers:
            try:
                self._answers[sql] = [row.asDict() for row in self.frame(sql).collect()]
            except PySparkException as error:
                raise RuleError(f"A query cannot be run on Spark: {error}") from error
        return self._answers[sql]

    def number(self, sql: str) -> int:
        """The one whole number that a query gives."""
        found = next(iter(self.rows(sql)[0].values()), None)
        return 0 if found is None else int(found)

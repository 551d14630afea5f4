"""Where the chain of a foreign log is broken: a row whose link does not follow from the one before.

Every row carries its link, so each is held against the row before it by itself: one break does not
make all rows after it look broken.
"""

from typing import Any, cast

import numpy as np

from daq.audit.engine.store import Store
from daq.audit.intake.mapping import ChainFrom
from daq.audit.kernel import Table
from daq.audit.source import Ints, Source

_BREAKS = """
WITH told AS (
  SELECT gauge, {run} AS run, seq, link,
    lag(seq) OVER w AS seq_before, lag({text} || link) OVER w AS before
  FROM ({rows}) AS log WINDOW w AS (PARTITION BY gauge ORDER BY seq)
)
SELECT gauge, run, coalesce(seq_before, seq) AS seq_lo, seq AS seq_hi
FROM told
WHERE (before IS NOT NULL AND link <> left(sha256(before), {digits}))
   OR (before IS NULL AND seq = 1 AND link <> repeat('0', {digits}))
"""


def add_breaks(store: Store, source: Source) -> None:
    """Makes the table ``breaks``: ``gauge, run, seq_lo, seq_hi, source``.

    The break lies between the rows ``seq_lo`` and ``seq_hi``, or in one of them.
    """
    chained = cast(Any, source)
    chain: ChainFrom = chained.chain
    separator = chain.separator.replace("'", "''")
    text = " || ".join(f"{name} || '{separator}'" for name in chain.columns)
    run = "run" if "run" in source.columns(chain.table) else "''"
    found: list[tuple[Any, ...]] = []
    for rows in chained.selects(chain.table):
        query = _BREAKS.format(text=text, run=run, rows=rows, digits=chain.digits)
        found += chained.connection.execute(query).fetchall()
    columns: Table = {
        "gauge": _codes(source, "gauge", [row[0] for row in found], chained.connection),
        "run": _codes(source, "run", [row[1] for row in found], chained.connection),
        "seq_lo": np.array([row[2] for row in found], dtype=np.int64),
        "seq_hi": np.array([row[3] for row in found], dtype=np.int64),
        "source": np.full(len(found), chain.table == "captures", dtype=np.int8),
    }
    store.add("breaks", {name: values[:0] for name, values in columns.items()})
    store.add("breaks", columns)
    store.flush()


def _codes(source: Source, column: str, texts: list[str], connection: Any) -> Ints:
    """The numbers of names, as the source gives them."""
    return np.array([_code(source, column, text, connection) for text in texts], dtype=np.int64)


def _code(source: Source, column: str, text: str, connection: Any) -> int:
    if not text:
        return -1
    if text.lstrip("-").isdigit() and len(text) < 19:
        whole = int(text) if int(text) >= 0 else int(text) - 1
        try:
            if source.names(column, np.array([whole])) == [text]:
                return whole
        except KeyError:  # a text that looks like a number, in a column of texts
            pass
    (code,) = connection.execute("SELECT CAST(hash(?) >> 1 AS BIGINT)", [text]).fetchone()
    return int(code)

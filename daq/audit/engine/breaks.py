"""Where the chain of a foreign log is broken: a row whose link does not follow from the one before.

Every row carries its link, so each is held against the row before it by itself: one break does not
make all rows after it look broken.
"""

from typing import Any, cast

import numpy as np

from daq.audit.engine.store import Store
from daq.audit.intake.mapping import ChainFrom
from daq.audit.intake.quoting import literal
from daq.audit.kernel import Table
from daq.audit.layout import TABLES, Column
from daq.audit.source import Ints, Source

_BREAKS = """
WITH told AS (
  SELECT gauge, {run} AS run, seq, {of_link}, {of_row} FROM ({rows}) AS log
), followed AS (
  SELECT *, lag(seq) OVER w AS seq_before, {due} FROM told
  WINDOW w AS (PARTITION BY gauge ORDER BY seq)
)
SELECT gauge, run, coalesce(seq_before, seq) AS seq_lo, seq AS seq_hi
FROM followed
WHERE (due_0 IS NOT NULL AND ({is_other}))
   OR (due_0 IS NULL AND seq = 1 AND ({is_no_first}))
"""

_AT_ONCE = 16
"""Hex digits that make a 64-bit number: what is compared from row to row is numbers, not text."""


def _query(chain: ChainFrom, rows: str, run: str) -> str:
    """SQL for the breaks among ``rows``, which is SQL as well; ``run`` is SQL for the run."""
    table, separator = TABLES[chain.table], literal(chain.separator)
    row = f"concat({', '.join(f'{name}, {separator}' for name in chain.columns)}, link)"
    maybe = [f"{name} IS NULL" for name in chain.columns if _may_lack(table.column(name))]
    digest = f"sha256({row})"
    if maybe:
        digest = f"CASE WHEN {' OR '.join(maybe)} THEN NULL ELSE {digest} END"
    firsts = range(1, chain.digits + 1, _AT_ONCE)
    places = range(len(firsts))
    of_link = [_number("link", first, chain.digits) for first in firsts]
    # What is longer or shorter is no number that a row could have.
    of_link[0] = f"CASE WHEN strlen(link) = {chain.digits} THEN {of_link[0]} END"
    of_row = [_number(digest, first, chain.digits) for first in firsts]
    return _BREAKS.format(
        rows=rows,
        run=run,
        of_link=", ".join(f"{sql} AS link_{i}" for i, sql in enumerate(of_link)),
        of_row=", ".join(f"{sql} AS row_{i}" for i, sql in enumerate(of_row)),
        due=", ".join(f"lag(row_{i}) OVER w AS due_{i}" for i in places),
        is_other=" OR ".join(f"link_{i} IS DISTINCT FROM due_{i}" for i in places),
        is_no_first=" OR ".join(f"link_{i} IS DISTINCT FROM 0" for i in places),
    )


def _may_lack(column: Column) -> bool:
    """Whether a row may have no value; of text that is an empty one."""
    return column.nullable and column.kind != "text"


def _number(sql: str, first: int, digits: int) -> str:
    """SQL for the hex digits of a text from one on, as a number; null if they are none."""
    count = min(_AT_ONCE, digits - first + 1)
    return f"TRY_CAST('0x' || substr({sql}, {first}, {count}) AS UBIGINT)"


def add_breaks(store: Store, source: Source) -> None:
    """Makes the table ``breaks``: ``gauge, run, seq_lo, seq_hi, source``.

    The break lies between the rows ``seq_lo`` and ``seq_hi``, or in one of them.
    """
    chained = cast(Any, source)
    chain: ChainFrom = chained.chain
    run = "run" if "run" in source.columns(chain.table) else "''"
    found: list[tuple[Any, ...]] = []
    for rows in chained.selects(chain.table):
        found += chained.connection.execute(_query(chain, rows, run)).fetchall()
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
    """The numbers of names, as the source gives them; every name is looked at once."""
    names = [text for text in dict.fromkeys(texts) if text]
    codes = {"": -1}
    if names and _is_whole(source, column, names[0]):
        codes |= {name: _whole(name) for name in names}
    elif names:
        hashed = "SELECT name, CAST(hash(name) >> 1 AS BIGINT) FROM (SELECT unnest(?) AS name)"
        codes |= dict(connection.execute(hashed, [names]).fetchall())
    return np.array([codes[text] for text in texts], dtype=np.int64)


def _is_whole(source: Source, column: str, name: str) -> bool:
    """Whether names of a column are whole numbers: all of them are, or all are texts."""
    if not name.lstrip("-").isdigit() or len(name) >= 19:
        return False
    try:
        return source.names(column, np.array([_whole(name)])) == [name]
    except KeyError:  # a text that looks like a number
        return False


def _whole(name: str) -> int:
    number = int(name)
    return number if number >= 0 else number - 1  # -1 stands for a missing name

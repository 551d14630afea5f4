"""What DuckDB finds as arrays over its own memory: right, and never longer gone than they are."""

import gc

import duckdb
import numpy as np
import pytest

from daq.audit.intake import arrow
from daq.audit.intake.arrow import arrays, batches, cut_into, is_offered, streamed

N = 300_000
QUERY = f"""
SELECT i AS a, (i % 100)::TINYINT AS b, i::INTEGER AS c, (i % 60000)::USMALLINT AS d
FROM range({N}) t(i)
"""


@pytest.fixture
def connection():
    with duckdb.connect() as made:
        made.execute("SET threads = 1")
        if not is_offered(made.sql("SELECT 1")):
            pytest.skip("this DuckDB gives no streams")
        yield made


@pytest.fixture
def released(monkeypatch):
    """How many batches were let go of."""
    counts = []
    let_go = arrow._let_go

    def counted(batch):
        counts.append(batch.length)
        let_go(batch)

    monkeypatch.setattr(arrow, "_let_go", counted)
    return counts


def test_columns_come_as_they_are_and_in_their_own_width(connection):
    found = arrays(connection, QUERY)
    assert [str(each.dtype) for each in found.values()] == ["int64", "int8", "int32", "uint16"]
    rows = np.arange(N)
    assert np.array_equal(found["a"], rows)
    assert np.array_equal(found["b"], rows % 100)
    assert np.array_equal(found["c"], rows)
    assert np.array_equal(found["d"], rows % 60000)


def test_the_same_without_a_stream(connection, monkeypatch):
    told = arrays(connection, QUERY)
    monkeypatch.setattr(arrow, "is_offered", lambda _: False)
    for name, values in arrays(connection, QUERY).items():
        assert values.dtype == told[name].dtype
        assert np.array_equal(values, told[name])


def test_of_no_rows_there_are_the_columns(connection):
    found = arrays(connection, f"SELECT * FROM ({QUERY}) WHERE a < 0")
    assert {name: values.size for name, values in found.items()} == dict.fromkeys("abcd", 0)


def test_an_array_outlives_its_batch_the_stream_and_the_connection(released):
    connection = duckdb.connect()
    parts = list(batches(connection.sql(QUERY)))
    assert len(parts) > 1
    kept = [part["a"][7:11] for part in parts]
    del parts
    connection.close()
    gc.collect()
    # Others may take the memory, if it were given back.
    others = [np.full(1 << 17, -1) for _ in range(50)]
    assert released == []
    for first, values in zip((each[0] for each in kept), kept, strict=True):
        assert values.tolist() == list(range(first, first + 4))
    assert len(others) == 50


def test_a_batch_is_let_go_of_once_when_its_last_array_is_gone(connection, released):
    parts = batches(connection.sql(QUERY))
    part = next(parts)
    size = part["a"].size
    last = part["c"][-1:]
    del part
    gc.collect()
    assert released == []
    del last
    gc.collect()
    assert released == [size]
    rest = sum(each["a"].size for each in parts)
    gc.collect()
    assert sum(released) == size + rest == N


def test_nobody_writes_into_what_is_duckdbs(connection):
    with pytest.raises(ValueError, match="read-only"):
        next(batches(connection.sql(QUERY)))["a"][0] = 1


@pytest.mark.parametrize("place", [0, 1, 8, 2047, N - 1])
def test_a_missing_value_is_refused(connection, place):
    query = f"SELECT i AS a, CASE WHEN i <> {place} THEN i END AS b FROM range({N}) t(i)"
    with pytest.raises(ValueError, match="b has missing values"):
        arrays(connection, query)


@pytest.mark.parametrize("sql", ["'text'", "1.5::DOUBLE", "true", "1::UBIGINT", "1::HUGEINT"])
def test_what_is_no_whole_number_is_refused(connection, sql):
    with pytest.raises(TypeError, match="odd is no column of whole numbers"):
        arrays(connection, f"SELECT {sql} AS odd")


def test_an_error_while_reading_is_told(connection):
    query = (
        f"SELECT CASE WHEN i = {N - 1} THEN error('broken') ELSE i END AS a FROM range({N}) t(i)"
    )
    with pytest.raises(duckdb.Error, match="broken"):
        arrays(connection, query)


def test_a_stream_may_be_left_and_the_connection_asked_meanwhile(connection, released):
    parts = streamed(connection, QUERY)
    first = next(parts)
    assert connection.execute("SELECT 42").fetchall() == [(42,)]
    parts.close()
    assert first["a"][:3].tolist() == [0, 1, 2]
    del first, parts
    gc.collect()
    assert len(released) == 1
    assert arrays(connection, "SELECT 1 AS a")["a"].tolist() == [1]


@pytest.mark.parametrize("sizes", [[N], [1, N - 1], [0, 5, 0, N - 5], [N // 7] * 7 + [N % 7], [3]])
def test_parts_are_cut_anew(connection, sizes):
    found = list(cut_into(streamed(connection, QUERY), sizes))
    assert [each["a"].size for each in found] == sizes
    rows = np.arange(sum(sizes))
    assert np.array_equal(np.concatenate([each["a"] for each in found]), rows)
    assert np.array_equal(np.concatenate([each["b"] for each in found]), rows % 100)

"""The columns of an exported file as packed numbers: the digest is that of the rows as they are."""

import duckdb
import numpy as np
import pytest

from daq.audit.export import packing
from daq.audit.export.chain import digest_of
from daq.audit.export.packing import connected, opened_file
from daq.audit.export.writing import write_table
from daq.audit.layout import CHECKS, NULL

ROWS = 5000
NAMES = ["", "a", "A", "ä", "b" * 300, "10", "9", "𝄞", "\ue000"]


@pytest.fixture
def columns():
    """Checks of gauges: names in runs and at random, with missing numbers and missing names."""
    rng = np.random.default_rng(5)
    columns = {
        each.name: rng.choice(NAMES, ROWS).tolist()
        if each.kind == "text"
        else rng.choice([NULL, -1, 0, 2**62, 7], ROWS).tolist()
        for each in CHECKS.columns
    }
    columns["gauge"] = [f"G-{place // 70}" for place in range(ROWS)]
    columns["at_us"] = list(range(ROWS))
    columns["checked"] = ["held"] * ROWS
    return columns


def of_file(path):
    with connected() as connection, opened_file(connection, path, CHECKS) as file:
        return digest_of(CHECKS, file.columns())


@pytest.mark.parametrize("form", ["parquet", "csv", "jsonl"])
def test_the_digest_of_a_file_is_that_of_its_rows(tmp_path, columns, form):
    path = tmp_path / f"checks.{form}"
    write_table(CHECKS, columns, path)
    assert of_file(path) == digest_of(CHECKS, columns)


@pytest.mark.parametrize("group", [100, 2048, 100_000])
def test_how_the_file_was_packed_does_not_change_it(tmp_path, columns, group):
    write_table(CHECKS, columns, tmp_path / "a.parquet")
    duckdb.sql(
        f"COPY (SELECT * FROM '{tmp_path}/a.parquet') TO '{tmp_path}/b.parquet' "
        f"(FORMAT parquet, ROW_GROUP_SIZE {group}, DICTIONARY_SIZE_LIMIT 3)"
    )
    assert of_file(tmp_path / "b.parquet") == digest_of(CHECKS, columns)


def test_a_missing_name_and_an_empty_one_are_the_same(tmp_path, columns):
    write_table(CHECKS, columns, tmp_path / "a.parquet")
    duckdb.sql(
        "COPY (SELECT * REPLACE (CASE WHEN job = '' AND value_nm = 7 THEN NULL ELSE job END AS job)"
        f" FROM '{tmp_path}/a.parquet') TO '{tmp_path}/b.parquet' (FORMAT parquet)"
    )
    assert of_file(tmp_path / "b.parquet") == digest_of(CHECKS, columns)


def test_two_rows_exchanged_or_a_name_moved_is_another_digest(tmp_path, columns):
    before = digest_of(CHECKS, columns)
    for name in ("gauge", "operator", "value_nm"):
        edited = {**columns, name: [*columns[name]]}
        other = next(i for i, each in enumerate(columns[name]) if each != columns[name][0])
        edited[name][0], edited[name][other] = edited[name][other], edited[name][0]
        write_table(CHECKS, edited, tmp_path / "a.parquet")
        assert of_file(tmp_path / "a.parquet") == digest_of(CHECKS, edited) != before


def test_names_that_share_a_hash_are_told_apart(tmp_path, columns, monkeypatch):
    write_table(CHECKS, columns, tmp_path / "a.parquet")
    monkeypatch.setattr(packing, "_hash", lambda name: f"CAST(strlen({name}) AS BIGINT)")
    assert of_file(tmp_path / "a.parquet") == digest_of(CHECKS, columns)


def test_a_file_without_rows_has_a_digest_too(tmp_path):
    none = {name: [] for name in CHECKS.names}
    write_table(CHECKS, none, tmp_path / "a.parquet")
    assert of_file(tmp_path / "a.parquet") == digest_of(CHECKS, none)

"""What the statistics of a Parquet file say is believed where it is exact, and nowhere else."""

import struct

import duckdb
import pytest

from daq.audit.intake import mapping_from
from daq.audit.intake.known import known_of, rows_in
from tests.daq.audit.intake.foreign import columns, points_mapping, source, told, write_parquet

PARQUET = points_mapping("*.parquet", "parquet")

ROWS = """
SELECT i // 200 AS "Gauge", i // 22 AS "Run", i % 200 + 1 AS "No",
  TIMESTAMP '2026-03-01' + INTERVAL (i) SECOND AS "When", 5.0::DOUBLE AS "Nominal",
  5.0001::DOUBLE AS "Reference",
  CASE i WHEN 777 THEN {reading} ELSE (i % 100) / 100 END::DOUBLE AS "Reading",
  'before' AS "State", 'op' AS "By" FROM range(2000) t(i)
"""


def test_no_number_is_found_where_statistics_leave_it_out(tmp_path):
    """Other writers leave what is no number out of them; a filter of DuckDB passes over it then."""
    path = tmp_path / "a.parquet"
    marked = 0.123456789
    with duckdb.connect() as connection:
        connection.execute(
            f"COPY ({ROWS.format(reading=marked)}) TO '{path}' "
            "(FORMAT parquet, COMPRESSION uncompressed)"
        )
    raw = path.read_bytes()
    assert raw.count(struct.pack("<d", marked)) == 1
    nan = struct.pack("<d", float("nan"))
    path.write_bytes(raw.replace(struct.pack("<d", marked), nan))
    with source(tmp_path, PARQUET) as found:
        why = "is empty, or no number that fits"
        assert told(found) == [("a.parquet", 778, "Reading", why)]
        assert found.rows("points") == 1999
        got = columns(found, "points", "seq", "indicated_nm")
        assert len(got["seq"]) == 1999
        assert min(got["indicated_nm"]) == 0


def test_no_number_is_found_where_all_others_are_one_number(tmp_path):
    """Of such a row group DuckDB asks the one number, and passes over the group."""
    path = tmp_path / "a.parquet"
    usual, marked = 0.5, 0.923456789
    query = ROWS.replace("(i % 100) / 100", str(usual)).format(reading=marked)
    with duckdb.connect() as connection:
        connection.execute(f"COPY ({query}) TO '{path}' (FORMAT parquet, COMPRESSION uncompressed)")
    raw = path.read_bytes()
    footer = len(raw) - 8 - int.from_bytes(raw[-8:-4], "little")
    old, nan, same = (struct.pack("<d", each) for each in (marked, float("nan"), usual))
    assert raw.count(old, 0, footer) == 1
    assert raw.count(old, footer) >= 1
    path.write_bytes(raw[:footer].replace(old, nan) + raw[footer:].replace(old, same))
    with source(tmp_path, PARQUET) as found:
        why = "is empty, or no number that fits"
        assert told(found) == [("a.parquet", 778, "Reading", why)]
        assert found.rows("points") == 1999
        got = columns(found, "points", "indicated_nm")["indicated_nm"]
        assert set(got) == {500_000}
        assert len(got) == 1999


@pytest.mark.parametrize("reading", ["'-inf'", "'inf'", "1e13", "-1e13", "NULL"])
def test_a_length_that_is_none_is_found(tmp_path, reading):
    write_parquet(tmp_path / "a.parquet", ROWS.format(reading=f"{reading}::DOUBLE"))
    with source(tmp_path, PARQUET) as found:
        assert [each[1] for each in told(found)] == [778]
        assert found.rows("points") == 1999


OWN = """
SELECT 'G' || (i // 100) AS gauge, 'R' AS run, i % 100 + 1 AS seq, {at} AS at_us, {found} AS found,
  1000 AS nominal_nm, 1000 AS reference_nm, {reading} AS indicated_nm FROM range(500) t(i)
"""


@pytest.mark.parametrize(
    ("name", "odd"),
    [
        ("at", "NULL"),
        ("at", "253402300800000000"),
        ("at", "-2208988800000001"),
        ("found", "'left'"),
        ("reading", "NULL"),
    ],
)
def test_a_bad_row_of_the_open_format_is_found(tmp_path, name, odd):
    sound = {"at": "1000000 * i", "found": "'as left'", "reading": "1000 + i"}
    cell = {**sound, name: f"CASE WHEN i = 321 THEN {odd} ELSE {sound[name]} END"}
    write_parquet(tmp_path / "points.parquet", OWN.format(**cell))
    with source(tmp_path) as found:
        assert [each[1] for each in told(found)] == [322]
        assert found.rows("points") == 499
    write_parquet(tmp_path / "points.parquet", OWN.format(**sound))
    with source(tmp_path) as found:
        assert not found.rejects
        assert found.rows("points") == 500


def test_what_is_known_of_columns(tmp_path):
    path = tmp_path / "a.parquet"
    write_parquet(
        path,
        "SELECT i AS whole, CASE WHEN i > 3 THEN i END AS some, 'x' || i AS filled, "
        "CASE WHEN i = 3 THEN '' ELSE 'x' END AS text FROM range(10) t(i)",
    )
    with duckdb.connect() as connection:
        known = known_of(connection, path)
        assert rows_in(connection, path) == 10
    assert known["whole"].is_within(0, 9)
    assert not known["whole"].is_within(1, 9)
    assert not known["whole"].is_within(0, 8)
    assert not known["some"].is_within(0, 9)
    assert known["filled"].is_filled()
    assert not known["text"].is_filled()


def test_names_below_zero_are_told_apart_from_missing_ones(tmp_path):
    by = "CASE WHEN i = 1 THEN -1 WHEN i = 2 THEN NULL ELSE i - 5 END"
    query = OWN.format(at="i", found="'as found'", reading="i").replace(
        "AS seq,", f"AS seq, {by} AS operator,"
    )
    write_parquet(tmp_path / "points.parquet", query)
    with source(tmp_path) as found:
        codes = columns(found, "points", "operator")["operator"]
        assert codes[:7] == [-6, -2, -1, -3, -2, 0, 1]


def test_the_site_is_what_the_rows_say_and_not_the_folder(tmp_path):
    folder = tmp_path / "points" / "site=elsewhere"
    folder.mkdir(parents=True)
    query = OWN.format(at="i", found="'as found'", reading="i")
    write_parquet(folder / "1.parquet", query.replace("AS run,", "AS run, 'here' AS site,"))
    with source(tmp_path) as found:
        (block,) = found.blocks("points", ["site"])
        assert set(found.names("site", block["site"])) == {"here"}


def test_a_folder_is_no_column(tmp_path):
    folder = tmp_path / "site=elsewhere"
    folder.mkdir(parents=True)
    write_parquet(folder / "points.parquet", OWN.format(at="i", found="'as found'", reading="i"))
    with source(tmp_path) as found:
        assert "site" not in found.columns("points")


def test_rows_of_a_file_in_order_go_on_where_they_were_left(tmp_path):
    query = OWN.format(at="i", found="'as found'", reading="i").replace(
        "'G' || (i // 100)", "i // 10"
    )
    write_parquet(tmp_path / "points.parquet", query.replace("i % 100", "i % 10"))
    with source(tmp_path, block_rows=35) as found:
        blocks = [block["gauge"].tolist() for block in found.blocks("points", ["gauge"])]
        assert [len(each) for each in blocks] == [30] * 16 + [20]
        assert found.block_count("points") == 17
        for skip in (0, 1, 16, 17, 18):
            rest = [
                block["gauge"].tolist() for block in found.blocks("points", ["gauge"], skip=skip)
            ]
            assert rest == blocks[skip:]


def test_a_mapping_may_name_no_folder(tmp_path):
    text = """
[mapping]
format = 1
[gauges]
files = "**/*.parquet"
format = "parquet"
[gauges.columns]
gauge = "g"
site = "site"
"""
    folder = tmp_path / "site=elsewhere"
    folder.mkdir()
    write_parquet(folder / "a.parquet", "SELECT 1 AS g")
    with source(tmp_path, mapping_from(text.encode(), "mapping.toml")) as found:
        assert 'it has no column "site"' in next(found.rejects.words())

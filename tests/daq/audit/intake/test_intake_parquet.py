"""Foreign Parquet: read where it lies, sorted only if need be, and what cannot be read is told."""

import numpy as np
import pytest

from daq.audit.intake import mapping_from
from daq.audit.layout import NULL
from tests.daq.audit.intake.foreign import columns, points_mapping, source, told, write_parquet

ROWS = """
SELECT {gauge} AS "Gauge", i // 22 AS "Run", i % 200 + 1 AS "No",
  TIMESTAMP '2026-03-01' + INTERVAL (i) SECOND AS "When", 5.0::DOUBLE AS "Nominal",
  5.0001::DOUBLE AS "Reference", {reading} AS "Reading", 'before' AS "State",
  'op' || (i % 7) AS "By"
  FROM range({n}) t(i) {order}
"""


def rows(gauge="i // 200", reading="5.001::DOUBLE", n=2000, order=""):
    return ROWS.format(gauge=gauge, reading=reading, n=n, order=order)


PARQUET = points_mapping("*.parquet", "parquet")


def test_floats_come_to_the_nearest_whole_nanometre(tmp_path):
    reading = "list_extract([0.1 + 0.2, 12.3456, -0.0000005, 0.0000015, 149.999999], i + 1)::DOUBLE"
    write_parquet(tmp_path / "a.parquet", rows(reading=reading, n=5))
    with source(tmp_path, PARQUET) as found:
        got = columns(found, "points", "indicated_nm", "at_us")
        assert got["indicated_nm"] == [300_000, 12_345_600, 0, 2, 149_999_999]
        assert np.diff(got["at_us"]).tolist() == [1_000_000] * 4


def test_what_is_no_number_is_rejected_by_its_row(tmp_path):
    reading = (
        "CASE i WHEN 3 THEN 'nan'::DOUBLE WHEN 4 THEN 'inf'::DOUBLE WHEN 7 THEN 1e14 "
        "WHEN 8 THEN NULL ELSE 5.0::DOUBLE END"
    )
    write_parquet(tmp_path / "a.parquet", rows(reading=reading, n=10))
    with source(tmp_path, PARQUET) as found:
        assert found.rows("points") == 6
        assert columns(found, "points", "seq")["seq"] == [1, 2, 3, 6, 7, 10]
        why = "is empty, or no number that fits"
        assert told(found) == [("a.parquet", n, "Reading", why) for n in (4, 5, 8, 9)]
        assert found.rejects.count == 4


def test_a_truncated_file_is_lost_as_a_whole_and_the_others_are_read(tmp_path):
    write_parquet(tmp_path / "a.parquet", rows(n=500))
    write_parquet(tmp_path / "b.parquet", rows(gauge="100 + i // 200", n=500))
    whole = (tmp_path / "a.parquet").read_bytes()
    for cut in (len(whole) // 2, len(whole) - 1, 3, 0):
        (tmp_path / "a.parquet").write_bytes(whole[:cut])
        with source(tmp_path, PARQUET) as found:
            assert found.rows("points") == 500
            (lost,) = found.rejects.lost_files
            assert lost.file.endswith("a.parquet")
            assert "is no whole Parquet file" in lost.reason


def test_blocks_are_of_whole_gauges_in_order_and_the_same_at_every_call(tmp_path):
    write_parquet(tmp_path / "a.parquet", rows(n=20_000))
    with source(tmp_path, PARQUET, block_rows=3000) as found:
        blocks = list(found.blocks("points", ["gauge", "seq", "run"]))
        assert [len(each["seq"]) for each in blocks] == [3000] * 6 + [2000]
        assert len(blocks) == found.block_count("points")
        for block in blocks:
            assert sorted(set(block["gauge"].tolist())) == list(dict.fromkeys(block["gauge"]))
            assert block["seq"].tolist() == [*range(1, 201)] * (len(block["seq"]) // 200)
        again = list(found.blocks("points", ["gauge", "seq", "run"], skip=5))
        assert all((a["run"] == b["run"]).all() for a, b in zip(again, blocks[5:], strict=True))


@pytest.mark.parametrize("gauge", ["i // 200", "'G-' || (i // 200)"])
def test_a_large_file_in_order_of_arrival_is_sorted_and_that_is_said(tmp_path, gauge):
    write_parquet(tmp_path / "a.parquet", rows(gauge, n=300_000, order="ORDER BY hash(i)"))
    with source(tmp_path, PARQUET, block_rows=100_000) as found:
        (note,) = found.notes
        assert note.endswith("a.parquet is not in the order of gauge and seq; it was sorted")
        seen = 0
        for block in found.blocks("points", ["gauge", "seq"]):
            seen += len(block["seq"])
            assert block["seq"].tolist() == [*range(1, 201)] * (len(block["seq"]) // 200)
            assert np.count_nonzero(np.diff(block["gauge"])) == len(block["seq"]) // 200 - 1
        assert seen == 300_000


def test_a_large_file_in_order_is_read_where_it_lies(tmp_path):
    write_parquet(tmp_path / "a.parquet", rows(n=300_000))
    with source(tmp_path, PARQUET, block_rows=100_000) as found:
        assert found.notes == []
        assert sum(len(each["seq"]) for each in found.blocks("points", ["seq"])) == 300_000


def test_a_gauge_that_is_in_two_files_is_in_one_block(tmp_path):
    write_parquet(tmp_path / "a.parquet", rows(n=1000))
    write_parquet(tmp_path / "b.parquet", rows(gauge="4 + i // 200", n=400))
    write_parquet(tmp_path / "c.parquet", rows(gauge="50 + i // 200", n=400))
    with source(tmp_path, PARQUET, block_rows=400) as found:
        blocks = [each["gauge"].tolist() for each in found.blocks("points", ["gauge"])]
        assert sum(map(len, blocks)) == 1800
        for gauge in {g for block in blocks for g in block}:
            assert sum(gauge in block for block in blocks) == 1
        assert max(block.count(4) for block in blocks) == 400


def test_a_name_has_the_same_number_in_every_table_and_comes_back_as_text(tmp_path):
    write_parquet(tmp_path / "a.parquet", rows("'G-' || (i // 200)", n=1000))
    write_parquet(tmp_path / "gauges.parquet", "SELECT 'G-3' AS label, 'H' AS place")
    table = """
        [gauges]
        files = "gauges.parquet"
        format = "parquet"
        columns = { gauge = "label", site = "place" }
    """
    mapping = points_mapping("a.parquet", "parquet").model_copy(
        update={"gauges": mapping_from(b"[mapping]\nformat = 1\n" + table.encode(), "m").gauges}
    )
    with source(tmp_path, mapping) as found:
        (code,) = found.small("gauges")["gauge"].tolist()
        block = next(found.blocks("points", ["gauge", "operator"]))
        assert np.count_nonzero(block["gauge"] == code) == 200
        assert found.names("gauge", np.array([code, -1])) == ["G-3", ""]
        operators = found.names("operator", np.unique(block["operator"]))
        assert sorted(operators) == [f"op{n}" for n in range(7)]


def test_whole_numbers_for_names_stand_for_themselves_below_zero_too(tmp_path):
    write_parquet(tmp_path / "a.parquet", rows("i // 5 - 2", n=20))
    with source(tmp_path, PARQUET) as found:
        codes = np.unique(next(found.blocks("points", ["gauge"]))["gauge"])
        assert -1 not in codes.tolist()
        assert sorted(found.names("gauge", codes)) == ["-1", "-2", "0", "1"]


def test_text_in_parquet_is_taken_apart_row_by_row_and_exactly(tmp_path):
    reading = "CASE i WHEN 2 THEN 'x' ELSE '5.0000005' END"
    write_parquet(tmp_path / "a.parquet", rows(reading=reading, n=4))
    with source(tmp_path, PARQUET) as found:
        assert columns(found, "points", "indicated_nm")["indicated_nm"] == [5_000_000] * 3
        assert told(found) == [("a.parquet", 3, "Reading", "is not a number")]


def test_a_row_can_be_found_again_in_the_file_it_came_from(tmp_path):
    write_parquet(tmp_path / "a.parquet", rows(n=400, order="ORDER BY i DESC"))
    with source(tmp_path, PARQUET) as found:
        places = found.where("points", 0, 3, 4)
        assert [(each.seq, each.line) for each in places] == [(3, 398), (4, 397)]


def test_memory_is_bounded_and_working_files_are_taken_away(tmp_path):
    write_parquet(tmp_path / "a.parquet", rows(n=300_000, order="ORDER BY hash(i)"))
    work = tmp_path / "work"
    work.mkdir()
    limits = {"memory_mb": 64, "block_rows": 50_000, "folder": work}
    with source(tmp_path, PARQUET, **limits) as found:
        assert found.rows("points") == 300_000
        assert any(work.iterdir())
    assert not any(work.iterdir())


def test_a_column_that_some_files_lack_is_missing_there_and_that_is_said(tmp_path):
    own = (
        "SELECT 'G' AS gauge, i AS seq, 'r' AS run, i AS at_us, 0 AS nominal_nm, "
        "0 AS reference_nm, i AS indicated_nm"
    )
    (tmp_path / "points").mkdir()
    write_parquet(tmp_path / "points" / "a.parquet", f"{own} FROM range(3) t(i)")
    more = f"{own}, 7 AS u_reference_nm FROM range(3, 5) t(i)"
    write_parquet(tmp_path / "points" / "b.parquet", more)
    with source(tmp_path) as found:
        got = columns(found, "points", "seq", "u_reference_nm")
        assert got == {"seq": [0, 1, 2, 3, 4], "u_reference_nm": [NULL, NULL, NULL, 7, 7]}
        (note,) = found.notes
        assert note.endswith("a.parquet has no u_reference_nm, as others have")
        assert "link" not in found.columns("points")
        assert found.columns("captures") == ()

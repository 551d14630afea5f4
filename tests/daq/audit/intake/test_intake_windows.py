"""Rows within windows of gauge and time: the very ones, in order, from files of any make."""

import numpy as np
import pytest

from daq.audit.intake.windows import Windows
from daq.audit.layout import NULL
from tests.daq.audit.intake.foreign import (
    csv_text,
    points_mapping,
    row,
    source,
    write_parquet,
)

PARQUET = points_mapping("*.parquet", "parquet")
T0_US = 1_772_323_200_000_000
S = 1_000_000
EVER = 2**63 - 1
COLUMNS = ("indicated_nm", "operator", "found")

ROWS = """
SELECT {gauge} AS "Gauge", 1 AS "Run", i % 200 + 1 AS "No",
  TIMESTAMP '2026-03-01' + INTERVAL (i) SECOND AS "When", 5.0::DOUBLE AS "Nominal",
  5.0::DOUBLE AS "Reference", {reading}::DOUBLE AS "Reading", 'before' AS "State",
  CASE WHEN i % 2 = 0 THEN 'op' || (i % 7) END AS "By"
  FROM range(2000) t(i) ORDER BY i DESC
"""


def windows(*given):
    gauge, after_s, until_s = zip(*given, strict=True)
    ends = [EVER if s is None else T0_US + s * S for s in until_s]
    return Windows(gauge, T0_US + S * np.array(after_s), np.array(ends))


@pytest.mark.parametrize("prefix", ["", "G-"])
def test_the_rows_after_the_start_up_to_the_end_are_given_window_by_window(tmp_path, prefix):
    gauge = f"'{prefix}' || (i // 200)" if prefix else "i // 200"
    write_parquet(tmp_path / "a.parquet", ROWS.format(gauge=gauge, reading="i / 1000"))
    wanted = windows((f"{prefix}7", 1410, 1413), (f"{prefix}2", 597, None), (f"{prefix}7", 0, 9))
    with source(tmp_path, PARQUET) as found:
        rows = found.within("points", COLUMNS, wanted)
    assert rows["place"].tolist() == [0, 0, 0, 1, 1]
    assert rows["seq"].tolist() == [12, 13, 14, 199, 200]
    assert rows["indicated_nm"].tolist() == [n * 1000 for n in (1411, 1412, 1413, 598, 599)]
    assert rows["operator"].tolist() == ["", "op5", "", "op3", ""]
    assert set(rows["found"].tolist()) == {"as found"}


def test_windows_of_one_gauge_may_overlap_and_a_row_is_in_each(tmp_path):
    write_parquet(tmp_path / "a.parquet", ROWS.format(gauge="'G'", reading="i"))
    with source(tmp_path, PARQUET) as found:
        rows = found.within("points", (), windows(("G", 3, 5), ("G", 4, 6), ("H", 0, None)))
    assert rows["place"].tolist() == [0, 0, 1, 1]
    assert ((rows["at_us"] - T0_US) // S).tolist() == [4, 5, 5, 6]


def test_a_row_that_was_rejected_is_in_no_window(tmp_path):
    reading = "CASE WHEN i = 411 THEN 'nan'::DOUBLE ELSE i END"
    write_parquet(tmp_path / "a.parquet", ROWS.format(gauge="i // 200", reading=reading))
    with source(tmp_path, PARQUET) as found:
        assert found.within("points", (), windows(("2", 409, 413)))["seq"].tolist() == [11, 13, 14]
        assert found.rejects.count == 1


def test_files_that_differ_are_read_together(tmp_path):
    (tmp_path / "a.csv").write_text(csv_text([row(1, "7"), row(2, "7", reading="-0.5")]))
    (tmp_path / "b.csv").write_text(csv_text([row(1, "G-1"), row(3, "7", by="")]))
    with source(tmp_path, points_mapping()) as found:
        rows = found.within("points", COLUMNS, windows(("7", 0, None), ("G-1", 0, None)))
    assert rows["place"].tolist() == [0, 0, 0, 1]
    assert rows["seq"].tolist() == [1, 2, 3, 1]
    assert rows["indicated_nm"].tolist() == [5_001_000, -500_000, 5_001_000, 5_001_000]
    assert rows["operator"].tolist() == ["A. Fitter", "A. Fitter", "", "A. Fitter"]


def test_a_missing_number_is_the_least_there_is(tmp_path):
    write_parquet(
        tmp_path / "captures.parquet",
        "SELECT 'G' AS gauge, 1 AS seq, 5 AS at_us, 7 AS value_nm, NULL::BIGINT AS lower_nm",
    )
    with source(tmp_path) as found:
        ever = Windows(["G"], np.array([0]), np.array([EVER]))
        rows = found.within("captures", ("value_nm", "lower_nm"), ever)
    assert (rows["value_nm"].tolist(), rows["lower_nm"].tolist()) == ([7], [NULL])

"""Exports that an earlier program wrote, before columns came to the layout: still whole and read.

They are kept in ``tests/data/exported_1``: two logbooks with invented content, as CSV and JSON
lines. They are never made anew.
"""

import shutil

import pytest

from daq.audit.engine import audit
from daq.audit.export import check_export
from daq.audit.intake import open_source
from daq.audit.rules import built_in
from tests.daq.audit.export.exported import DATA

LATER = {"points": {"certified_nm"}, "captures": {"asked_kind", "asked_step_nm", "asked_range_nm"}}


@pytest.mark.parametrize("form", ["csv", "jsonl"])
def test_an_earlier_export_is_whole_and_can_be_audited(form):
    folder = DATA / "exported_1" / form
    assert check_export(folder) == []
    with open_source([folder]) as source:
        for table, names in LATER.items():
            assert source.rows(table) > 0
            assert not names & {*source.columns(table)}
        result = audit(source, built_in())
        assert not source.rejects
    assert "reference-not-certified" not in {each.rule for each in result.not_run}
    why = {each.rule: each.why for each in result.not_run}
    assert why["not-what-was-asked"] == "needs the column captures.asked_kind"


@pytest.mark.parametrize("form", ["csv", "jsonl"])
def test_a_value_or_a_whole_column_that_was_taken_out_of_an_earlier_export_is_told(tmp_path, form):
    shutil.copytree(DATA / "exported_1" / form, tmp_path / "out")
    (file,) = tmp_path.glob(f"out/captures/*/*.{form}")
    whole = file.read_text("utf-8")
    column = "outcome" if form == "csv" else '"outcome"'
    file.write_text(whole.replace(column, column.replace("outcome", "another")), "utf-8")
    assert any("rows were edited" in each for each in check_export(tmp_path / "out"))
    file.write_text(whole.replace("bench 1", "bench 2", 1), "utf-8")
    told = check_export(tmp_path / "out")
    assert any("rows were edited" in each for each in told), told

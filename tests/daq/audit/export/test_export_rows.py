"""What a logbook's records come to in the open log format."""

import tomllib
from datetime import UTC, datetime
from decimal import Decimal

import pytest

from daq.audit.engine import audit
from daq.audit.export import export_log
from daq.audit.intake import open_source
from daq.audit.rules import built_in
from daq.logbook import Logbook
from daq.logbook.calibration import CalibrationResult
from daq.spec import length_mm
from tests.daq.audit.export.exported import kept, rows


def us(at):
    return round(at.timestamp()) * 1_000_000


def records(path, kind):
    with Logbook.read(path) as book:
        return [entry.record for entry in book.entries(kind=kind)]


def test_a_capture_has_its_own_limits_as_lengths_and_its_verdict(tmp_path):
    export_log(kept("1", tmp_path), tmp_path / "out")
    first, second, third = rows(tmp_path / "out", "captures")
    assert first["gauge"] == "G-17"
    assert first["site"] == "bench 2"
    assert first["value_nm"] == 12_339_667
    assert first["u_nm"] == 441
    assert (first["lower_nm"], first["upper_nm"]) == (12_200_000, 12_400_000)
    assert (second["lower_nm"], second["upper_nm"]) == (12_400_000, None)
    assert [each["outcome"] for each in (first, second, third)] == ["in", "low", ""]
    assert (third["lower_nm"], third["upper_nm"], third["feature"]) == (None, None, "")
    assert [each["seq"] for each in (first, second, third)] == [1, 2, 3]


def test_a_capture_of_a_job_says_which_and_has_the_limits_of_its_result(tmp_path):
    book = kept("jobs_1", tmp_path)
    export_log(book, tmp_path / "out")
    found = rows(tmp_path / "out", "captures")
    assert len(found) == len(records(book, "capture"))
    assert {each["job"] for each in found} == {"auxiliary 2 / Two cylinders"}
    singles = [each for each in found if each["feature"] == "height / injector 1"]
    # 42.60 ±0.05 mm is set over a mastering of 41.266 mm: 1.284 to 1.384 mm as the gauge reads.
    assert [(each["lower_nm"], each["upper_nm"]) for each in singles] == [
        (1_284_000, 1_384_000)
    ] * 3
    assert [each["outcome"] for each in singles] == ["high", "in", "in"]
    others = [each for each in found if each["feature"].startswith("clearance / intake 1")]
    assert {each["upper_nm"] for each in others} == {None}


def test_a_capture_of_a_job_says_what_its_sheet_asks_of_the_gauge(tmp_path):
    book = kept("jobs_1", tmp_path)
    export_log(book, tmp_path / "out")
    (job,) = records(book, "job")
    sheet = tomllib.loads(job.sheet_toml)
    of_role = {each["role"]: each for each in sheet["gauges"]}
    of_step = {each["name"]: of_role[each["gauge"]] for each in sheet["steps"]}
    found = rows(tmp_path / "out", "captures")
    assert {each["asked_range_nm"] for each in found} - {None}
    for each in found:
        gauge = of_step[each["feature"].split(" / ")[0]]
        assert each["asked_kind"] == gauge["kind"]
        assert each["asked_step_nm"] == length_mm(gauge["resolution"]) * 1_000_000
        assert each["asked_range_nm"] == length_mm(gauge["range"]) * 1_000_000


def test_a_capture_outside_any_job_is_asked_nothing(tmp_path):
    export_log(kept("1", tmp_path), tmp_path / "out")
    for each in rows(tmp_path / "out", "captures"):
        assert (each["asked_kind"], each["asked_step_nm"], each["asked_range_nm"]) == (
            "",
            None,
            None,
        )


def test_the_certified_length_of_a_point_is_worked_out_from_the_register(tmp_path):
    book = kept("calibration_1", tmp_path)
    export_log(book, tmp_path / "out")
    (standard,) = records(book, "standard")
    lengths = {each.nominal_mm: each.length_mm for each in standard.values}
    found = rows(tmp_path / "out", "points")
    single = [each for each in found if Decimal(each["nominal_nm"]) / 1_000_000 in lengths]
    assert single
    for each in single:
        length_mm_ = lengths[Decimal(each["nominal_nm"]) / 1_000_000]
        assert each["certified_nm"] == length_mm_ * 1_000_000
    assert all(each["certified_nm"] == each["reference_nm"] for each in found)


def test_a_reference_that_was_written_otherwise_than_certified_is_found(tmp_path):
    export_log(kept("calibration_1", tmp_path), tmp_path / "out", form="csv")
    rule = {each.id: each for each in built_in()}["reference-not-certified"]

    def told():
        with open_source([tmp_path / "out"]) as source:
            return audit(source, [rule]).findings

    assert told() == ()
    (file,) = tmp_path.glob("out/points/*/*.csv")
    header, *lines = file.read_text("utf-8").splitlines()
    at = header.split(",").index("reference_nm")
    cells = lines[2].split(",")
    cells[at] = str(int(cells[at]) + 400)
    lines[2] = ",".join(cells)
    file.write_text("\n".join([header, *lines]) + "\n", "utf-8")
    (found,) = told()
    assert found.score == 400
    assert found.gauge == "DI-7"


def test_a_check_on_the_master_is_a_row_of_checks(tmp_path):
    export_log(kept("jobs_1", tmp_path), tmp_path / "out")
    found = rows(tmp_path / "out", "checks")
    assert [each["checked"] for each in found] == ["held"] * 3
    assert found[0]["master_nm"] == found[0]["value_nm"] == 1_234_000
    assert [each["allowed_nm"] for each in found] == [5000, 5000, 4000]


def test_the_points_are_those_that_the_results_rest_on(tmp_path):
    book = kept("calibration_1", tmp_path)
    export_log(book, tmp_path / "out")
    found = rows(tmp_path / "out", "points")
    results: dict[tuple[str, str], CalibrationResult] = {
        (each.calibration, each.run): each for each in records(book, "calibration result")
    }
    expected = [
        (uid, run, point.nominal_mm, point.reference_mm, point.reading_mm)
        for (uid, run), result in results.items()
        for point in result.points
    ]
    nm = Decimal("1e-6")
    got = [
        (
            each["run"],
            each["found"],
            *(each[f"{n}_nm"] * nm for n in ("nominal", "reference", "indicated")),
        )
        for each in found
    ]
    assert sorted(got) == sorted(expected)
    assert [each["seq"] for each in found] == [*range(1, len(found) + 1)]
    times = [each["at_us"] for each in found]
    assert times == sorted(times)
    assert {each["temperature_mc"] for each in found} == {20_100}
    assert {each["standard"] for each in found} == {"blocks"}
    assert rows(tmp_path / "out", "captures") == []


def test_a_calibration_has_what_its_plan_asked_and_what_was_decided(tmp_path):
    export_log(kept("calibration_1", tmp_path), tmp_path / "out")
    first, second = rows(tmp_path / "out", "calibrations")
    assert (first["planned_up"], first["planned_down"], first["planned_repeats"]) == (4, 4, 5)
    assert (first["coldest_mc"], first["warmest_mc"]) == (19_000, 21_000)
    assert first["certificate"] == "DI-7-20260601-af69"
    assert (first["limit_nm"], first["found_error_nm"], first["left_error_nm"]) == (
        10_000,
        12_000,
        3000,
    )
    assert (first["found_expanded_nm"], first["left_expanded_nm"]) == (1781, 2565)
    assert (first["found_word"], first["left_word"]) == ("fail", "pass")
    assert (first["found_error_word"], first["left_error_word"]) == ("fail", "pass")
    assert first["due_us"] == us(
        datetime(2027, 6, 2, tzinfo=UTC)
    )  # due on 1 June, that day included
    assert (second["ended"], second["certificate"]) == ("broken off", "")
    assert (second["left_error_nm"], second["due_us"]) == (None, None)


def test_gauges_standards_and_certified_lengths_are_as_entered(tmp_path):
    export_log(kept("calibration_1", tmp_path), tmp_path / "out")
    (gauge,) = rows(tmp_path / "out", "gauges")
    assert gauge["gauge"] == "DI-7"
    assert gauge["site"] == "lab 1"
    assert (gauge["step_nm"], gauge["range_nm"], gauge["limit_nm"]) == (1000, 10_000_000, 10_000)
    assert (gauge["hysteresis_nm"], gauge["interval_days"]) == (4000, 365)
    (standard,) = rows(tmp_path / "out", "standards")
    assert standard["valid_from_us"] == us(datetime(2026, 1, 10, tzinfo=UTC))
    assert standard["valid_until_us"] == us(datetime(2028, 1, 11, tzinfo=UTC))
    lengths = rows(tmp_path / "out", "lengths")
    assert [each["length_nm"] - each["nominal_nm"] for each in lengths] == [20] * 5
    assert [each["u_nm"] for each in lengths] == [50] * 5


@pytest.mark.parametrize("name", ["1", "jobs_1", "calibration_1"])
def test_csv_and_json_lines_hold_the_same_rows_as_parquet_and_the_same_link(tmp_path, name):
    book = kept(name, tmp_path)
    done = {
        form: export_log(book, tmp_path / form, form=form) for form in ("parquet", "csv", "jsonl")
    }
    assert done["parquet"].rows == done["csv"].rows == done["jsonl"].rows
    assert done["parquet"].link == done["csv"].link == done["jsonl"].link
    for table in done["parquet"].rows:
        found = rows(tmp_path / "parquet", table)
        assert found == rows(tmp_path / "csv", table) == rows(tmp_path / "jsonl", table)


def test_a_site_that_is_given_is_the_site_of_all_rows_whatever_is_in_its_name(tmp_path):
    site = "Hall 3/é=%"
    done = export_log(kept("calibration_1", tmp_path), tmp_path / "out", site=site)
    assert {each["site"] for each in rows(tmp_path / "out", "points")} == {site}
    assert {each.parent.name for each in done.files} == {"site=Hall%203%2F%C3%A9%3D%25"}

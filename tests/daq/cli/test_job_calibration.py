"""What a job asks the register of its logbook, and what it keeps of the answer."""

import math
from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest

from daq.cli.job_calibration import ask_the_register, table_rows, worst_mm
from daq.jobs.keeping import KeptJob, kept_job
from daq.jobs.sheet import sheet_from_bytes
from daq.logbook import Logbook, Note, new_uid
from daq.logbook.calibration import CalibrationResult
from daq.logbook.register import StatusChanged
from tests.daq.calibration.guided.lab import Lab
from tests.daq.calibration.invented import gauge, plan
from tests.daq.jobs.fitter import begun
from tests.daq.jobs.test_job import SHEET

CALIBRATED = datetime(2026, 6, 1, 8, 0, tzinfo=UTC)
LATER = datetime(2026, 7, 1, 8, 0, tzinfo=UTC)
DEPTH = gauge(kind="depth gauge")
ON_A_PLATE = plan(('preload = "0.2 mm"\n', ""))


@pytest.fixture
def book(tmp_path):
    with Logbook.open(tmp_path / "a.logbook") as opened:
        yield opened


def a_job(book, label="DI-7", identity=""):
    """A job in whose role 'rack' a gauge serves."""
    first = begun(sheet_from_bytes(SHEET, "two.toml"))
    rack = first.gauges[0].model_copy(update={"label": label, "identity": identity})
    first = first.model_copy(update={"gauges": (rack,)})
    book.append(first)
    return KeptJob(first)


def calibrated(book, until=None, **lab):
    """A gauge of the register, calibrated with the invented blocks as far as is said."""
    done = Lab(**lab).work(until)
    for records in done.transactions:
        book.append_many(records)
    return done


def asked(book, job, at=LATER, identity=""):
    ask_the_register(book, job, {"rack": identity}, "R. Ahlers", at)
    return job.records


def test_a_logbook_without_a_register_of_gauges_knows_nothing(book):
    assert asked(book, a_job(book)) == []


def test_a_gauge_in_date_is_kept_with_its_certificate_and_day(book):
    lab = calibrated(book)
    job = a_job(book)
    (known,) = asked(book, job)
    ended = lab.kept.ended
    assert (known.standing, known.usable) == ("in date", True)
    assert (known.certificate, known.due, known.rests_on) == (
        ended.certificate, ended.due, ended.uid,
    )  # fmt: skip
    assert (known.role, known.label, known.operator) == ("rack", "DI-7", "R. Ahlers")
    assert str(ended.due) in known.words
    assert kept_job(book, job.begun.uid).records == [known]


def test_it_is_kept_again_only_when_something_has_changed(book):
    calibrated(book)
    job = a_job(book)
    asked(book, job)
    assert len(asked(book, job, LATER + timedelta(days=1))) == 1
    *_, overdue = asked(book, job, LATER + timedelta(days=800))
    assert (overdue.standing, overdue.usable) == ("overdue", False)
    assert len(asked(book, job, LATER + timedelta(days=801))) == 2
    assert kept_job(book, job.begun.uid).records == job.records


def test_what_was_entered_and_not_calibrated_yet_may_not_be_used(book):
    calibrated(book, until="end")
    (known,) = asked(book, a_job(book))
    assert (known.standing, known.usable, known.certificate) == ("never calibrated", False, "")
    assert (known.rests_on, known.worst_mm, known.table) == (None, None, ())


def test_a_gauge_that_was_taken_out_of_use_may_not_be_used(book):
    calibrated(book)
    book.append(
        StatusChanged(
            uid=new_uid(), at=CALIBRATED + timedelta(days=9), operator="M. Ostby", about="gauge",
            name="DI-7", what="withdrawn", reason="it was dropped", by="M. Ostby",
        )
    )  # fmt: skip
    (known,) = asked(book, a_job(book))
    assert (known.standing, known.usable) == ("withdrawn", False)
    assert "it was dropped" in known.words


def test_a_calibration_that_was_taken_back_does_not_count(book):
    lab = calibrated(book)
    book.append(
        Note(
            uid=new_uid(), at=LATER, operator="M. Ostby", purpose="withdrawal",
            about=lab.kept.ended.uid, text="the wrong gauge",
        )
    )  # fmt: skip
    (known,) = asked(book, a_job(book))
    assert known.standing == "never calibrated"


def test_a_gauge_that_nobody_entered_is_not_in_the_register(book):
    calibrated(book)
    (known,) = asked(book, a_job(book, "DI-8"))
    assert (known.standing, known.usable) == ("not in the register", False)
    assert known.words == "DI-8 is not in the register, so nothing is known of its errors."


def test_a_gauge_named_by_its_port_is_known_by_its_adapter(book):
    calibrated(book)
    (known,) = asked(book, a_job(book, "decimal-line@COM3"), identity="ADAPTER-7")
    assert (known.standing, known.label) == ("in date", "decimal-line@COM3")
    assert "DI-7" in known.words


def test_a_gauge_on_the_adapter_of_another_is_not_taken_for_that_one(book):
    calibrated(book)
    (known,) = asked(book, a_job(book, label="DI-3"), identity="ADAPTER-7")
    assert (known.standing, known.usable) == ("not in the register", False)
    assert "This adapter is entered as DI-7, not DI-3" in known.words


def test_a_gauge_on_another_adapter_than_was_entered_may_be_another_gauge(book):
    calibrated(book)
    (known,) = asked(book, a_job(book), identity="ADAPTER-8")
    assert (known.standing, known.usable) == ("not in the register", False)
    assert "entered on the adapter ADAPTER-7, and this is ADAPTER-8" in known.words


def test_with_its_cable_out_a_gauge_is_who_it_was_when_the_job_was_begun(book):
    calibrated(book)
    job = a_job(book, "decimal-line@COM3", identity="ADAPTER-7")
    assert [each.standing for each in asked(book, job)] == ["in date"]


# What it errs.


def result_of(lab):
    return next(each for each in lab.kept.records if isinstance(each, CalibrationResult))


def test_a_depth_gauge_brings_its_correction_table(book):
    lab = calibrated(book, device=DEPTH, sheet=ON_A_PLATE)
    (known,) = asked(book, a_job(book))
    kept = result_of(lab).correction
    assert len(known.table) == len(kept) > 5
    for row, each in zip(known.table, kept, strict=True):
        # From 0 mm on it is zeroed on the plate; what it reads there is nothing by definition.
        assert row.length_mm == (each.reading_mm if each.nominal_mm else 0)
        assert row.error_mm == -each.correction_mm
        # What the two ways differ by lies anywhere between them: half of it over root three.
        ways_mm = float(each.between_ways_mm) / 2 / math.sqrt(3)
        assert float(row.u_mm) == pytest.approx(math.hypot(float(each.u_mm), ways_mm), abs=1e-9)
    assert any(each.between_ways_mm for each in kept)


def test_the_table_of_any_other_kind_is_of_no_use_on_a_job(book):
    lab = calibrated(book, sheet=ON_A_PLATE)
    (known,) = asked(book, a_job(book))
    assert result_of(lab).correction
    assert known.table == ()


def test_with_the_plunger_pressed_in_before_the_zero_the_foot_does_not_show_it_again(book):
    lab = calibrated(book, device=DEPTH)
    (known,) = asked(book, a_job(book))
    assert result_of(lab).correction
    assert (known.standing, known.table) == ("in date", ())


def test_a_table_that_was_made_above_a_block_is_counted_from_the_flat_beneath():
    rows = table_rows(result_of(Lab(device=DEPTH, sheet=ON_A_PLATE).work()), Decimal("1.5"))
    assert rows[0].length_mm == Decimal("1.5")
    assert [each.length_mm for each in rows] == sorted(each.length_mm for each in rows)


def test_where_it_was_zeroed_the_gauge_reads_nothing_even_if_it_came_back_a_step_off():
    result = result_of(Lab(device=DEPTH, sheet=ON_A_PLATE).work())
    first = result.correction[0].model_copy(
        update={"reading_mm": Decimal("0.0005"), "correction_mm": Decimal("-0.0005")}
    )
    result = result.model_copy(update={"correction": (first, *result.correction[1:])})
    row = table_rows(result, Decimal(0))[0]
    assert (row.length_mm, row.error_mm) == (0, Decimal("0.0005"))


def test_the_most_that_it_may_read_wrong_is_its_largest_error_and_the_uncertainty_of_that(book):
    lab = calibrated(book)
    (known,) = asked(book, a_job(book))
    result = result_of(lab)
    assert known.worst_mm == worst_mm(result)
    assert any(known.worst_mm == abs(each.error_mm) + each.expanded_mm for each in result.points)
    assert known.worst_mm >= max(abs(each.error_mm) for each in result.points)


def test_what_was_adjusted_errs_as_it_was_left(book):
    lab = calibrated(book, adjusts="a new rack", device=DEPTH, sheet=ON_A_PLATE)
    found, left = [r for r in lab.kept.records if isinstance(r, CalibrationResult)]
    assert (found.run, left.run) == ("as found", "as left")
    (known,) = asked(book, a_job(book))
    assert known.worst_mm == worst_mm(left) != worst_mm(found)
    assert known.table == table_rows(left, Decimal(0))

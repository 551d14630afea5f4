"""What the records of a register come to: newest entries, histories, and how each stands."""

import json
from datetime import date
from decimal import Decimal

import pytest

from daq.calibration.due import Calibrated, ReturnedToUse, Withdrawn
from daq.calibration.errors import RegisterError
from daq.calibration.fleet import fleet_of
from daq.logbook import Logbook
from tests.daq.calibration.fleet.records import (
    begun,
    calibration,
    change,
    gauge_entry,
    standard_entry,
    take_back,
)

D1, D2, D3, D4 = (date(2026, month, 1) for month in (1, 2, 3, 4))


@pytest.fixture
def fleet_from(tmp_path):
    """Keeps records in a logbook, and gives the fleet that they come to."""

    def keep(*records):
        with Logbook.open(tmp_path / "lab.logbook") as book:
            book.append_many(records)
        with Logbook.read(tmp_path / "lab.logbook") as book:
            return fleet_of(book)

    return keep


def test_an_empty_logbook_has_an_empty_register_and_says_how_to_fill_it(fleet_from):
    fleet = fleet_from()
    assert (fleet.gauges, fleet.standards, fleet.unreadable) == ({}, {}, ())
    with pytest.raises(RegisterError, match="register enter FILE"):
        fleet.gauge("DI-7")
    with pytest.raises(RegisterError, match="no standard 'blocks'"):
        fleet.standard("blocks")


def test_the_newest_entry_holds_and_the_older_stay(fleet_from):
    first, second = gauge_entry(D1), gauge_entry(D2, profile="counts-sum")
    fleet = fleet_from(first, gauge_entry(D1, label="DI-8", identity=None), second)
    assert fleet.gauge("DI-7").profile == "counts-sum"
    assert fleet.gauge_entries["DI-7"] == [first, second]
    with pytest.raises(RegisterError, match="There are: DI-7, DI-8"):
        fleet.gauge("DI-9")


def test_an_entry_that_was_taken_back_gives_way_to_the_one_before(fleet_from):
    first, second = gauge_entry(D1), gauge_entry(D2, profile="counts-sum")
    assert fleet_from(first, second, take_back(D3, second)).entry("DI-7") == first
    assert "DI-7" not in fleet_from(take_back(D3, first)).gauges


def test_a_history_holds_calibrations_and_changes_in_their_order(fleet_from):
    entry = gauge_entry(D1)
    first, ended = calibration(D2, entry, "fail", "pass", due=date(2027, 5, 5), to_mm=Decimal(5))
    fleet = fleet_from(
        entry, first, ended, change(D3, "DI-7", "withdrawn"), change(D4, "DI-7", "returned to use")
    )
    assert fleet.history("DI-7") == (
        Calibrated(
            D2, "C-DI-7-260201", "fail", "pass", to_mm=Decimal(5), due=date(2027, 5, 5)
        ),
        Withdrawn(D3, "dropped", "B. Lunde"),
        ReturnedToUse(D4, "looked at", "B. Lunde"),
    )  # fmt: skip
    assert fleet.last_calibration("DI-7") == (first, ended)
    assert fleet.last_calibration("DI-7", D1) is None
    assert fleet.status("DI-7", D1).standing == "never calibrated"
    assert fleet.status("DI-7", D2).standing == "limited range"
    assert fleet.status("DI-7", D3).standing == "withdrawn"
    assert fleet.status("DI-7", D4).is_usable


def test_what_is_open_broken_off_or_taken_back_is_no_calibration(fleet_from):
    entry = gauge_entry(D1)
    broken = calibration(
        D2, entry, found=None, left=None, how="broken off", reason="power cut", certificate=""
    )
    first, ended = calibration(D3, entry)
    assert fleet_from(entry, begun(D2, entry), *broken).history("DI-7") == ()
    assert len(fleet_from(first, ended).history("DI-7")) == 1
    assert fleet_from(take_back(D4, ended)).history("DI-7") == ()
    another, its_end = calibration(D3, entry)
    assert fleet_from(another, its_end, take_back(D4, another)).history("DI-7") == ()


def test_a_calibration_serves_a_gauge_that_was_entered_anew_but_not_another_instrument(fleet_from):
    entry = gauge_entry(D1)
    fleet = fleet_from(entry, *calibration(D2, entry), gauge_entry(D3, profile="counts-sum"))
    assert fleet.status("DI-7", D3).standing == "in date"
    assert fleet.remarks == {}
    fleet = fleet_from(gauge_entry(D4, range="25 mm"))
    assert fleet.status("DI-7", D4).standing == "never calibrated"
    (remark,) = fleet.remarks["DI-7"]
    assert remark.startswith("C-DI-7-260201 of 2026-02-01 was of a gauge with another kind, range")


def test_other_permissible_errors_than_it_was_judged_by_are_told(fleet_from):
    entry = gauge_entry(D1)
    limits = {"source": "own rule", "over_range": "0.006 mm"}
    fleet = fleet_from(entry, *calibration(D2, entry), gauge_entry(D3, limits=limits))
    (remark,) = fleet.remarks["DI-7"]
    assert "was judged by other permissible errors" in remark
    same = fleet_from(gauge_entry(D4))
    assert same.remarks == {}


def test_an_adapter_serves_the_gauge_that_was_entered_with_it_last(fleet_from):
    fleet = fleet_from(gauge_entry(D1), gauge_entry(D2, label="DI-9"))
    assert fleet.gauge_by_identity("ADAPTER-7").label == "DI-9"
    assert fleet.gauge_by_identity("") is None
    assert fleet.gauge_by_identity("ADAPTER-8") is None
    (remark,) = fleet.remarks["DI-7"]
    assert "which serves DI-9 since 2026-02-01" in remark
    # Entered last is what counts, whatever the clock said.
    fleet = fleet_from(gauge_entry(D1))
    assert fleet.gauge_by_identity("ADAPTER-7").label == "DI-7"
    assert list(fleet.remarks) == ["DI-9"]


@pytest.mark.parametrize(
    ("on", "standing", "is_usable", "words"),
    [
        (date(2026, 1, 9), "not yet valid", False, "has a certificate from 2026-01-10 on"),
        (date(2026, 1, 10), "in date", True, "blocks is due on 2028-01-10 (INV-1)."),
        (date(2027, 12, 10), "in date", True, "blocks is due on 2028-01-10 (INV-1)."),
        (date(2027, 12, 11), "due", True, "due on 2028-01-10, in 30 days (INV-1)."),
        (date(2028, 1, 9), "due", True, "due on 2028-01-10, in 1 day (INV-1)."),
        (date(2028, 1, 10), "due", True, "due on 2028-01-10, today (INV-1)."),
        (date(2028, 1, 11), "overdue", False, "was due on 2028-01-10"),
    ],
)
def test_a_standard_is_usable_on_the_days_of_its_certificate(
    fleet_from, on, standing, is_usable, words
):
    status = fleet_from(standard_entry(D1)).standard_status("blocks", on)
    assert (status.standing, status.is_usable) == (standing, is_usable)
    assert words in str(status)


def test_a_standard_is_withdrawn_and_returned_by_itself(fleet_from):
    fleet = fleet_from(
        standard_entry(D1),
        gauge_entry(D1, label="blocks"),
        change(D2, "blocks", "withdrawn", "standard"),
        change(D4, "blocks", "returned to use", "standard"),
    )
    assert fleet.standard_status("blocks", D1).standing == "not yet valid"
    assert str(fleet.standard_status("blocks", D3)) == (
        "blocks was withdrawn on 2026-02-01 by B. Lunde: dropped"
    )
    assert fleet.standard_status("blocks", D4).is_usable
    assert fleet.status("blocks", D3).standing == "never calibrated"  # the gauge of that name


class Newer(dict):
    """A record as a newer program may write it."""


def test_records_that_cannot_be_read_are_told_and_not_passed_over(fleet_from):
    odd = gauge_entry(D2, label="DI-8").model_dump(mode="json") | {"step_mm": "5"}
    fleet = fleet_from(
        gauge_entry(D1),
        Newer(kind="status", format=2, at="2026-02-01", name="DI-7"),
        Newer(kind="weather", format=1),
        Newer(**json.loads(json.dumps(odd))),
    )
    assert list(fleet.gauges) == ["DI-7"]
    assert [words.partition(":")[0] for words in fleet.unreadable] == [
        "Record 3 (status) cannot be read",
        "Record 5 enters what cannot be",
    ]
    assert "too coarse" in fleet.unreadable[1]

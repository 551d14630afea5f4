"""What the register says of a gauge that is plugged in: by its adapter first, else by its label."""

from datetime import date
from decimal import Decimal

import pytest

from daq.calibration.fleet import bench_status, fleet_of
from daq.logbook import Logbook
from tests.daq.calibration.fleet.records import calibration, change, gauge_entry

DAY = date(2026, 6, 1)


@pytest.fixture
def fleet(tmp_path):
    entered = date(2025, 1, 1)
    entries = {
        label: gauge_entry(entered, label=label, identity=identity)
        for label, identity in {
            "DI-7": "usb:1209:0001:K4711", "DI-3": "usb:1209:0001:K0003", "DI-5": None,
            "late": None, "soon": None, "part": None, "out": None, "new": None,
        }.items()
    }  # fmt: skip
    records = [*entries.values()]
    for label in ("DI-7", "DI-3", "DI-5", "out"):
        records += calibration(date(2026, 1, 1), entries[label])
    records += calibration(date(2025, 1, 31), entries["late"])
    records += calibration(date(2025, 6, 8), entries["soon"])
    records += calibration(date(2025, 6, 8), entries["part"], from_mm=Decimal(1), to_mm=Decimal(5))
    records.append(change(date(2026, 3, 1), "out", "withdrawn"))
    with Logbook.open(tmp_path / "lab.logbook") as book:
        book.append_many(records)
        return fleet_of(book)


@pytest.mark.parametrize(
    ("label", "standing", "short", "is_usable"),
    [
        ("DI-5", "in date", "", True),
        ("soon", "due", "due on 2026-06-08", True),
        ("late", "overdue", "overdue since 2026-01-31", False),
        ("part", "limited range", "good from 1 mm to 5 mm only, due on 2026-06-08", True),
        ("out", "withdrawn", "withdrawn", False),
        ("new", "never calibrated", "never calibrated", False),
        ("DI-9", "not in the register", "not in the register", False),
        ("decimal-line@/dev/ttyUSB0", "not in the register", "not in the register", False),
    ],
)
def test_without_an_identity_the_label_tells_which_gauge_it_is(
    fleet, label, standing, short, is_usable
):
    status = bench_status(fleet, label, "", DAY)
    assert (status.standing, status.short, status.is_usable) == (standing, short, is_usable)
    assert status.words.startswith(label)


@pytest.mark.parametrize("label", ["DI-7", "decimal-line@/dev/ttyUSB0"])
def test_the_adapter_tells_which_gauge_it_is_however_its_letters_are_written(fleet, label):
    status = bench_status(fleet, label, "USB:1209:0001:k4711", DAY)
    assert status.standing == "in date"
    assert status.words.startswith("DI-7 is due on 2027-01-01")


@pytest.mark.parametrize("label", ["DI-3", "DI-9"])
def test_an_adapter_that_is_entered_as_another_gauge_is_a_clear_no(fleet, label):
    status = bench_status(fleet, label, "usb:1209:0001:K4711", DAY)
    assert (status.standing, status.is_usable) == ("another gauge", False)
    assert status.words.startswith(f"This adapter is entered as DI-7, not {label}.")
    assert status.short == "entered as DI-7"


def test_a_gauge_on_an_adapter_that_nobody_entered_may_be_another(fleet):
    status = bench_status(fleet, "DI-7", "usb:1209:0001:K9999", DAY)
    assert (status.standing, status.is_usable) == ("another gauge", False)
    assert "DI-7 is entered on the adapter usb:1209:0001:K4711, and this is" in status.words
    # One that was entered without an adapter may be on any.
    assert bench_status(fleet, "DI-5", "usb:1209:0001:K9999", DAY).standing == "in date"


@pytest.mark.parametrize(
    ("value_mm", "is_good"), [(0.9999, False), (1.0, True), (5.0, True), (5.0004, False)]
)
def test_a_gauge_of_limited_range_is_good_from_end_to_end_and_no_further(fleet, value_mm, is_good):
    why = bench_status(fleet, "part", "", DAY).why_not_at(value_mm)
    assert (why == "") is is_good
    assert is_good or f"it reads {value_mm:g} mm, and by its calibration it is good from 1" in why
    assert bench_status(fleet, "DI-5", "", DAY).why_not_at(value_mm) == ""


def test_a_logbook_without_gauges_says_nothing(tmp_path):
    with Logbook.open(tmp_path / "other.logbook") as book:
        assert bench_status(fleet_of(book), "DI-7", "", DAY) is None

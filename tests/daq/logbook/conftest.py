"""What the logbook tests share: records to keep, a logbook to keep them in, a hand to tamper."""

import os
import sqlite3
from contextlib import closing, contextmanager
from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest

from daq.logbook import (
    Capture,
    CapturedGauge,
    CapturedReading,
    CapturedSpec,
    CapturedVerdict,
    Logbook,
    Note,
    new_uid,
)

BEGUN = datetime(2026, 3, 1, 8, 15, 30, 250000, tzinfo=UTC)


def make_capture(step=0, **changes):
    """A capture of 12.34x mm against 12.300 ±0.100; ``step`` sets it apart from others."""
    value = Decimal("12.340") + Decimal(step % 10) / 1000
    start = 100.0 + step
    texts = [f"{value - Decimal('0.001'):+09.3f}", f"{value:+09.3f}", f"{value:+09.3f}"]
    fields = {
        "uid": new_uid(),
        "at": BEGUN + timedelta(seconds=step),
        "monotonic_s": start + 0.5,
        "station": "bench 2",
        "operator": "A. Fitter",
        "gauge": CapturedGauge(
            label="G-17", profile="signed-decimal-line", identity="usb-serial-0001", port="port 1"
        ),
        "spec": CapturedSpec(
            name="rack length",
            nominal_mm=Decimal("12.300"),
            lower_mm=Decimal("-0.100"),
            upper_mm=Decimal("0.100"),
            unit="mm",
            source="setting sheet 4, line 2",
        ),
        "value_mm": value,
        "u_mm": Decimal("0.00041"),
        "n": 3,
        "rest_seen": True,
        "span_readings": 3,
        "since_s": start,
        "until_s": start + 0.2,
        "resolution_mm": Decimal("0.001"),
        "deviation_mm": value - Decimal("12.300"),
        "verdict": CapturedVerdict(outcome="in", rule="simple acceptance", guard_mm=Decimal("0")),
        "trigger": "settled",
        "unit_shown": "mm",
        "readings": tuple(
            CapturedReading(t_s=start + i / 10, text=text, unit="mm", status=())
            for i, text in enumerate(texts)
        ),
        "frames": tuple(f"{text}mm\r\n".encode().hex() for text in texts),
        "bad_frames": 0,
        "note": "",
    }
    return Capture(**(fields | changes))


def make_note(text="plunger cleaned", **changes):
    fields = {
        "uid": new_uid(),
        "at": BEGUN,
        "operator": "A. Fitter",
        "purpose": "remark",
        "about": None,
        "text": text,
    }
    return Note(**(fields | changes))


@pytest.fixture(scope="session")
def capture():
    """Makes a capture: ``capture(3)``, ``capture(operator="B")``."""
    return make_capture


@pytest.fixture(scope="session")
def note():
    """Makes a note: ``note("text")``."""
    return make_note


@pytest.fixture(scope="session")
def begun():
    """When the logbooks of these tests were begun."""
    return BEGUN


@pytest.fixture
def book_path(tmp_path):
    """Where a logbook may be made."""
    return tmp_path / "bench.sqlite"


@pytest.fixture
def written(book_path):
    """The path of a closed logbook: record 1 is the cover, 2 to 12 are captures."""
    with Logbook.open(book_path, at=BEGUN) as book:
        book.append_many(make_capture(step) for step in range(11))
    return book_path


@contextmanager
def tampering(path):
    """A connection by which the records of ``path`` can be changed, as nobody should.

    The triggers are taken away first and put back word for word, so that they tell nothing.
    """
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        triggers = connection.execute(
            "SELECT name, sql FROM sqlite_schema WHERE type = 'trigger'"
        ).fetchall()
        for name, _ in triggers:
            connection.execute(f"DROP TRIGGER {name}")
        yield connection
        for _, sql in triggers:
            connection.execute(sql)
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")


@pytest.fixture
def tamper():
    """Opens a logbook to tamper with: ``with tamper(path) as connection: ...``."""
    return tampering


@contextmanager
def ordinary_user():
    """Not root for the while: root may write anywhere, and would see no refusal."""
    if os.geteuid() != 0:
        yield
        return
    os.seteuid(65534)
    try:
        yield
    finally:
        os.seteuid(0)


@pytest.fixture
def as_ordinary_user():
    """``with as_ordinary_user(): ...`` is run with the rights of a user who is not root."""
    if os.name != "posix":
        pytest.skip("file rights as POSIX has them")
    return ordinary_user

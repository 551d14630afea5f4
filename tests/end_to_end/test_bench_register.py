"""The commands at the bench in a logbook with a register: what is said, refused, and kept."""

from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest

from daq.calibration.fleet import bench_status, fleet_of
from daq.logbook import Logbook
from daq.measure.gauges import Gauge
from daq.measure.station import Station
from daq.screen.allowing import Allowing
from daq.screen.bench import BenchRun
from drivers.profiles import load_profile
from tests.daq.calibration.fleet.records import calibration, gauge_entry
from tests.end_to_end.road import captures_in, json_lines, restpoint

TODAY = datetime.now(UTC).date()


@pytest.fixture
def place(tmp_path, bench_with):
    """A gauge that reads 12.34 mm, a gauges file, and a logbook with a register of gauges."""
    port = bench_with("decimal-line").ports["gauge"]
    labels = ("DI-7", "late", "part", "DI-9")
    (tmp_path / "gauges.toml").write_text(
        "\n".join(
            f'[[gauges]]\nlabel = "{label}"\nprofile = "decimal-line"\nport = "{port}"\n'
            for label in labels
        ),
        "utf-8",
    )
    long_ago = TODAY - timedelta(days=500)
    entries = {
        label: gauge_entry(long_ago, label=label, identity=None, range="25 mm")
        for label in labels[:3]
    }
    records = [*entries.values()]
    records += calibration(TODAY - timedelta(days=10), entries["DI-7"])
    records += calibration(long_ago, entries["late"])
    records += calibration(TODAY - timedelta(days=10), entries["part"], to_mm=Decimal(10))
    with Logbook.open(tmp_path / "lab.logbook") as book:
        book.append_many(records)
    return tmp_path


def at(place, command, label, *words):
    return restpoint(command, label, "--gauges", place / "gauges.toml", *words)


def capture(place, label, *words):
    book = place / "lab.logbook"
    return at(place, "capture", label, "--logbook", book, "--count", 1, "--for", 3, *words)


def test_a_gauge_in_date_is_captured_without_a_word(place):
    status, _, error = capture(place, "DI-7")
    assert (status, error) == (0, "")
    (record,) = captures_in(place / "lab.logbook")
    assert record.note == ""


@pytest.mark.parametrize(
    ("label", "words"),
    [("late", "late has been overdue since"), ("DI-9", "DI-9 is not in the register")],
)
def test_nothing_is_captured_with_a_gauge_that_may_not_be_used(place, label, words):
    # It ends by itself: there is nobody to be asked.
    status, out, error = at(place, "capture", label, "--logbook", place / "lab.logbook")
    assert status == 3
    assert "0 captured" in out
    assert error.startswith(words)
    assert error.endswith(f"Nothing is captured with {label}, unless: --although REASON.\n")
    assert captures_in(place / "lab.logbook") == []


def test_it_is_captured_for_a_reason_and_the_reason_is_kept_with_it(place):
    status, out, error = capture(
        place, "late", "--operator", "M. Lind", "--although", "only a rough look", "--json"
    )
    assert (status, len(json_lines(out))) == (0, 1)
    assert error.startswith("late has been overdue since")
    (record,) = captures_in(place / "lab.logbook")
    assert record.note.startswith("late has been overdue since")
    assert record.note.endswith("Used nevertheless: only a rough look.")
    status, _, error = capture(place, "late", "--although", " ")
    assert (status, "--although is empty" in error) == (2, True)


def test_no_value_outside_a_limited_range_is_taken(place):
    status, out, error = capture(
        place, "part", "--operator", "M. Lind", "--although", "no reason helps here"
    )
    assert (status, "part is good up to 10 mm only" in error) == (3, True)
    assert "it reads 12.34 mm, and by its calibration it is good up to 10 mm only" in out
    assert captures_in(place / "lab.logbook") == []
    status, out, error = at(place, "read", "part", "--register", place / "lab.logbook")
    assert (status, out) == (3, "")
    assert "it reads 12.34 mm, and by its calibration" in error


def test_read_says_how_the_gauge_stands(place):
    register = ["--register", place / "lab.logbook"]
    status, out, error = at(place, "read", "late", *register, "--json")
    assert (status, error.startswith("late has been overdue since")) == (0, True)
    (value,) = json_lines(out)
    assert value["calibration"]["standing"] == "overdue"
    assert value["calibration"]["usable"] is False
    _, out, error = at(place, "read", "DI-7", *register, "--json")
    assert json_lines(out)[0]["calibration"]["standing"] == "in date"
    assert error == ""
    _, out, _ = at(place, "read", "late", "--json")
    assert json_lines(out)[0]["calibration"] is None


def test_watch_shows_it_and_asks_nothing(place):
    words = ["--register", place / "lab.logbook", "--for", 1.5]
    status, out, _ = at(place, "watch", "late", *words)
    assert (status, "at rest" in out, ", overdue since " in out) == (0, True, True)
    status, out, _ = at(place, "watch", "part", *words, "--json")
    assert status == 0
    assert json_lines(out)[-1]["calibration"] == "good up to 10 mm only"


def test_a_register_that_cannot_be_read_is_said_before_anything_is_opened(place):
    (place / "no.logbook").write_text("no logbook", "utf-8")
    status, out, error = at(place, "read", "DI-7", "--register", place / "no.logbook")
    assert (status, out) == (3, "")
    assert "no.logbook" in error


def test_a_key_confirms_and_what_was_confirmed_is_kept(place, bench_with):
    with Logbook.open(place / "lab.logbook") as book:
        fleet = fleet_of(book)
        gauge = Gauge(
            "late", load_profile("decimal-line"), bench_with("decimal-line").ports["gauge"]
        )
        allowing = Allowing(lambda identity: bench_status(fleet, "late", identity, TODAY))
        views = []

        def pressed():
            rests = views and views[-1].motion == "at rest"
            return ["confirm"] if rests and not before_confirming() else []

        def before_confirming():
            # A second of looking: it must not be captured meanwhile.
            return views[-1].captured or sum(bool(view.doubt) for view in views) < 40

        with Station([gauge], logbook=book) as station:
            end_s = station.clock() + 10
            news = BenchRun(
                "late", lambda view, _: views.append(view), pressed, count=1, allowing=allowing,
                stop=lambda: station.clock() > end_s,
            ).run(station)  # fmt: skip
    assert news.captured == 1
    assert all(view.captured == 0 for view in views if view.doubt)
    (record,) = captures_in(place / "lab.logbook")
    assert record.note.endswith("Used nevertheless: confirmed at the screen.")

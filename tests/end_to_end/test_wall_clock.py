"""The time of day jumps; what was measured, its order and its chain do not depend on it."""

import os
import subprocess
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from tests.end_to_end.road import captures_in, work_until

TRUE = datetime(2026, 10, 25, 0, 59, 58, tzinfo=UTC)
"""Two seconds before summer time ends in central Europe: an hour of local time comes twice."""

JUMPS = (timedelta(hours=-1), timedelta(days=3650), timedelta(days=-3650), timedelta(hours=1))


@pytest.fixture
def wall(mocker):
    """The time of day as the station sees it; the readings have another clock."""
    moment = mocker.patch("daq.measure.station.datetime")
    moment.now.return_value = TRUE
    return moment.now


def test_values_and_their_order_are_the_same_whatever_the_time_of_day_does(
    bench_with, station_at, tmp_path, wall
):
    bench = bench_with("fixed-fields")
    with station_at(bench, "fixed-fields") as station:
        work_until(station, lambda: station.session("G1").rest)
        for jump in JUMPS:
            station.capture("G1", "key")
            wall.return_value += jump
            work_until(station, lambda: station.session("G1").rest)
    records = captures_in(tmp_path / "test.logbook")  # which verifies the chain
    assert [each.at for each in records] == [
        TRUE + sum(JUMPS[:number], timedelta()) for number in range(len(JUMPS))
    ]
    assert {float(each.value_mm) for each in records} == {12.34}
    times_s = [each.monotonic_s for each in records]
    assert times_s == sorted(times_s)
    assert times_s[-1] - times_s[0] < 60


@pytest.mark.parametrize("words", [("log", "show"), ("log", "verify"), ("log", "export")])
def test_what_is_shown_of_a_logbook_is_the_same_in_every_time_zone(
    bench_with, station_at, tmp_path, wall, words
):
    bench = bench_with("fixed-fields")
    with station_at(bench, "fixed-fields") as station:
        work_until(station, lambda: station.session("G1").rest)
        for _ in range(2):
            station.capture("G1", "key")
            wall.return_value += timedelta(hours=1)
    out = {}
    for zone in ("UTC", "Europe/Berlin", "America/New_York"):
        file = tmp_path / f"{zone.replace('/', '-')}.csv"
        more = [str(file)] if words[-1] == "export" else []
        done = subprocess.run(
            [sys.executable, "-m", "daq.cli", *words, tmp_path / "test.logbook", *more],
            capture_output=True, text=True, check=False, cwd=Path(__file__).parents[2],
            env={**os.environ, "TZ": zone, "NO_COLOR": "1"},
        )  # fmt: skip
        assert done.returncode == 0, done.stderr
        out[zone] = file.read_text("utf-8") if more else done.stdout
    assert len(set(out.values())) == 1
    assert "2026-10-25" in out["UTC"] or words[-1] == "verify"

"""The names of simulated gauges' ports: they stay, and they displace nothing of anybody's."""

import os
import sys

import pytest

from simulated_devices import Bench, BenchError
from tests.simulated_devices.gauge_tools import Program, gauge_at

pytestmark = [
    pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminals"),
    pytest.mark.usefixtures("nothing_left_behind"),
]


def test_a_name_stays_the_same_from_run_to_run_in_a_folder_of_one_s_own(tmp_path):
    folder = tmp_path / "new" / "ports"
    for _ in range(2):
        with Bench({"gauge": (gauge_at(1.0), None)}, folder=folder) as bench:
            assert bench.ports == {"gauge": str(folder / "gauge")}
            assert os.readlink(folder / "gauge").startswith("/dev/")
        assert list(folder.iterdir()) == []


def test_a_name_that_a_killed_bench_left_behind_is_taken_over(tmp_path):
    (tmp_path / "gauge").symlink_to("/dev/pts/999999")
    gauges = {"gauge": (gauge_at(1.0), None)}
    with Bench(gauges, folder=tmp_path) as bench, Program(bench.ports["gauge"]) as program:
        assert program.read()


def test_a_bench_does_not_take_away_a_name_that_another_has_taken_over(tmp_path):
    with Bench({"gauge": (gauge_at(1.0), None)}, folder=tmp_path):
        pass
    with Bench({"gauge": (gauge_at(1.0), None)}, folder=tmp_path) as first:
        second = Bench({"gauge": (gauge_at(2.0), None)}, folder=tmp_path)
        with second:
            first.pull("gauge")
            with Program(second.ports["gauge"]) as program:
                assert b"+0002.000" in program.read_until(lambda got: got.count(b"\n") >= 2)


@pytest.mark.parametrize("what", ["file", "folder", "link"])
def test_nothing_of_the_user_s_is_overwritten_by_a_gauge_s_name(tmp_path, what):
    mine, place = tmp_path / "mine.txt", tmp_path / "ports" / "gauge"
    mine.write_text("precious")
    place.parent.mkdir()
    match what:
        case "file":
            place.write_text("precious")
        case "folder":
            place.mkdir()
        case "link":
            place.symlink_to(mine)
    gauges = {"first": (gauge_at(1.0), None), "gauge": (gauge_at(1.0), None)}
    bench = Bench(gauges, folder=place.parent)
    with pytest.raises(BenchError, match="is there already and is no simulated gauge's name"):
        bench.__enter__()
    assert os.listdir(place.parent) == ["gauge"]
    assert mine.read_text() == "precious"
    if what == "file":
        assert place.read_text() == "precious"


def test_a_folder_that_cannot_be_made_is_told_with_what_to_do(tmp_path):
    (tmp_path / "file").write_text("")
    bench = Bench({"gauge": (gauge_at(1.0), None)}, folder=tmp_path / "file" / "ports")
    with pytest.raises(BenchError, match=r"ports cannot be made: .* Choose another one"):
        bench.__enter__()

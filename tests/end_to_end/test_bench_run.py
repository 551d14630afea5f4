"""The bench's loop: what is captured by itself, by the data key or a person's key, and what not."""

import sys
import threading

import pytest

from daq.screen.bench import BenchRun
from drivers.reading import Reading
from simulated_devices import Press
from tests.end_to_end.road import captures_in, work_until

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminals")


class Watcher:
    """Looks at every view and ends the run when it has seen enough, or has looked long enough."""

    def __init__(self, enough=lambda view: False, for_s=6.0):
        self.views, self.is_enough, self.for_s, self.began_s = [], enough, for_s, None

    def show(self, view, now_s):
        self.began_s = now_s if self.began_s is None else self.began_s
        self.now_s = now_s
        self.views.append(view)

    def stop(self):
        if not self.views:
            return False
        return self.is_enough(self.views[-1]) or self.now_s - self.began_s > self.for_s


def test_each_press_of_the_data_key_is_captured(bench_with, station_at, tmp_path):
    presses = tuple(Press(1.0 + 0.5 * n, "data") for n in range(8))
    bench = bench_with("marked-xor", presses=presses)
    with station_at(bench, "marked-xor") as station:
        watcher = Watcher()
        news = BenchRun("G1", watcher.show, count=2, stop=watcher.stop).run(station)
    assert news.captured == 2
    assert [r.trigger for r in captures_in(tmp_path / "test.logbook")] == ["data key", "data key"]


@pytest.mark.parametrize(("at_mm", "captured"), [(12.34, 1), (12.44, 0)])
def test_only_rests_within_the_limits_are_captured_if_asked_so(
    bench_with, station_at, at_mm, captured
):
    bench = bench_with("counts-sum", at_mm=at_mm)
    with station_at(bench, "counts-sum") as station:
        watcher = Watcher(lambda view: view.motion == "at rest" and (view.n or 0) > 800)
        news = BenchRun("G1", watcher.show, when="in limits", stop=watcher.stop).run(station)
    assert watcher.views[-1].motion == "at rest"
    assert news.captured == captured


def test_one_rest_is_captured_once_by_itself_and_again_by_a_key(bench_with, station_at, tmp_path):
    bench = bench_with("counts-sum")
    with station_at(bench, "counts-sum") as station:
        watcher = Watcher(lambda view: (view.n or 0) > 800)
        by_itself = BenchRun("G1", watcher.show, stop=watcher.stop).run(station)
        asked = iter(["capture", "quit"])
        by_key = BenchRun("G1", watcher.show, commands=lambda: asked).run(station)
    assert (by_itself.captured, by_key.captured) == (1, 1)
    assert [r.trigger for r in captures_in(tmp_path / "test.logbook")] == ["settled", "key"]


def test_a_key_pressed_too_early_is_refused_with_the_reason(bench_with, station_at):
    bench = bench_with("marked-xor")
    with station_at(bench, "marked-xor") as station:
        asked = iter(["capture", "quit"])
        news = BenchRun("G1", lambda *_: None, commands=lambda: asked).run(station)
    assert (news.captured, news.notice) == (0, "nothing has come from the gauge yet")


def test_a_gauge_that_answers_is_asked_again_at_its_own_rate(bench_with, station_at):
    """20 times a second; waiting out the time for an answer instead would make about 4."""
    bench = bench_with("modbus-registers")
    with station_at(bench, "modbus-registers") as station:
        over = threading.Timer(2.0, lambda: None)
        over.start()
        events = work_until(station, lambda: not over.is_alive())
    assert sum(isinstance(event, Reading) for event in events) > 20

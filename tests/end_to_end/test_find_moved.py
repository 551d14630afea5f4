"""Two adapters that look alike are told apart by moving the plunger of the one that is meant."""

import sys
import threading

import pytest

from daq.measure.gauges import Gauge
from daq.measure.moving import find_moved
from daq.measure.station import Station
from drivers.profiles import load_profile
from simulated_devices import Bench, SimulatedGauge
from simulated_devices.motion import Approach, Still
from tests.end_to_end.road import WITHIN_S, json_lines, restpoint, work_until

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminals")

PROFILE = load_profile("fixed-fields")


def bench_of(**motions):
    return Bench({name: (SimulatedGauge(PROFILE, each), None) for name, each in motions.items()})


def moved_on(bench, within_s=WITHIN_S, push=None):
    """What is found, once all gauges were heard and one of them was pushed."""
    gauges = [Gauge(name, PROFILE, port) for name, port in bench.ports.items()]
    with Station(gauges) as station:
        labels = list(bench.ports)
        work_until(station, lambda: all(station.session(each).reading for each in labels))
        if push:
            pushing = threading.Timer(0.3, push)
            pushing.start()
        return find_moved(station, labels, station.clock() + within_s)


def test_the_one_whose_plunger_is_moved_is_named():
    with bench_of(left=Still(1.0), right=Still(1.0)) as bench:

        def push():
            with bench.still():
                bench.gauge("right").move_to(3.0)

        assert moved_on(bench, push=push) == ("right", "")


def test_where_both_move_neither_is_named():
    slow = {"by_mm": 5.0, "tau_s": 2.0}
    with bench_of(left=Approach(**slow), right=Approach(**slow)) as bench:
        found, why = moved_on(bench)
    assert found is None
    assert "More than one moved" in why


def test_where_none_moves_or_none_is_heard_it_says_so():
    with bench_of(left=Still(1.0), right=Still(2.0)) as bench:
        assert "No plunger was moved" in moved_on(bench, within_s=1.0)[1]


def test_the_command_names_the_port():
    with bench_of(left=Still(1.0), right=Approach(by_mm=9.0, tau_s=20.0)) as bench:
        ports = [bench.ports[name] for name in ("left", "right")]
        status, out, _ = restpoint("find", *ports, "--moved", "fixed-fields", "--json")
    assert status == 0
    assert json_lines(out) == [{"port": ports[1], "identity": ""}]


def test_ports_alone_are_asked_wrongly():
    assert restpoint("find", "/dev/nothing")[0] == 2

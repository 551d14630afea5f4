"""What a gauge sent, run again from its raw trace, gives the rests that were seen live."""

import json
import random
import sys

import pytest
from click.testing import CliRunner

from daq.cli import restpoint as command
from daq.measure.gauges import Gauge
from daq.measure.session import Session
from daq.measure.station import Station
from drivers.profiles import builtin_names, load_profile
from drivers.reader import traced
from drivers.trace import RawBytes, write_raw
from simulated_devices import Bench, SimulatedGauge, WireFaults
from simulated_devices.motion import Approach, Step, Still, Together
from tests.end_to_end.road import restpoint, work_until

WAYS = [name for name in builtin_names() if name != "marked-xor"]
STREAMS = [name for name in WAYS if load_profile(name).sends.when == "by itself"]
ROUGH = {"drop": 0.002, "flip": 0.002, "double": 0.002, "garbage": 0.001, "cut": 0.001}
RUN_S = 9.0
PULLED = "decimal-line"
ENDS_AT_MM = 12.55


def moving_gauge(profile, seed, moves_at_s=(2.5, 5.5)):
    """Two moves with rests between them; the reading scatters by a third of a step."""
    profile = load_profile(profile)
    moves = Together(
        (
            Still(12.3),
            Approach(by_mm=0.35, tau_s=0.1, start_s=moves_at_s[0]),
            Step(by_mm=-0.1, start_s=moves_at_s[1]),
        )
    )
    noise_mm = 0.3 * float(next(iter(profile.resolution.values())))
    return SimulatedGauge(profile, moves, noise_mm=noise_mm, seed=seed)


class Kept:
    """The raw trace of a gauge as it is written, and every rest of its session, as known last."""

    def __init__(self, session, path):
        self._session, self._path = session, path
        self._rows, self._rests = [], {}

    def takes(self, row):
        """Called before the session gets the row: what it made of the one before is noted."""
        self._note()
        self._rows.append(row)

    def rests(self):
        """Value, u, readings and times of each rest, with the trace written to its file."""
        self._note()
        with self._path.open("w", encoding="utf-8", newline="") as file:
            write_raw(file, self._rows)
        return [(r.value_mm, r.u_mm, r.n, r.since_s, r.until_s) for r in self._rests.values()]

    def _note(self):
        if self._session.rest is not None:
            self._rests[self._session.rest.number] = self._session.rest


def rests_of(json_text):
    """What ``restpoint replay --json`` printed; floats are printed so that nothing is lost."""
    rests = [json.loads(line) for line in json_text.splitlines()]
    return [tuple(r[k] for k in ("value_mm", "u_mm", "n", "since_s", "until_s")) for r in rests]


def live_in_memory(profile, path, *, faults=None, seed=1):
    """The session alone, fed in uneven pieces at uneven times."""
    gauge, wire = moving_gauge(profile, seed), WireFaults(**faults, seed=seed) if faults else None
    uneven, t_s, sent_s = random.Random(f"pieces {seed}"), 16_420.3, 0.0
    session = Session(load_profile(profile), opened_t_s=t_s)
    kept = Kept(session, path)
    asked_s, request = 0.0, gauge.profile.request
    while sent_s < RUN_S:
        gap_s = uneven.choice((0.004, 0.011, 0.034)) * uneven.uniform(0.7, 1.3)
        t_s, sent_s = t_s + gap_s, sent_s + gap_s
        if request and sent_s >= asked_s:
            gauge.receive(request)
            asked_s += 1 / gauge.profile.sends.rate_hz
        data = gauge.advance(gap_s)
        data = wire.through(data) if wire else data
        if data:
            piece = RawBytes(t_s, data)
            kept.takes(piece)
            session.receive(piece.data, piece.t_s)
    return session, kept.rests()


def is_at_the_end(rest):
    return rest is not None and abs(rest.value_mm - ENDS_AT_MM) < 0.01


def replayed(profile, path):
    result = CliRunner().invoke(command, ["replay", str(path), "--profile", profile, "--json"])
    assert result.exit_code == 0
    return rests_of(result.stdout)


@pytest.mark.parametrize("profile", WAYS)
def test_a_raw_trace_run_again_gives_every_rest_as_it_was_live(profile, tmp_path):
    _, live = live_in_memory(profile, tmp_path / "raw.csv")
    assert len(live) >= 2
    assert replayed(profile, tmp_path / "raw.csv") == live


@pytest.mark.parametrize("profile", STREAMS)
def test_it_does_so_on_a_rough_wire_too(profile, tmp_path):
    session, live = live_in_memory(profile, tmp_path / "raw.csv", faults=ROUGH)
    assert session.bad_frames > 0
    assert len(live) >= 2
    assert replayed(profile, tmp_path / "raw.csv") == live


@pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminals")
def test_gauges_on_real_ports_give_the_same_rests_when_their_traces_are_run_again(tmp_path):
    """Gauges that stream and gauges that are asked; one cable is pulled and put back."""
    gauges = {name: (moving_gauge(name, n, (1.5, 3.0)), None) for n, name in enumerate(WAYS)}
    kept = {}
    with (
        Bench(gauges) as bench,
        Station(
            [Gauge(name, load_profile(name), bench.ports[name]) for name in WAYS],
            record=lambda happening: kept[happening.gauge].takes(traced(happening)),
        ) as station,
    ):
        sessions = {name: station.session(name) for name in WAYS}
        for name, session in sessions.items():
            kept[name] = Kept(session, tmp_path / f"{name}.csv")
        work_until(station, lambda: sessions[PULLED].rest is not None)
        bench.pull(PULLED)
        work_until(station, lambda: sessions[PULLED].cable_out)
        bench.plug_in(PULLED)
        work_until(station, lambda: all(is_at_the_end(s.rest) for s in sessions.values()))
        live = {name: each.rests() for name, each in kept.items()}
    assert "lost" in (tmp_path / f"{PULLED}.csv").read_text("utf-8")
    for name in WAYS:
        status, out, _ = restpoint(
            "replay", tmp_path / f"{name}.csv", "--profile", name, "--json"
        )  # fmt: skip
        assert status == 0
        assert rests_of(out) == live[name]
        assert live[name]

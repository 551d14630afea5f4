"""Gauges that are not there: plunger, display, buttons, a hand, bad wires. Imports drivers only.

``gauge``, ``motion``, ``hand`` and ``faults`` have no clock; ``bench`` and ``ports`` put them
behind real ports in real time; ``scenario`` reads what happens from a TOML file.
"""

from simulated_devices.bench import Bench
from simulated_devices.faults import WireFaults, as_read_at
from simulated_devices.gauge import Press, SimulatedGauge
from simulated_devices.hand import Hand
from simulated_devices.ports import BenchError
from simulated_devices.scenario import Scenario, ScenarioError, bench_of, load_scenario

__all__ = [
    "Bench",
    "BenchError",
    "Hand",
    "Press",
    "Scenario",
    "ScenarioError",
    "SimulatedGauge",
    "WireFaults",
    "as_read_at",
    "bench_of",
    "load_scenario",
]

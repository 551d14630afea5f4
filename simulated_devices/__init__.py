"""Gauges that are not there: plunger, display, buttons, a hand, bad wires. Imports drivers only.

``gauge``, ``motion``, ``hand`` and ``faults`` have no clock; ``bench`` and ``ports`` put them
behind real ports in real time; ``scenario`` reads what happens from a TOML file.
"""

from simulated_devices.bench import Bench
from simulated_devices.faults import InLine, Wire, WireFaults, WrongBaud, as_read_at
from simulated_devices.gauge import Press, SimulatedGauge
from simulated_devices.hand import Hand
from simulated_devices.ports import BenchError
from simulated_devices.scenario import (
    Scenario,
    ScenarioError,
    bench_of,
    load_scenario,
    scenario_names,
)

__all__ = [
    "Bench",
    "BenchError",
    "Hand",
    "InLine",
    "Press",
    "Scenario",
    "ScenarioError",
    "SimulatedGauge",
    "Wire",
    "WireFaults",
    "WrongBaud",
    "as_read_at",
    "bench_of",
    "load_scenario",
    "scenario_names",
]

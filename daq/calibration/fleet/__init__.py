"""What a logbook's register comes to: every gauge and standard as entered, and how each stands."""

from daq.calibration.fleet.bench import BenchStatus, bench_status
from daq.calibration.fleet.fleet import Fleet, StandardStatus
from daq.calibration.fleet.gathering import fleet_of

__all__ = ["BenchStatus", "Fleet", "StandardStatus", "bench_status", "fleet_of"]

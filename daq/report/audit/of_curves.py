"""The report's part with the error curves of gauges with findings, over the years."""

from collections.abc import Sequence

import numpy as np

from daq.report.audit.facts import CurveFacts, FleetFacts, GaugeCurves
from daq.report.audit.model import Curve, CurvesReport, GaugeView
from daq.report.audit.sizes import Most
from daq.report.audit.words import YEAR_US, beyond, counted, day, length, places_for, signed


def curves(fleet: FleetFacts, most: Most) -> CurvesReport | None:
    """The curves of the first gauges; None where there is none with points."""
    told = [each for each in fleet.curves if any(run.nominal_nm.size for run in each.runs)]
    if not told:
        return None
    shown = told[: most.gauges]
    every = max(fleet.gauges_with_findings, len(told))
    return CurvesReport(
        gauges=tuple(_gauge(each, most) for each in shown),
        left_out=beyond(every - len(shown), "gauge with findings", "gauges with findings"),
    )


def _gauge(of: GaugeCurves, most: Most) -> GaugeView:
    runs = [each for each in of.runs if each.nominal_nm.size]
    runs.sort(key=lambda each: each.at_us)
    kept = _kept(runs, most.runs)
    worst = [float(np.abs(each.error_nm).max()) / 1e6 for each in kept]
    places = places_for([each for each in worst if each] or [1e-3])
    return GaugeView(
        gauge=of.gauge,
        site=of.site,
        findings=counted(of.findings, "finding"),
        limit=None if of.limit_nm is None else of.limit_nm / 1e6,
        limit_shown="" if of.limit_nm is None else length(of.limit_nm),
        curves=tuple(_curve(each, min(places, 4)) for each in kept),
        left_out=beyond(len(runs) - len(kept), "run"),
    )


def _kept(runs: Sequence[CurveFacts], most: int) -> list[CurveFacts]:
    """The first run and the newest ones: what it was like, and what became of it."""
    return list(runs) if len(runs) <= most else [runs[0], *runs[len(runs) - most + 1 :]]


def _curve(run: CurveFacts, places: int) -> Curve:
    lengths, place = np.unique(run.nominal_nm, return_inverse=True)
    means = np.bincount(place, weights=run.error_nm) / np.bincount(place)
    low, high = int(run.error_nm.min()), int(run.error_nm.max())
    worst = high if high >= -low else low
    return Curve(
        day=day(run.at_us),
        run=run.run,
        found=run.found,
        year=1970 + run.at_us / YEAR_US,
        travel=tuple((lengths / 1e6).tolist()),
        errors=tuple((means / 1e6).tolist()),
        low=low / 1e6,
        high=high / 1e6,
        worst=f"{signed(worst / 1e6, places)}",
    )

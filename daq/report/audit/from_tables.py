"""The overview's facts from what the engine answered to `daq.report.audit.asks.ASKS`."""

import tempfile
from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Self

import numpy as np
import numpy.typing as npt

from daq.audit.layout import NULL
from daq.audit.source import Source
from daq.calibration.student import student_k
from daq.report.audit.asks import ASKS
from daq.report.audit.facts import DriftFacts, DueFacts, ReliabilityFacts, SiteFacts

if TYPE_CHECKING:
    from daq.audit.engine import Evidence

Table = Mapping[str, npt.NDArray[Any]]
Answers = Mapping[str, Table]

_DAY_US = 86_400e6
_YEAR_DAYS = 365.25
_LEVEL = 0.95
_FAR_US = 2.0**62
"""No line is followed further: it is beyond every calendar."""


@dataclass(frozen=True, slots=True, eq=False)
class Homes:
    """Every gauge of the log: its number, its name, and the site that it belongs to."""

    numbers: npt.NDArray[np.int64]
    gauges: list[str]
    sites: list[str]
    calibrations: list[int]
    captures: list[int]
    home: dict[str, str]
    """The site, by gauge."""

    @classmethod
    def of(cls, answer: Table, source: Source) -> Self:
        """From the answer ``gauges``."""
        numbers = answer["gauge"].astype(np.int64)
        names = source.names("gauge", numbers)
        sites = source.names("site", answer["site"].astype(np.int64))
        return cls(
            numbers,
            names,
            sites,
            answer["calibrations"].tolist(),
            answer["captures"].tolist(),
            dict(zip(names, sites, strict=True)),
        )

    def site_of(self, found: "Evidence") -> str:
        """The site that a finding is about: its own, or that of its gauge."""
        own = found.facts.get("site")
        return own if isinstance(own, str) and own else self.home.get(found.gauge, "")

    def limits(self, source: Source) -> dict[str, int]:
        """The permissible error of each gauge that has one."""
        gauges = source.small("gauges") if source.columns("gauges") else {}
        if "limit_nm" not in gauges:
            return {}
        names = dict(zip(self.numbers.tolist(), self.gauges, strict=True))
        pairs = zip(gauges["gauge"].tolist(), gauges["limit_nm"].tolist(), strict=True)
        return {names[gauge]: limit for gauge, limit in pairs if limit != NULL and gauge in names}


def answers_of(source: Source, memory_mb: int = 192, folder: Path | None = None) -> Answers:
    """The answers by one more pass over a log, where its audit has let go of its tables.

    Args:
        source: the log.
        memory_mb: what the tables may take before they go to disk.
        folder: where such files are put meanwhile; None: where the system keeps them.
    """
    from daq.audit.engine import Store, fill

    with tempfile.TemporaryDirectory(prefix="restpoint-report-", dir=folder) as place:
        store = Store(Path(place), memory_mb)
        try:
            fill(store, source)
            return {name: store.arrays(sql) for name, sql in ASKS.items()}
        finally:
            store.close()


def due_of(answer: Table) -> DueFacts | None:
    """Until when the gauges are in date; None if that is known of none."""
    due = answer["due_us"].astype(np.int64)
    return DueFacts(due) if np.any(due != NULL) else None


def drift_of(answer: Table, homes: Homes) -> DriftFacts | None:
    """The drift of each gauge since it was last adjusted, with the interval of its slope."""
    if not answer["gauge"].size:
        return None
    slope = answer["slope_nm_a_day"].astype(np.float64)
    dof, limit = answer["dof"].astype(np.int64), answer["limit_nm"].astype(np.int64)
    k = {int(n): student_k(_LEVEL, float(n)) for n in np.unique(dof) if n > 0}
    half = answer["slope_se"] * np.array([k.get(n, np.nan) for n in dof.tolist()])
    with np.errstate(divide="ignore", invalid="ignore"):
        fitted = np.where(slope > 0, answer["fitted_nm"], -answer["fitted_nm"])
        after_us = (limit - fitted) / np.abs(slope) * _DAY_US
        out_us = answer["last_us"] + after_us
    never = (limit == NULL) | ~np.isfinite(out_us) | (np.abs(out_us) > _FAR_US)
    leaves = np.where(never, NULL, np.where(never, 0.0, out_us).astype(np.int64))
    names = dict(zip(homes.numbers.tolist(), homes.gauges, strict=True))
    return DriftFacts(
        of="the mean errors of each gauge's calibrations since it was last adjusted",
        gauges=[names[gauge] for gauge in answer["gauge"].tolist()],
        calibrations=answer["passes"].astype(np.int64),
        slope_nm=slope * _YEAR_DAYS,
        low_nm=(slope - half) * _YEAR_DAYS,
        high_nm=(slope + half) * _YEAR_DAYS,
        limit_nm=limit,
        leaves_us=leaves,
    )


def reliability_of(answer: Table) -> list[ReliabilityFacts]:
    """How many calibrations found the gauge within its limits, by kind and interval."""
    columns = (
        answer[name].tolist() for name in ("kind", "interval_days", "calibrations", "within")
    )
    return [
        ReliabilityFacts(kind, None if days < 0 else int(days), int(calibrations), int(within))
        for kind, days, calibrations, within in zip(*columns, strict=True)
    ]


def sites_of(homes: Homes, findings: "Sequence[Evidence]") -> list[SiteFacts]:
    """The sites, with the findings about their gauges and people."""
    found: dict[str, Counter[str]] = defaultdict(Counter)
    for each in findings:
        found[homes.site_of(each)][each.severity] += 1
    gauges, calibrations, captures = Counter(homes.sites), Counter[str](), Counter[str]()
    rows = zip(homes.sites, homes.calibrations, homes.captures, strict=True)
    for site, of_it, captured in rows:
        calibrations[site] += of_it
        captures[site] += captured
    names = set(gauges) | set(found)
    if names <= {""}:
        return []
    return [
        SiteFacts(
            site=site,
            gauges=gauges[site],
            calibrations=calibrations[site],
            captures=captures[site],
            high=found[site]["high"],
            medium=found[site]["medium"],
            low=found[site]["low"],
        )
        for site in sorted(names)
    ]

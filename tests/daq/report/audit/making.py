"""Invented facts of an audit: a fleet of four sites with something of everything in it."""

import math
from datetime import UTC, date, datetime

import numpy as np

from daq.audit.layout import NULL
from daq.report.audit.facts import (
    AuditFacts,
    CurveFacts,
    DriftFacts,
    DueFacts,
    Excerpt,
    FindingFacts,
    FleetFacts,
    GaugeCurves,
    NotRunFacts,
    RejectedFacts,
    RejectedRow,
    ReliabilityFacts,
    RuleFacts,
    SiteFacts,
    SizeFacts,
)

ON = date(2026, 9, 15)
DAY_US = 86_400_000_000


def us(*when):
    """A time in UTC as microseconds."""
    return int(datetime(*when, tzinfo=UTC).timestamp()) * 1_000_000


EXCERPT = Excerpt(
    ("seq", "at", "nominal, mm", "reference, mm", "indicated, mm", "operator"),
    tuple(
        (str(211 + n), f"2026-03-02 09:{14 + n}:08", f"{n}.000", f"{n}.0002", f"{n}.021", "R. Ott")
        for n in range(11)
    ),
    of=11,
)


def finding(said="Gauge N-0412 was found with an error of 0.021 mm.", **of):
    """A finding about points, with its place."""
    facts = {
        "gauge": "N-0412",
        "site": "north works",
        "run": "C-2026-118",
        "seq_lo": 211,
        "seq_hi": 221,
        "file": "north/points-2026.parquet",
        "line_lo": 80211,
        "line_hi": 80221,
    }
    return FindingFacts(said=said, **(facts | of))


def rule(name="found-out-of-limits", **of):
    """A rule with findings."""
    facts = {
        "title": "Found out of its limits",
        "severity": "high",
        "rests_on": "ISO/IEC 17025:2017, 7.10: work already done is evaluated.",
        "innocent": "A limit that does not belong to this gauge, or a slip at one point.",
        "action": "Find out what was measured with it since its last good calibration.",
        "strength": "exact",
        "count": 3,
        "findings": [finding(excerpt=EXCERPT), finding(gauge="N-0413"), finding(gauge="S-0007")],
        "parameters": (("coverage", "2"),),
    }
    return RuleFacts(rule=name, **(facts | of))


def rules():
    """Seven rules: three severities, by chance and exact, with much, little and nothing."""
    people = [
        FindingFacts(
            said=f"Of the readings that {who} wrote down, {share} % end in 0 or 5.",
            site="south yard",
            p=p,
        )
        for who, share, p in (("A. Berg", "61.0", 3.2e-12), ("K. Lind", "48.4", 0.00031))
    ]
    return [
        rule(),
        rule(
            "captured-out-of-date",
            title="Captures after the calibration ran out",
            count=1204,
            findings=[
                finding(
                    f"{number} captures with gauge E-{number:04} though its calibration ran out.",
                    gauge=f"E-{number:04}",
                    site="east store",
                    run="",
                )
                for number in range(40, 0, -1)
            ],
        ),
        rule(
            "uneven-digits",
            title="Last digits that look invented",
            severity="medium",
            strength="p",
            tests=212,
            count=2,
            findings=people,
        ),
        rule(
            "drift",
            title="Drift that will leave the limits",
            severity="medium",
            strength="p",
            tests=9120,
            count=31,
            findings=[finding(f"Errors drift by 0.00{n} mm a year.", p=10.0**-n) for n in (7, 5)],
        ),
        rule("shift", title="Shift in captures", severity="low", count=88, findings=[finding()]),
        rule("clock-back", title="Clock going backwards", count=0, findings=[]),
        rule("two-places", title="One person at two sites at once", count=0, findings=[]),
    ]


def due():
    """Gauges that are overdue, due in waves, far off, and without a date."""
    days = [
        *(-40, -3, 0),
        *(int(20 + 90 * (1 + math.sin(n / 7)) + n % 400) for n in range(600)),
        1500,
    ]
    today = us(2026, 9, 15)
    return DueFacts(np.array([today + day * DAY_US for day in days] + [NULL, NULL], dtype=np.int64))


def drift():
    """Gauges that drift more or less clearly, one out already, one unknown."""
    rng = np.random.default_rng(20260915)
    slope = np.append(rng.normal(0, 250, 40), [2600.0, -1800.0, math.nan])
    half = np.append(np.abs(rng.normal(500, 200, 40)) + 60, [400.0, 9000.0, math.nan])
    leaves = np.full(43, NULL, dtype=np.int64)
    leaves[40], leaves[41] = us(2026, 5, 3), us(2028, 2, 1)
    leaves[:30] = us(2031, 1, 1) + np.arange(30) * 400 * DAY_US
    limit = np.full(43, 12_000, dtype=np.int64)
    limit[7] = NULL
    return DriftFacts(
        of="the mean errors of each gauge's calibrations since it was last adjusted",
        gauges=[f"N-{number:04}" for number in range(43)],
        calibrations=np.arange(43, dtype=np.int64) % 5 + 4,
        slope_nm=slope,
        low_nm=slope - half,
        high_nm=slope + half,
        limit_nm=limit,
        leaves_us=leaves,
    )


def curves(gauge="N-0412", *, runs=11, step=900, limit=12_000):
    """Error curves that grow from year to year."""
    nominal = np.repeat(np.arange(0, 12_500_000, 1_250_000, dtype=np.int64), 2)
    made = []
    for number in range(runs):
        shape = 2500 * np.sin(nominal / 2.4e6) + number * step * nominal / 12.5e6
        error = (shape + np.tile([0, 700], nominal.size // 2)).astype(np.int64)
        found = "as left" if number == 4 else "as found"
        at = us(2016 + number, 3, 2)
        made.append(CurveFacts(f"C-{2016 + number}-{gauge}", found, at, nominal, error))
    return GaugeCurves(gauge, "north works", limit, 3, made)


def fleet():
    """An overview with every part."""
    return FleetFacts(
        due=due(),
        drift=drift(),
        curves=[curves(), curves("S-0007", runs=3, step=9000), curves("W-1", runs=1, limit=None)],
        gauges_with_findings=57,
        reliability=[
            ReliabilityFacts("indicator", 365, 1204, 1171),
            ReliabilityFacts("indicator", 730, 96, 88),
            ReliabilityFacts("depth gauge", 365, 20, 20),
            ReliabilityFacts("probe", None, 31, 24),
            ReliabilityFacts("probe", 180, 0, 0),
        ],
        sites=[
            SiteFacts("north works", 3120, 18_400, 812_340, 12, 28, 40),
            SiteFacts("east store", 2010, 9_800, 410_022, 1195, 1, 20),
            SiteFacts("south yard", 970, 4_100, 99_120, 0, 4, 28),
            SiteFacts("", 12, 40, 0, 0, 0, 0),
        ],
    )


def facts(**of):
    """The whole audit."""
    rejected = RejectedFacts(
        count=20_431,
        lost=[("west/points-2024.parquet", "its end is missing; it was cut off")],
        reasons=[
            ("south/points.csv", "indicated", "is no number with a decimal comma", 20_412),
            ("south/points.csv", "when", "is no time of the form DD.MM.YYYY", 19),
        ],
        rows=[
            RejectedRow("south/points.csv", 17 + n, "indicated", "is no number", f"1.2.{n}")
            for n in range(30)
        ],
    )
    made = {
        "on": ON,
        "sources": ["north", "east", "south", "west"],
        "size": SizeFacts(
            4, 6112, 32_340, 812_000, 1_321_482, us(2016, 1, 4), us(2026, 9, 14, 17, 2)
        ),
        "rules": rules(),
        "not_run": [
            NotRunFacts(
                "warm-or-cold",
                "Temperature outside the plan",
                "it has no points.temperature_mc",
            ),
            NotRunFacts("chain", "Chain of hashes broken", "the log has no points.link"),
        ],
        "rejected": rejected,
        "fleet": fleet(),
        "rate": 0.001,
        "notes": ["east/captures.csv was not in order; it was sorted."],
        "edited": ["north/points-2025.parquet: the rows of run C-2025-9 are not those exported."],
        "engine": "DuckDB",
    }
    return AuditFacts(**(made | of))

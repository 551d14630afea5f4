"""Invented standards and gauges for the tests of calibrations."""

from datetime import date
from decimal import Decimal

from daq.calibration.forms import GaugeIdentity, ReferenceStandard
from daq.calibration.plan_file import plan_from_bytes

D = Decimal
DAY = date(2026, 6, 1)
NOMINALS = [
    *(D(f"1.0{n}") for n in range(1, 10)),
    *(D(f"1.{n}") for n in range(1, 10)),
    *(D(n) for n in range(1, 10)),
    *(D(10 * n) for n in range(1, 11)),
]


def standard(**changes):
    facts = {
        "id": "blocks",
        "kind": "block set",
        "what": "Invented blocks",
        "certificate": "INV-1",
        "issuer": "Invented laboratory",
        "values": [
            {"nominal": n, "length": n + D("0.00002"), "expanded_u": D("0.0001"), "k": 2}
            for n in NOMINALS
        ],
        "expansion": 11.5,
        "u_expansion": 1,
        "drift_per_year": "0.00005 mm",
        "valid_from": "2026-01-10",
        "due": "2028-01-10",
    }
    return ReferenceStandard.model_validate(facts | changes)


def bench(**changes):
    values = [
        {"nominal": "0 mm", "length": "0 mm", "expanded_u": "0.0002 mm", "k": 2},
        {"nominal": "10 mm", "length": "10.001 mm", "expanded_u": "0.0002 mm", "k": 2},
        {"nominal": "50 mm", "length": "50.001 mm", "expanded_u": "0.0006 mm", "k": 2},
    ]
    return standard(**{"id": "bench", "kind": "bench", "values": values} | changes)


def flat(**changes):
    values = [{"nominal": "0 mm", "length": "0 mm", "expanded_u": "0.0004 mm", "k": 2}]
    return standard(**{"id": "plate", "kind": "flat", "values": values} | changes)


def gauge(**changes):
    facts = {
        "label": "DI-7",
        "identity": "ADAPTER-7",
        "kind": "indicator",
        "range": "10 mm",
        "step": "0.001 mm",
        "profile": "decimal-line",
        "limits": {
            "source": "own rule",
            "over_range": "0.010 mm",
            "hysteresis": "0.004 mm",
            "repeatability": "0.003 mm",
        },
    }
    return GaugeIdentity.model_validate(facts | changes)


PLAN = """\
# An invented plan.
[plan]
title = "Invented plan"
revision = "A"
range = "10 mm"
points = ["0 mm", "2.5 mm", "5 mm", "7.5 mm", "10 mm"]
preload = "0.2 mm"
wait = 20

[partial]
over = "0.5 mm"
points = ["2.5 mm", "2.7 mm", "3 mm"]

[[repeats]]
at = "5 mm"
direction = "up"
times = 3

[[repeats]]
at = "7.5 mm"
direction = "down"
times = 2
"""


def plan(*replaced):
    text = PLAN
    for old, new in replaced:
        assert old in text, old
        text = text.replace(old, new)
    return plan_from_bytes(text.encode(), "p.toml")

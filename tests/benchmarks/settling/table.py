"""Adds scores up, and writes them as rows of a Markdown table."""

from typing import NamedTuple

import numpy as np


class Summary(NamedTuple):
    """What many scores come to; nan where there is nothing to say.

    False is the share of traces with at least one false rest. The errors are root mean squares over
    those of an oracle that knows the true instant of rest. Covered is the share of reports within
    2 u of the truth. Lost counts rests given up with no cause, per minute at rest.
    """

    missed_percent: float
    false_percent: float
    delay_s: float
    delay_95_s: float
    error_first: float
    error_final: float
    covered_first_percent: float
    covered_final_percent: float
    leaves_s: float
    lost_per_min: float
    cost_us: float


COLUMNS = (
    ("missed %", "{:.1f}"), ("false %", "{:.1f}"), ("delay s", "{:.2f}"), ("95 %", "{:.2f}"),
    ("error, first", "{:.2f}"), ("final", "{:.2f}"), ("covers %, first", "{:.0f}"),
    ("final", "{:.0f}"), ("leaves s", "{:.2f}"), ("lost/min", "{:.2f}"), ("µs", "{:.1f}"),
)  # fmt: skip
"""Heading and form of each figure of a `Summary`."""


def summary(scores) -> Summary:
    """What ``scores`` come to."""
    every = lambda name: [v for s in scores for v in getattr(s, name)]  # noqa: E731
    total = lambda name: sum(getattr(s, name) for s in scores)  # noqa: E731
    delays_s, stale_s = every("delays_s"), every("stale_s")
    first, final = np.array(every("first")), np.array(every("final"))
    return Summary(
        missed_percent=100 * total("missed") / total("required") if total("required") else np.nan,
        false_percent=100 * sum(s.false > 0 for s in scores) / len(scores) if scores else np.nan,
        delay_s=_percentile(delays_s, 50),
        delay_95_s=_percentile(delays_s, 95),
        error_first=_ratio(first),
        error_final=_ratio(final),
        covered_first_percent=100 * covered(first).mean() if len(first) else np.nan,
        covered_final_percent=100 * covered(final).mean() if len(final) else np.nan,
        leaves_s=_percentile(stale_s, 50),
        lost_per_min=60 * total("withdrawn") / total("resting_s")
        if total("resting_s") > 1
        else np.nan,
        cost_us=float(np.mean([s.cost_us for s in scores])) if scores else np.nan,
    )


def covered(reports):
    """Which of the reports (error, u, ...) lie within 2 u of the truth."""
    reports = np.asarray(reports)
    return np.abs(reports[:, 0]) <= 2 * reports[:, 1] + 1e-9


def _percentile(values, percent):
    return float(np.percentile(values, percent)) if values else np.nan


def _ratio(rows):
    rows = rows[np.isfinite(rows[:, 2])] if len(rows) else rows
    if not len(rows):
        return np.nan
    return float(np.sqrt(np.mean(rows[:, 0] ** 2) / np.mean(rows[:, 2] ** 2)))


def line(name, figures, columns=COLUMNS) -> str:
    """One row of a Markdown table."""
    cells = [
        form.format(v) if np.isfinite(v) else ""
        for (_, form), v in zip(columns, figures, strict=True)
    ]
    return f"| {name} | " + " | ".join(cells) + " |"


def heading(title, columns=COLUMNS) -> str:
    """The first two rows."""
    names = [title, *(name for name, _ in columns)]
    return "| " + " | ".join(names) + " |\n|" + "---|" * len(names)

"""Adds scores up and prints the table."""

import numpy as np

COLUMNS = (
    ("miss %", "{:.1f}"), ("false %", "{:.1f}"), ("delay s", "{:.2f}"), ("95th", "{:.2f}"),
    ("rmse", "{:.2f}"), ("final", "{:.2f}"), ("covers %", "{:.0f}"), ("final", "{:.0f}"),
    ("leaves s", "{:.2f}"), ("lost/min", "{:.2f}"), ("us", "{:.0f}"),
)  # fmt: skip


def summary(scores) -> list[float]:
    """The figures of `COLUMNS` for these scores; nan where there is nothing to say.

    False is the share of traces with at least one false rest; rmse and final are ratios to the
    oracle; covers is the share of reports within 2 u of the truth.
    """
    every = lambda name: [v for s in scores for v in getattr(s, name)]  # noqa: E731
    total = lambda name: sum(getattr(s, name) for s in scores)  # noqa: E731
    delays, stale = every("delays_s"), every("stale_s")
    first, final = np.array(every("first")), np.array(every("final"))
    return [
        100 * total("missed") / total("required") if total("required") else np.nan,
        100 * sum(s.false > 0 for s in scores) / len(scores),
        _percentile(delays, 50),
        _percentile(delays, 95),
        _ratio(first),
        _ratio(final),
        _covers(first),
        _covers(final),
        _percentile(stale, 50),
        60 * total("withdrawn") / total("resting_s") if total("resting_s") > 1 else np.nan,
        float(np.mean([s.cost_us for s in scores])),
    ]


def _percentile(values, percent):
    return float(np.percentile(values, percent)) if values else np.nan


def _ratio(rows):
    rows = rows[np.isfinite(rows[:, 2])] if len(rows) else rows
    if not len(rows):
        return np.nan
    return float(np.sqrt(np.mean(rows[:, 0] ** 2) / np.mean(rows[:, 2] ** 2)))


def _covers(rows):
    if not len(rows):
        return np.nan
    return float(100 * np.mean(np.abs(rows[:, 0]) <= 2 * rows[:, 1] + 1e-9))


def line(name, figures) -> str:
    """One row of a Markdown table."""
    cells = [
        form.format(v) if np.isfinite(v) else ""
        for (_, form), v in zip(COLUMNS, figures, strict=True)
    ]
    return f"| {name} | " + " | ".join(cells) + " |"


def heading(title) -> str:
    """The first two rows."""
    names = [title, *(name for name, _ in COLUMNS)]
    return "| " + " | ".join(names) + " |\n|" + "---|" * len(names)

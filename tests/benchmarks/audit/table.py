"""The figures of all logs as one table: a row for each goal, a column for each size."""

import os
import platform
import re
import statistics

GOALS = {
    "audit": "all usual rules but the chain over a sorted open log, opening and evidence included, "
    "against a bare scan of the same columns",
    "audit_us": "… CPU µs a row (the scan)",
    "peak": "… most memory",
    "arrival_us": "the same over the log as it arrived, which opening it sorts, CPU µs a row",
    "arrival_sorting": "… of that, opening and sorting",
    "arrival_peak": "… most memory",
    "impact": "impact, given when gauges were bad, against a bare scan of the captures' columns",
    "oracle": "… captures that turn, against the oracle",
    "own": "chain of our exports, reading included, CPU µs a row",
    "foreign": "chain of a foreign log, a text a row, CPU µs a row",
    "recall": "planted faults found",
    "false": "false alarms, oddities included",
    "peer": "the same by pandas, CPU over ours: as it arrived, chain and impact included",
    "peer_rules": "… without sorting and chain, against ours over the sorted log and impact",
    "peer_us": "… pandas, CPU µs a row",
    "peer_peak": "… pandas, most memory",
    "peer_recall": "… pandas, planted faults found, false alarms",
}
REACH = {
    "audit": "≤ 5 ×",
    "peak": "≤ 0.75 GB",
    "impact": "≤ 1.5 ×",
    "oracle": "all, no other, 1e-12 mm",
    "own": "≤ 0.25 µs",
    "recall": "≥ 0.999",
    "false": "≤ 1 in 10⁷ rows",
    "peer": "≥ 15 ×",
}


def ratios(over, under):
    return [a / b for a, b in zip(over, under, strict=True)]


def figures(log):
    """What one log gives: of each row the text, or numbers with how they are written."""
    audit, arrived, touched, own = (
        log[name] for name in ("audited", "arrived", "touched", "checked")
    )
    rows, chained = audit["rows"], arrived["chained_rows"]
    steps = zip(arrived["opening_s"], arrived["audit_s"], strict=True)
    all_arrived = [sum(each) for each in steps]
    told = {
        "audit": (ratios(audit["audit_s"], audit["scan_s"]), "{:.1f} ×"),
        "audit_us": ([1e6 * s / rows for s in audit["audit_s"]], "{:.3f}"),
        "scan_us": ([1e6 * s / rows for s in audit["scan_s"]], "{:.4f}"),
        "peak": ([audit["peak_gb"]], "{:.2f} GB"),
        "arrival_us": ([1e6 * s / rows for s in all_arrived], "{:.2f}"),
        "arrival_sorting": ([1e6 * s / rows for s in arrived["opening_s"]], "{:.2f}"),
        "arrival_peak": ([arrived["peak_gb"]], "{:.2f} GB"),
        "impact": (ratios(touched["impact_s"], touched["scan_s"]), "{:.2f} ×"),
        "own": ([1e6 * s / own["rows"] for s in own["check_s"]], "{:.3f}"),
        "foreign": ([1e6 * s / chained for s in arrived["chain_s"]], "{:.2f}"),
    }
    if score := log.get("score"):
        told |= {
            "oracle": ([score["turned_right"]], [score["turned"]], [score["turned_wrong"]],
                       [score["apart_mm"]]),
            "recall": ([score["found"]], [score["planted"]]),
            "false": ([score["false"]], None),
        }  # fmt: skip
    if peer := log.get("peer"):
        told |= _of_peer(peer, rows, log)
    return told


def _of_peer(peers, rows, log):
    arrived, audit = log["arrived"], log["audited"]

    def middle(values):
        return statistics.median(values)

    ours_s = sum(middle(arrived[n]) for n in ("opening_s", "audit_s", "chain_s", "impact_s"))
    sorted_s = middle(audit["audit_s"]) + middle(arrived["impact_s"])
    all_s = [each["cpu_s"] for each in peers]
    rules_s = [
        each["cpu_s"] - sum(each["steps"][name] for name in ("sorting", "chain")) for each in peers
    ]
    told = {
        "peer": ([s / ours_s for s in all_s], "{:.1f} ×"),
        "peer_rules": ([s / sorted_s for s in rules_s], "{:.1f} ×"),
        "peer_us": ([1e6 * s / rows for s in all_s], "{:.2f}"),
        "peer_peak": ([each["peak_gb"] for each in peers], "{:.2f} GB"),
    }
    if score := log.get("peer_score"):
        told["peer_recall"] = ([score["found"]], [score["planted"]], [score["false"]])
    return told


def score_of(said):
    """The figures in what the scorer says."""
    all_ = re.search(r"^ALL +(\d+) +(\d+) +[\d.]+ +\d+ +(\d+)", said, re.MULTILINE)
    turned = re.search(
        r"^R16 +(\d+) +(\d+) +[\d.]+ +\d+ +(\d+) .*= ([\d.e+-]+) mm", said, re.MULTILINE
    )
    names = ("planted", "found", "false"), ("turned", "turned_right", "turned_wrong")
    told = {}
    for match, keys in zip((all_, turned), names, strict=True):
        told |= {key: int(match[place]) for place, key in enumerate(keys, start=1)}
    return told | {"apart_mm": float(turned[4])}


def markdown(logs, versions):
    """The table; ``logs`` are figures by size and seed, as `figures` reads them."""
    sizes = sorted({size for size, _ in logs})
    heads = [f"{size:.0e} rows, {_seeds(logs, size)}" for size in sizes]
    lines = [
        f"| | reach | {' | '.join(heads)} |",
        f"|---|---|{'---|' * len(sizes)}",
    ]
    told = {key: figures(log) for key, log in logs.items()}
    for row, words in GOALS.items():
        cells = [_cell(row, [each for (s, _), each in told.items() if s == size]) for size in sizes]
        if any(cells):
            lines.append(f"| {words} | {REACH.get(row, '')} | {' | '.join(cells)} |")
    return "\n".join(
        [
            *lines,
            "",
            f"{versions}. The middle of all repeats; in brackets the least and the largest.",
        ]
    )


def _seeds(logs, size):
    seeds = sorted(seed for s, seed in logs if s == size)
    return f"seed{'s' if len(seeds) > 1 else ''} {', '.join(map(str, seeds))}"


def _cell(row, logs):
    there = [each[row] for each in logs if row in each]
    if not there:
        return ""
    if row in ("recall", "false", "oracle", "peer_recall"):
        return _counted(row, there)
    values, form = [value for each, _ in there for value in each], there[0][1]
    middle = form.format(statistics.median(values))
    ends = [form.removesuffix(" ×").removesuffix(" GB").format(f(values)) for f in (min, max)]
    said = middle if ends[0] == ends[1] else f"{middle} ({ends[0]}–{ends[1]})"
    if row == "audit_us":
        scan = statistics.median(value for each in logs for value in each["scan_us"][0])
        said += f"; {scan:.4f}"
    return said


def _counted(row, there):
    sums = [
        None if parts[0] is None else [value for part in parts for value in part]
        for parts in zip(*there, strict=True)
    ]
    if row == "false":
        return str(sum(sums[0]))
    if row == "recall":
        return f"{sum(sums[0]):,} of {sum(sums[1]):,}"
    if row == "peer_recall":
        return f"{sum(sums[0]):,} of {sum(sums[1]):,}; {sum(sums[2])} false"
    right, all_, wrong, apart = sums
    return f"{sum(right):,} of {sum(all_):,}, {sum(wrong)} other, {max(apart):.0e} mm apart"


def versions(peer=None):
    """What it was measured with."""
    import duckdb
    import numpy as np

    cpu = "unknown processor"
    try:
        with open("/proc/cpuinfo", encoding="utf-8") as file:
            cpu = next(line.partition(": ")[2].strip() for line in file if "model name" in line)
    except (OSError, StopIteration):
        pass
    parts = [
        f"{os.cpu_count()} cores ({cpu}), one of them used",
        f"Python {platform.python_version()}",
        f"DuckDB {duckdb.__version__}",
        f"numpy {np.__version__}",
    ]
    return ", ".join([*parts, f"pandas {peer}"] if peer else parts)

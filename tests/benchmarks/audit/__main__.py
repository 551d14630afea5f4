"""Audit logs with planted faults: what it costs, what it finds. Each folder is one generated log.

Folders hold `calib/*.parquet`, `caps/*.parquet`, `gauges.parquet` and `certs.parquet`, as
`tests/daq/audit/generator_mapping.toml` reads them. Each is laid out by gauge and number once, in
`FOLDER/sorted`, and measured there. With --scorer the evidence is held against the planted faults
by that program, run by --python.
"""

import argparse
import json
import shutil
import statistics
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[3]


def main():
    parser = argparse.ArgumentParser(description=__doc__, prog="python -m tests.benchmarks.audit")
    parser.add_argument("folders", nargs="+", type=Path)
    parser.add_argument("--repeats", type=int, default=3, help="interleaved; medians are told")
    parser.add_argument("--scorer", type=Path)
    parser.add_argument("--python", default=sys.executable, help="that runs the scorer")
    asked = parser.parse_args()
    for folder in asked.folders:
        laid = laid_out(folder)
        runs = [
            {what: measured(what, laid) for what in ("scanned", "audited", "chained", "touched")}
            for _ in range(asked.repeats)
        ]
        print(f"{folder.name}: {told(runs)}", flush=True)
        if asked.scorer is not None:
            measured("found", laid)
            print(scored(asked, folder, laid), flush=True)


def laid_out(folder):
    """The log's files sorted by gauge and number, made once."""
    import duckdb

    place = folder / "sorted"
    if not place.exists():
        con = duckdb.connect()
        con.execute("SET memory_limit = '2GB'")
        for part in ("calib", "caps"):
            (place / part).mkdir(parents=True)
            for file in sorted((folder / part).glob("*.parquet")):
                con.execute(
                    f"COPY (SELECT * FROM '{file}' ORDER BY gauge_id, seq) "
                    f"TO '{place / part / file.name}' (FORMAT parquet)"
                )
        for name in ("gauges", "certs"):
            shutil.copy(folder / f"{name}.parquet", place)
    return place


def measured(what, folder):
    done = subprocess.run(
        [sys.executable, "-m", "tests.benchmarks.audit.measuring", what, str(folder)],
        capture_output=True,
        text=True,
        check=False,
        cwd=ROOT,
    )
    if done.returncode:
        raise SystemExit(done.stderr)
    return json.loads(done.stdout)


def told(runs):
    """The medians of all repeats; ratios are within a repeat."""

    def middle(figure):
        return statistics.median(figure(each) for each in runs)

    rows = runs[0]["audited"]["rows"]
    return json.dumps(
        {
            "rows": rows,
            "findings": runs[0]["audited"]["findings"],
            "audit_over_scan": round(
                middle(lambda r: r["audited"]["cpu_s"] / r["scanned"]["cpu_s"]), 2
            ),
            "audit_us_a_row": round(middle(lambda r: r["audited"]["cpu_s"]) / rows * 1e6, 3),
            "scan_us_a_row": round(middle(lambda r: r["scanned"]["cpu_s"]) / rows * 1e6, 4),
            "peak_gb": round(max(r["audited"]["peak_gb"] for r in runs), 3),
            "impact_over_scan": round(middle(lambda r: r["touched"]["ratio"]), 2),
            "chain_us_a_row": round(middle(lambda r: r["chained"]["us_a_row"]), 3),
        }
    )


def scored(asked, folder, laid):
    """What the scorer says of all evidence; the captures that turn stand there as R16."""
    import duckdb

    from tests.daq.audit.scored import in_codes

    coded, out = laid / "coded.parquet", laid / "scored.parquet"
    in_codes(laid / "evidence.parquet", coded)
    duckdb.sql(
        f"""COPY (SELECT * FROM '{coded}' UNION ALL
          SELECT 'R16', gauge_id, NULL, seq, seq, corrected FROM '{laid}/turned.parquet')
          TO '{out}' (FORMAT parquet)"""
    )
    done = subprocess.run(
        [asked.python, str(asked.scorer), str(folder), str(out)],
        capture_output=True,
        text=True,
        check=True,
    )
    return done.stdout


if __name__ == "__main__":
    main()

"""Audit generated logs with planted faults: what it costs, and what it finds, as one table.

Each log lies in a folder of its own in --data, and is made there by --generator if it is not. With
--scorer the evidence is held against what was planted. The generator, the scorer and the same audit
in pandas are run by --python. What was measured of a log is kept beside it in `measured.json`, and
with --told only the table is made anew of that.
"""

import argparse
import json
import subprocess
import sys
from pathlib import Path

from tests.benchmarks.audit.logs import generated
from tests.benchmarks.audit.table import markdown, score_of, versions

ROOT = Path(__file__).parents[3]
PEER = Path(__file__).with_name("by_pandas.py")


def main():
    parser = argparse.ArgumentParser(description=__doc__, prog="python -m tests.benchmarks.audit")
    parser.add_argument("--data", type=Path, required=True, help="the folder of all logs")
    parser.add_argument("--seeds", type=int, nargs="+", default=[7])
    parser.add_argument("--rows", type=float, nargs="+", default=[1e7])
    parser.add_argument("--repeats", type=int, default=3, help="by turns; the middle is told")
    parser.add_argument("--generator", type=Path)
    parser.add_argument("--scorer", type=Path)
    parser.add_argument("--python", help="with pandas and pyarrow; without it there is no peer")
    parser.add_argument(
        "--peer-repeats",
        type=int,
        default=1,
        help="of the audit in pandas; 0: none, as where its memory does not do",
    )
    parser.add_argument("--told", action="store_true", help="measure nothing, make the table")
    asked = parser.parse_args()
    logs = {}
    for rows in asked.rows:
        for seed in asked.seeds:
            python = asked.python or sys.executable
            folder = generated(asked.data, rows, seed, asked.generator, python)
            kept = folder / "measured.json"
            if not asked.told:
                kept.write_text(json.dumps(measured(folder, asked), indent=1))
            if kept.exists():
                logs[rows, seed] = json.loads(kept.read_text())
    peers = {each["pandas"] for log in logs.values() for each in log.get("peer", [])}
    print(markdown(logs, versions(", ".join(sorted(peers)))))


def measured(folder, asked):
    """All figures of one log."""
    step(folder, "made", 1)
    log = {
        name: step(folder, name, asked.repeats)
        for name in ("audited", "touched", "checked", "arrived")
    }
    if asked.python is not None and asked.peer_repeats:
        out = folder / "evidence-peer.parquet"
        words = [asked.python, str(PEER), str(folder), str(out)]
        log["peer"] = [json.loads(run(words)) for _ in range(asked.peer_repeats)]
        say(folder, f"pandas: {log['peer'][-1]}")
        if asked.scorer is not None:
            log["peer_score"] = scored(asked, folder, out)
    if asked.scorer is not None:
        step(folder, "found", 1)
        log["score"] = scored(asked, folder, folder / "scored.parquet")
    return log


def step(folder, what, repeats):
    words = [sys.executable, "-m", "tests.benchmarks.audit.measuring", what, str(folder)]
    told = json.loads(run([*words, str(repeats)]))
    say(folder, f"{what}: {told}")
    return told


def scored(asked, folder, evidence):
    said = run([asked.python or sys.executable, str(asked.scorer), str(folder), str(evidence)])
    say(folder, said)
    return score_of(said)


def run(words):
    done = subprocess.run(words, capture_output=True, text=True, check=False, cwd=ROOT)
    if done.returncode:
        raise SystemExit(done.stderr)
    return done.stdout


def say(folder, words):
    """What goes on, apart from the table."""
    print(f"{folder.name}: {words}", file=sys.stderr, flush=True)


if __name__ == "__main__":
    main()

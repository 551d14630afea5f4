"""One figure each, in a process of its own, so that its memory is its own.

    python -m tests.benchmarks.audit.measuring WHAT FOLDER

prints a JSON object. CPU seconds are of this process; everything runs on one thread.
"""

import json
import resource
import sys
import tempfile
import time
from pathlib import Path

MAPPING = Path(__file__).parents[2] / "daq" / "audit" / "generator_mapping.toml"


def opened(folder):
    from daq.audit.intake import load_mapping, open_source

    return open_source([Path(folder)], load_mapping(MAPPING))


def peak_gb():
    """Most memory that this process ever had; Linux tells it in KiB."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024**2


def audited(folder):
    """All rules but the chain, evidence included, from opening the files on."""
    from daq.audit.engine import audit, write_evidence
    from daq.audit.rules import built_in

    rules = [each for each in built_in() if each.id != "broken-chain"]
    began_s = time.process_time()
    with opened(folder) as source:
        found = audit(source, rules)
        write_evidence(found.findings, Path(folder) / "evidence-timed.parquet")
        took_s = time.process_time() - began_s
        rows = sum(source.rows(table) for table in ("points", "captures"))
    return {"cpu_s": took_s, "rows": rows, "peak_gb": peak_gb(), "findings": len(found.findings)}


def found(folder):
    """All findings, the chain's too, and the captures that turn: two files of evidence."""
    import duckdb
    import numpy as np

    from daq.audit.engine import audit, write_evidence
    from daq.audit.impact.from_source import impact_from
    from daq.audit.impact.touched import FLIPS
    from daq.audit.rules import built_in

    with opened(folder) as source:
        write_evidence(audit(source, built_in()).findings, Path(folder) / "evidence.parquet")
        touched = impact_from(source).touched
    turned = [(each, i) for each in touched for i in np.flatnonzero(each.group == FLIPS)]
    rows = {
        "gauge_id": np.array([int(each.period.gauge) for each, _ in turned], dtype=np.int64),
        "seq": np.array([int(each.captures.seq[i]) for each, i in turned], dtype=np.int64),
        "corrected": np.array([float(each.corrected_mm[i]) for each, i in turned]),
    }
    assert rows
    duckdb.sql(f"COPY (SELECT * FROM rows) TO '{folder}/turned.parquet' (FORMAT parquet)")
    return {"turned": len(turned)}


def scan_s(con, files, columns):
    """CPU seconds to read columns and do next to nothing with them.

    Not ``max(column)``: that is answered from a file's statistics, and nothing is read.
    """
    kinds = {row[0]: row[1] for row in con.execute(f"DESCRIBE SELECT * FROM '{files}'").fetchall()}
    least = {"VARCHAR": "sum(strlen({}))", "TIMESTAMP": "sum(epoch_us({}) & 1023)"}
    asked = ", ".join(least.get(kinds[each], "sum({})").format(f'"{each}"') for each in columns)
    began_s = time.process_time()
    con.execute(f"SELECT {asked} FROM '{files}'").fetchall()
    return time.process_time() - began_s


def one_thread():
    import duckdb

    con = duckdb.connect()
    con.execute("SET threads = 1")
    return con


def scanned(folder):
    """A bare scan of the columns that the kernel reads."""
    from daq.audit.intake import load_mapping
    from daq.audit.kernel.columns import CAPTURES, POINTS

    mapping, con, took_s = load_mapping(MAPPING), one_thread(), 0.0
    for table, part, wanted in (("points", "calib", POINTS), ("captures", "caps", CAPTURES)):
        columns = getattr(mapping, table).columns
        names = dict.fromkeys(columns[each].column for each in wanted if each in columns)
        took_s += scan_s(con, f"{folder}/{part}/*.parquet", names)
    return {"cpu_s": took_s}


def chained(folder):
    """The chain of the points, row by row, as the log has it."""
    from daq.audit.engine.breaks import add_breaks
    from daq.audit.engine.store import Store

    with opened(folder) as source, tempfile.TemporaryDirectory() as place:
        store = Store(Path(place), 192)
        began_s = time.process_time()
        add_breaks(store, source)
        took_s = time.process_time() - began_s
        store.close()
        rows = source.rows("points")
    return {"cpu_s": took_s, "us_a_row": took_s / rows * 1e6}


def touched(folder):
    """What bad gauges touched, given when they were bad, and a bare scan of the captures."""
    from daq.audit.impact import from_source as impact

    with opened(folder) as source:
        judges = impact.Judges(*(impact._small(source, n) for n in ("gauges", "calibrations")))
        points = impact._joined(
            impact._of_bad_gauges(source, judges), impact._there(source, "points")
        )
        periods = list(impact.periods_in(points, judges, source.names))
        began_s = time.process_time()
        captures, texts = impact._captures(source, periods)
        impact.impact_within(periods, captures, texts, in_time=False)
        took_s = time.process_time() - began_s
    names = ["gauge_id", "seq", "ts", "job", "feature", "value", "u", "lsl", "usl", "operator"]
    bare_s = scan_s(one_thread(), f"{folder}/caps/*.parquet", names)
    return {"cpu_s": took_s, "scan_s": bare_s, "ratio": took_s / bare_s}


WHAT = {each.__name__: each for each in (audited, found, scanned, chained, touched)}

if __name__ == "__main__":
    print(json.dumps(WHAT[sys.argv[1]](sys.argv[2])))

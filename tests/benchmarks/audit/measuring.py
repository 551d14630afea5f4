"""Figures of one log, taken in a process of its own so that its memory is its own.

    python -m tests.benchmarks.audit.measuring WHAT FOLDER REPEATS

prints a JSON object. CPU seconds are of this process, which works on one thread. What is told as a
ratio was measured by turns, so that both sides meet the same machine.
"""

import json
import resource
import sys
import tempfile
import time
from pathlib import Path

from tests.benchmarks.audit.logs import exported, in_open_format, opened


def peak_gb():
    """Most memory that this process ever had; Linux tells it in KiB."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024**2


def timed_s(work, *given):
    began_s = time.process_time()
    work(*given)
    return time.process_time() - began_s


def usual_rules(*, chain):
    """The rules that are run where none are named."""
    from daq.audit.rules import built_in, chosen

    return [rule for rule in chosen(built_in(), ()) if chain or rule.id != "broken-chain"]


def one_thread():
    import duckdb

    connection = duckdb.connect()
    connection.execute("SET threads = 1")
    return connection


def scan_s(connection, files, columns):
    """CPU seconds to read columns and do next to nothing with them: a bare scan.

    Not ``max(column)``: that is answered from a file's statistics, and nothing is read.
    """
    names = ", ".join(
        f'sum(strlen("{name}"))' if kind == "VARCHAR" else f'sum("{name}")'
        for name, kind, *_ in connection.execute(f"DESCRIBE SELECT * FROM '{files}'").fetchall()
        if name in columns
    )
    return timed_s(lambda: connection.execute(f"SELECT {names} FROM '{files}'").fetchall())


def made(folder, repeats):
    """The logs that are made of a generated one, before anything is measured."""
    in_open_format(folder)
    exported(folder)
    return {}


def audited(folder, repeats):
    """All usual rules but the chain over the sorted open log: from opening it to the evidence."""
    from daq.audit.engine import audit, write_evidence
    from daq.audit.engine.fill import capture_columns, extras_of
    from daq.audit.intake import open_source
    from daq.audit.kernel import POINTS

    log, rules, told, audit_s, bare_s = in_open_format(folder), usual_rules(chain=False), {}, [], []
    columns = {"points": POINTS, "captures": capture_columns(extras_of(rules))}

    def work():
        with open_source([log]) as source:
            found = audit(source, rules)
            write_evidence(found.findings, folder / "evidence-open.parquet")
            told["rows"] = sum(source.rows(table) for table in columns)
            told["findings"] = len(found.findings)

    for _ in range(repeats):
        audit_s.append(timed_s(work))
        # That of the first audit, before anything else was done here.
        told.setdefault("peak_gb", peak_gb())
        scans = ((f"{log}/{table}/*.parquet", names) for table, names in columns.items())
        bare_s.append(sum(scan_s(one_thread(), *each) for each in scans))
    return {**told, "rules": len(rules), "audit_s": audit_s, "scan_s": bare_s}


def arrived(folder, repeats):
    """The log as it was generated: opening it, which sorts it; the rules; chain and impact."""
    from daq.audit.engine import audit, write_evidence
    from daq.audit.engine.breaks import add_breaks
    from daq.audit.engine.store import Store
    from daq.audit.impact.from_source import impact_from

    rules, told = usual_rules(chain=False), {}
    steps = {name: [] for name in ("opening_s", "audit_s", "chain_s", "impact_s")}

    def rest(source):
        found = audit(source, rules)
        write_evidence(found.findings, folder / "evidence-arrived.parquet")
        told["chained_rows"] = source.rows("points")

    def chain(source):
        with tempfile.TemporaryDirectory() as place:
            store = Store(Path(place), 192)
            add_breaks(store, source)
            store.close()

    for _ in range(repeats):
        began_s = time.process_time()
        with opened(folder) as source:
            steps["opening_s"].append(time.process_time() - began_s)
            steps["audit_s"].append(timed_s(rest, source))
            told.setdefault("peak_gb", peak_gb())
            steps["chain_s"].append(timed_s(chain, source))
            steps["impact_s"].append(timed_s(impact_from, source))
    return {**told, **steps}


def touched(folder, repeats):
    """What bad gauges touched, given when they were bad, over a bare scan of the captures."""
    from daq.audit.impact.from_source import captures_within, periods_from
    from daq.audit.impact.from_tables import WANTED
    from daq.audit.impact.impact import impact_within
    from daq.audit.intake import open_source

    log, impact_s, bare_s = in_open_format(folder), [], []
    with open_source([log]) as source:
        periods = periods_from(source)

        def work():
            captures, counts = captures_within(source, periods)
            impact_within(periods, captures, counts, in_time=False)

        for _ in range(repeats):
            impact_s.append(timed_s(work))
            files = f"{log}/captures/*.parquet"
            bare_s.append(scan_s(one_thread(), files, WANTED["captures"]))
    return {"periods": len(periods), "impact_s": impact_s, "scan_s": bare_s}


def checked(folder, repeats):
    """The chain of an export, reading included: every row of it, and the files as they lie."""
    from daq.audit.export import check_export

    log, check_s = exported(folder), []

    def check():
        if problems := check_export(log):
            raise SystemExit("\n".join(problems))

    for _ in range(repeats):
        check_s.append(timed_s(check))
    files = [f"{log}/{table}/**/*.parquet" for table in ("points", "captures")]
    counted = one_thread().execute("SELECT count(*) FROM read_parquet(?)", [files]).fetchall()
    return {"check_s": check_s, "rows": counted[0][0]}


def found(folder, repeats):
    """All findings, the chain's too, and the captures that turn, as the scorer reads them."""
    import duckdb
    import numpy as np

    from daq.audit.engine import audit, write_evidence
    from daq.audit.impact.from_source import impact_from
    from daq.audit.impact.touched import FLIPS
    from tests.daq.audit.scored import in_codes

    with opened(folder) as source:
        findings = audit(source, usual_rules(chain=True)).findings
        write_evidence(findings, folder / "evidence.parquet")
        impact = impact_from(source).touched
    in_codes(folder / "evidence.parquet", folder / "coded.parquet")
    turned = [(each, i) for each in impact for i in np.flatnonzero(each.group == FLIPS)]
    rows = {
        "gauge_id": np.array([int(each.period.gauge) for each, _ in turned], dtype=np.int64),
        "seq": np.array([int(each.captures.seq[i]) for each, i in turned], dtype=np.int64),
        "corrected": np.array([float(each.corrected_mm[i]) for each, i in turned]),
    }
    assert rows
    duckdb.sql(
        f"""COPY (SELECT * FROM '{folder}/coded.parquet' UNION ALL
          SELECT 'R16', gauge_id, NULL, seq, seq, corrected FROM rows)
          TO '{folder}/scored.parquet' (FORMAT parquet)"""
    )
    return {"findings": len(findings), "turned": len(turned)}


WHAT = {each.__name__: each for each in (made, audited, arrived, touched, checked, found)}

if __name__ == "__main__":
    print(json.dumps(WHAT[sys.argv[1]](Path(sys.argv[2]), int(sys.argv[3]))))

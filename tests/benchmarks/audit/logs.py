"""The logs that are measured, each made once and kept beside the others.

`FOLDER` holds what the generator wrote, in the order of arrival: `calib/*.parquet`,
`caps/*.parquet`, `gauges.parquet`, `certs.parquet`, as `tests/daq/audit/generator_mapping.toml`
reads them. `FOLDER-open` is the same log in the open format, sorted by gauge and number;
`FOLDER-exported` its points and captures as a logbook's export has them, chained run by run.
"""

import hashlib
import shutil
import subprocess
from pathlib import Path

MAPPING = Path(__file__).parents[2] / "daq" / "audit" / "generator_mapping.toml"
ROWS_A_RUN = 1 << 22
ID = "b0000000-0000-4000-8000-000000000000"


def generated(data, rows, seed, generator, python):
    """The folder of a generated log; made by that program, run by that Python, if it is not there.

    Raises:
        SystemExit: it is not there and no program was named.
    """
    folder = data / f"seed-{seed}-rows-{rows:.0e}"
    if not (folder / "meta.json").exists():
        if generator is None:
            raise SystemExit(f"{folder} is not there. Name the program that makes it: --generator")
        asked = [str(folder), "--rows", str(rows), "--seed", str(seed)]
        subprocess.run([python, str(generator), *asked], check=True, capture_output=True)
    return folder


def opened(folder):
    """A log as it was generated."""
    from daq.audit.intake import load_mapping, open_source

    return open_source([Path(folder)], load_mapping(MAPPING))


def in_open_format(folder):
    """The log in the open format, sorted; made if it is not there."""
    from daq.audit.intake import Limits, convert_log, load_mapping

    to = folder.with_name(f"{folder.name}-open")
    if not to.exists():
        convert_log([folder], load_mapping(MAPPING), to, limits=Limits(memory_mb=2000))
    return to


def exported(folder):
    """Points and captures as a logbook's export has them; made if they are not there."""
    to = folder.with_name(f"{folder.name}-exported")
    if not to.exists():
        partial = folder.with_name(f"{folder.name}-exported.partial")
        shutil.rmtree(partial, ignore_errors=True)
        _exported(in_open_format(folder), partial)
        partial.rename(to)
    return to


def _exported(log, to):
    """Files of points and captures, each a committed run, as an export commits them."""
    import duckdb

    from daq.audit.export.manifest import Manifest
    from daq.audit.layout import LARGE, TABLES

    run = 0
    with duckdb.connect() as connection:
        for table in (TABLES[name] for name in LARGE):
            for file in sorted((log / table.name).glob("*.parquet")):
                connection.execute(f"CREATE OR REPLACE VIEW log AS SELECT * FROM '{file}'")
                ((rows,),) = connection.execute("SELECT count(*) FROM log").fetchall()
                for first in range(0, rows, ROWS_A_RUN):
                    run += 1
                    part = _as_text(connection, table, first)
                    _commit(connection, Manifest(to / "chain" / ID), table, run, part, to)


def _as_text(connection, table, first):
    """SQL for some rows, with names as text, as they are in an export."""
    has = {name for name, *_ in connection.execute("DESCRIBE log").fetchall()} - {"link"}
    chosen = ", ".join(
        f"CAST({each.name} AS VARCHAR) AS {each.name}" if each.kind == "text" else each.name
        for each in table.columns
        if each.name in has
    )
    return f"SELECT {chosen} FROM log LIMIT {ROWS_A_RUN} OFFSET {first}"


def _commit(connection, manifest, table, run, part, to):
    from daq.audit.export.chain import digest_of, link_of
    from daq.audit.export.packing import connected, opened_file
    from daq.audit.layout import VERSION

    name = f"{table.name}/site=all/{ID[:8]}-{run:06d}"
    out = to / f"{name}.parquet"
    out.parent.mkdir(parents=True, exist_ok=True)
    form = "(FORMAT parquet, COMPRESSION zstd)"
    connection.execute(f"CREATE OR REPLACE TEMP TABLE part AS {part}")
    connection.execute(f"COPY part TO '{out}' {form}")
    with connected() as reading, opened_file(reading, out, table) as file:
        rows, digest = file.rows, digest_of(table, file.columns())
    facts = {"version": VERSION, "run": run, "logbook": ID, "digests": {name: digest}}
    link = link_of(manifest.link, facts)
    connection.execute(f"COPY (SELECT *, '{link}' AS link FROM part) TO '{out}' {form}")
    sha256 = hashlib.sha256(out.read_bytes()).hexdigest()
    listed = {"file": f"{name}.parquet", "sha256": sha256, "rows": rows, "digest": digest}
    manifest.commit(facts, [listed], {"run": run})

"""What reading a log may use, and a DuckDB that uses no more."""

from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

import duckdb

from daq.audit.intake.quoting import literal


@dataclass(frozen=True, slots=True)
class Limits:
    """What reading a log may use.

    ``memory_mb`` bounds DuckDB; what does not fit goes to a folder made in ``folder`` (None: where
    the system keeps such). ``block_rows`` is how many rows a block has, unless one gauge has more.
    """

    memory_mb: int = 256
    threads: int = 1
    block_rows: int = 1 << 18
    folder: Path | None = None


def connected(limits: Limits, folder: Path) -> duckdb.DuckDBPyConnection:
    """DuckDB within limits; its own file, and what does not fit into memory, are in a folder."""
    connection = duckdb.connect(str(folder / "working.duckdb"))
    for setting in (
        f"memory_limit = '{limits.memory_mb}MB'",
        f"threads = {limits.threads}",
        f"temp_directory = {literal(str(folder / 'spill'))}",
        "TimeZone = 'UTC'",
        "enable_progress_bar = false",
        "preserve_insertion_order = true",
        "autoinstall_known_extensions = false",
    ):
        connection.execute(f"SET {setting}")
    with suppress(duckdb.CatalogException):  # older ones have no such setting, and are slower
        connection.execute("SET parquet_metadata_cache = true")
    return connection

"""What the statistics in a Parquet file say of its columns, so that it need not be read for that.

A writer of Parquet puts the number of nulls, the least and the largest value of each column into
each row group. They are exact where they stand. Of numbers with a fraction they leave out what is
no number, so nothing is taken from them there; DuckDB does take it, and its filters pass over such
values.
"""

from dataclasses import dataclass
from pathlib import Path

import duckdb

from daq.audit.intake.quoting import literal

Ends = tuple[str | None, str | None]


@dataclass(frozen=True, slots=True)
class Known:
    """A column: whether no value is missing, and for each row group its ends, as text, if known."""

    full: bool
    ends: tuple[Ends, ...]

    def is_within(self, least: int, most: int) -> bool:
        """Whether it is sure that no value is missing or outside; of whole numbers."""
        try:
            return self.full and all(
                low is not None and high is not None and least <= int(low) and int(high) <= most
                for low, high in self.ends
            )
        except ValueError:
            return False

    def is_filled(self) -> bool:
        """Whether it is sure that no value is missing or an empty text."""
        return self.full and all(low for low, _ in self.ends)

    def is_finite(self) -> bool:
        """Whether it is sure that no moment is before or after all others."""
        return all(low and high and "inf" not in low + high for low, high in self.ends)


def known_of(connection: duckdb.DuckDBPyConnection, path: Path) -> dict[str, Known]:
    """What is known of each column of a Parquet file, by its name."""
    rows = connection.execute(
        "SELECT path_in_schema, stats_null_count, stats_min_value, stats_max_value "
        f"FROM parquet_metadata({literal(str(path))}) ORDER BY row_group_id"
    ).fetchall()
    found: dict[str, list[tuple[int | None, Ends]]] = {}
    for name, nulls, least, most in rows:
        found.setdefault(name, []).append((nulls, (least, most)))
    return {
        name: Known(all(nulls == 0 for nulls, _ in groups), tuple(ends for _, ends in groups))
        for name, groups in found.items()
    }


def rows_in(connection: duckdb.DuckDBPyConnection, path: Path) -> int:
    """How many rows a Parquet file has."""
    row = connection.execute(
        f"SELECT sum(num_rows) FROM parquet_file_metadata({literal(str(path))})"
    ).fetchone()
    return int(row[0]) if row and row[0] is not None else 0

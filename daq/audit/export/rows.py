"""Rows of the open log format from records: whole numbers and names, nothing else."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

from daq.audit.intake.convert import FACTORS, rounded
from daq.audit.layout import NULL, TABLES

Row = dict[str, int | str]

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


def nm(length_mm: Decimal | None) -> int:
    """A length in whole nanometres, half to even; `NULL` for None."""
    return NULL if length_mm is None else rounded(length_mm, FACTORS["mm"])


def mc(temperature_c: Decimal | None) -> int:
    """A temperature in whole thousandths of a degree, half to even; `NULL` for None."""
    return NULL if temperature_c is None else rounded(temperature_c, FACTORS["degC"])


def us(at: datetime) -> int:
    """Microseconds since 1970 UTC."""
    return (at - _EPOCH) // timedelta(microseconds=1)


def day_us(day: date | None, *, after: bool = False) -> int:
    """The midnight (UTC) that a day begins with, or the one ``after`` it; `NULL` for None."""
    if day is None:
        return NULL
    begins = datetime(day.year, day.month, day.day, tzinfo=UTC)
    return us(begins + timedelta(days=1) if after else begins)


@dataclass
class Rows:
    """New rows by table and site; ``counts`` are the numbers given out so far, a gauge.

    ``counts`` has keys such as ``points/DI-7``.
    """

    counts: dict[str, int] = field(default_factory=dict)
    by_table: dict[str, dict[str, list[Row]]] = field(default_factory=dict)

    def add(self, table: str, site: str, **values: int | str) -> None:
        """A new row; what is not given is missing. Captures and points are numbered here."""
        row: Row = {
            column.name: "" if column.kind == "text" else NULL for column in TABLES[table].columns
        }
        row.update(values)
        if "site" in row:
            row["site"] = site
        if "seq" in row:
            key = f"{table}/{row['gauge']}"
            self.counts[key] = row["seq"] = self.counts.get(key, 0) + 1
        self.by_table.setdefault(table, {}).setdefault(site, []).append(row)

    def sorted(self) -> Iterable[tuple[str, str, list[Row]]]:
        """Table, site and rows in the table's order, tables in the layout's order."""
        for table, layout in TABLES.items():
            for site, rows in sorted(self.by_table.get(table, {}).items()):
                yield table, site, sorted(rows, key=lambda row: [row[c] for c in layout.order])

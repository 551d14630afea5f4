"""Invented foreign logs and mappings for them, and what a source makes of them."""

import duckdb

from daq.audit.intake import Limits, mapping_from, open_source

POINTS = """
[mapping]
format = 1

[points]
files = "{files}"
format = "{format}"
{options}

[points.columns]
gauge = "Gauge"
run = "Run"
seq = "No"
at_us = {{ column = "When", {time} }}
nominal_nm = {{ column = "Nominal", unit = "{unit}" }}
reference_nm = {{ column = "Reference", unit = "{unit}" }}
indicated_nm = {{ column = "Reading", unit = "{unit}" }}
found = {{ column = "State", words = {{ before = "as found", after = "as left" }} }}
operator = "By"
"""

NAMES = ("Gauge", "Run", "No", "When", "Nominal", "Reference", "Reading", "State", "By")


def points_mapping(files="*.csv", format="csv", options="", time='time = "iso"', unit="mm"):
    text = POINTS.format(files=files, format=format, options=options, time=time, unit=unit)
    return mapping_from(text.encode(), "mapping.toml")


def row(seq, gauge="G-1", when="2026-03-01T08:00:00", reading="5.001", by="A. Fitter", **other):
    """The cells of a row, by the foreign names."""
    cells = {
        "Gauge": gauge,
        "Run": f"{gauge}/1",
        "No": str(seq),
        "When": when,
        "Nominal": "5",
        "Reference": "5.0001",
        "Reading": reading,
        "State": "before",
        "By": by,
    }
    return {**cells, **other}


def csv_text(rows, separator=","):
    lines = [separator.join(NAMES)]
    lines += [separator.join(each[name] for name in NAMES) for each in rows]
    return "\n".join(lines) + "\n"


def write_parquet(path, query):
    """What a query of DuckDB gives, as a Parquet file."""
    with duckdb.connect() as connection:
        connection.execute(f"COPY ({query}) TO '{path}' (FORMAT parquet)")


def source(tmp_path, mapping=None, rejects_to=None, **limits):
    return open_source([tmp_path], mapping, limits=Limits(**limits), rejects_to=rejects_to)


def columns(found, table="points", *names):
    """Columns of a table over all its blocks, as lists, names as text."""
    out = {name: [] for name in names}
    for block in found.blocks(table, names):
        for name in names:
            out[name] += block[name].tolist()
    return out


def told(found):
    """The kept rejects as (file name, line, column, reason)."""
    return [(each.file.rpartition("/")[2], *each[1:4]) for each in found.rejects.kept]

"""A folder in which everything is wrong at once: every line is either a row or a reject."""

import random

from tests.daq.audit.intake.foreign import csv_text, points_mapping, row, source, told

OPTIONS = 'separator = ";"\ndecimal = ","\nencoding = ["utf-8", "cp1252"]'
TIME = 'time = ["iso", "%d.%m.%Y %H:%M", "%m/%d/%Y %I:%M %p"]'
WHENS = ("2026-03-01T08:00:00", "01.03.2026 08:00", "03/01/2026 08:00 AM")
COMMA = {"Nominal": "5", "Reference": "5,0001"}


def line(number, fault=""):
    """A line, sound but for its fault, and how it is written."""
    facts = {"when": WHENS[number % 3], "reading": "5,001", "by": "Jürgen", **COMMA}
    if fault == "point":
        facts["reading"] = "5.001"
    elif fault == "date":
        facts["when"] = "2026/03/01"
    elif fault == "number":
        facts["reading"] = "five"
    text = csv_text([row(number, **facts)], ";").splitlines(True)[1]
    if fault == "cells":
        text = text.replace(";", " ", 2)
    elif fault == "quote":
        text = text.replace("Jürgen", '"Jürgen')
    if fault == "bytes":
        return text.replace("ü", "\x81").encode("latin-1")  # is in neither encoding
    return text.encode("cp1252" if number % 2 else "utf-8")


FAULTS = ("point", "date", "number", "cells", "quote", "bytes")


def test_every_line_of_every_file_is_a_row_or_is_told_with_its_line(tmp_path):
    draw = random.Random(6)
    number, wrong = 0, set()
    for name in ("a.csv", "b.csv"):
        lines = [csv_text([], ";").encode()]
        for at in range(2, 402):
            number += 1
            fault = draw.choice(FAULTS) if draw.random() < 0.4 else ""
            lines.append(line(number, fault))
            if fault:
                wrong.add((name, at))
        (tmp_path / name).write_bytes(b"".join(lines))
    with source(tmp_path, points_mapping(options=OPTIONS, time=TIME)) as found:
        assert {(file, at) for file, at, _, _ in told(found)} == wrong
        assert found.rejects.count == len(wrong)
        assert found.rows("points") == 800 - len(wrong)
        assert {each for block in found.blocks("points", ["at_us"]) for each in block["at_us"]} == {
            1_772_352_000_000_000  # 2026-03-01 08:00 UTC, in three forms
        }
        by = next(found.blocks("points", ["operator"]))["operator"]
        assert {*found.names("operator", by)} == {"Jürgen"}


def test_a_folder_of_nothing_but_cut_off_parquet_is_told_file_by_file(tmp_path):
    for name in ("a.parquet", "b.parquet"):
        (tmp_path / name).write_bytes(b"PAR1 and no more")
    with source(tmp_path, points_mapping("*.parquet", "parquet")) as found:
        assert found.rows("points") == 0
        lost = [each.file.rpartition("/")[2] for each in found.rejects.lost_files]
        assert lost == ["a.parquet", "b.parquet"]

"""The page on the log format says what the program does."""

import re
from pathlib import Path

import pytest

from daq.audit.export import export_log
from daq.audit.intake import mapping_from, open_source
from daq.audit.intake.mapping import ENCODINGS, ColumnFrom, TableFrom
from daq.audit.layout import TABLES, VERSION
from tests.daq.audit.export.exported import kept

PAGE = (Path(__file__).parents[3] / "docs" / "log-format.md").read_text("utf-8")


def cells(section):
    """The rows of the first table under a heading, without its head."""
    body = PAGE.split(f"\n### {section}\n")[1].split("\n#")[0]
    lines = [line for line in body.splitlines() if line.startswith("|")]
    return [[cell.strip() for cell in line.strip("|").split(" | ")] for line in lines[2:]]


def blocks(language):
    return re.findall(rf"```{language}\n(.*?)```", PAGE, re.DOTALL)


@pytest.mark.parametrize("name", TABLES)
def test_every_column_is_on_the_page_as_the_program_has_it(name):
    expected = [
        [
            f"`{each.name}`",
            each.kind,
            each.unit,
            "yes" if each.needed else "",
            f"{each.meaning}."
            + (f" One of: {', '.join(w for w in each.words if w)}." if each.words else ""),
        ]
        for each in TABLES[name].columns
    ]
    assert cells(f"`{name}`") == expected
    order = ", ".join(f"`{each}`" for each in TABLES[name].order)
    assert f"One row is {TABLES[name].meaning}. Sorted by {order}." in PAGE


def test_no_other_table_is_on_the_page():
    assert re.findall(r"### `(\w+)`", PAGE) == [*TABLES]
    assert f"Version {VERSION}." in PAGE


@pytest.mark.parametrize(("section", "form"), [("A table", TableFrom), ("A column", ColumnFrom)])
def test_every_key_of_a_mapping_is_on_the_page(section, form):
    assert [row[0].strip("`") for row in cells(section)] == [*form.model_fields]
    assert all(f"`{each}`" in PAGE for each in ENCODINGS)


def test_the_example_is_read_as_the_page_says(tmp_path):
    example, chain = blocks("toml")
    mapping = mapping_from(example.encode(), "mapping.toml")
    folder = tmp_path / "calibration"
    folder.mkdir()
    (text,) = blocks("csv")
    (folder / "march.csv").write_text(text, "cp1252")
    with open_source([tmp_path], mapping) as found:
        block = next(found.blocks("points", found.columns("points")))
        assert block["indicated_nm"].tolist() == [25_402_540]
        assert block["reference_nm"].tolist() == [25_400_050]
        assert block["temperature_mc"].tolist() == [20_000]
        assert block["at_us"].tolist() == [1_772_352_000_000_000]  # 2026-03-01 08:00 UTC
        assert found.names("operator", block["operator"]) == ["Jürgen"]
        told = "".join(f"{each}\n".replace(f"{tmp_path}/", "") for each in found.rejects.kept)
        assert f"```text\n{told}```" in PAGE
    assert "mapping.toml:" not in chain


def test_the_example_of_a_chain_is_sound():
    mapping = (Path(__file__).parent / "generator_mapping.toml").read_text("utf-8")
    _, chain = blocks("toml")
    assert chain in mapping


def test_the_files_of_an_export_are_named_as_the_page_says(tmp_path):
    done = export_log(kept("1", tmp_path), tmp_path / "exported")
    for path in [*done.files, *(tmp_path / "exported").glob("chain/*/*")]:
        assert f"  {path.relative_to(tmp_path / 'exported')}\n" in PAGE

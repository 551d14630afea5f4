"""What docs/certificate.md says of columns, options and the laboratory's file is so."""

import re
from pathlib import Path

from daq.cli.certificate import FORMATS
from daq.report.certificate.csv import COLUMNS
from daq.report.certificate.laboratory import laboratory_from_bytes
from daq.report.certificate.statements import NOT_AUTHORISED
from tests.daq.report.certificate.making import LABORATORY

PAGE = (Path(__file__).parents[4] / "docs" / "certificate.md").read_text("utf-8")


def test_every_column_is_described_in_order_and_no_other():
    part = PAGE[PAGE.index("| column | |") : PAGE.index("## What it is not")]
    rows = re.findall(r"^\| (`.*?) \|", part, flags=re.M)
    told = [name for row in rows for name in re.findall(r"`([a-z_]+)`", row)]
    assert told == [column.name for column in COLUMNS]


def test_every_format_is_described():
    part = PAGE[PAGE.index("| option | file |") : PAGE.index("## Certificate, draft, void")]
    assert set(FORMATS) <= set(re.findall(r"`--([a-z]+)`", part))


def test_the_laboratory_file_on_the_page_is_sound():
    text = re.search(r"```toml\n(.*?)```", PAGE, flags=re.S).group(1)
    assert laboratory_from_bytes(text.encode(), "lab.toml") == LABORATORY


def test_what_it_says_without_a_name_is_what_the_page_says():
    assert f"*{NOT_AUTHORISED}*" in PAGE

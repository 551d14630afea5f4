"""restpoint certificate --dcc: the file it writes, and that it writes none that is not sound."""

import pytest
from click.testing import CliRunner

from daq.cli import restpoint
from tests.daq.report.certificate.making import adjusted, unfinished
from tests.daq.report.dcc.reading import Read, schema_folder, with_schema

LAB = """\
name = "Invented Length Laboratory"
address = ["1 Example Street", "Inventedtown"]
contact = "length@laboratory.invalid"

[dcc]
country = "XX"
performed = "laboratory"
"""


@pytest.fixture(scope="module")
def book(tmp_path_factory):
    path = tmp_path_factory.mktemp("lab") / "lab.logbook"
    adjusted(path).book.close()
    return path


@pytest.fixture
def lab(tmp_path):
    path = tmp_path / "lab.toml"
    path.write_text(LAB)
    return path


def certificate(book, tmp_path, *options):
    command = ["certificate", "DI-7", "--logbook", str(book), "--output", str(tmp_path / "out")]
    return CliRunner().invoke(restpoint, [*command, "--utc-offset", "+00:00", *map(str, options)])


def test_the_dcc_is_written_beside_the_other_files(book, tmp_path, lab):
    done = certificate(book, tmp_path, "--json", "--dcc", "--lab", lab)
    assert done.exit_code == 0, done.output
    names = sorted(each.name for each in (tmp_path / "out").iterdir())
    assert names == ["certificate-2026-0042.dcc.xml", "certificate-2026-0042.json"]
    document = Read((tmp_path / "out" / "certificate-2026-0042.dcc.xml").read_bytes())
    assert document.text(".//dcc:uniqueIdentifier") == "2026-0042"


def test_what_nobody_stated_is_named_and_no_file_at_all_is_written(book, tmp_path):
    done = certificate(book, tmp_path, "--json", "--dcc")
    assert done.exit_code != 0
    assert 'put country = "…"' in str(done.exception)
    assert not (tmp_path / "out").exists()


def test_a_folder_without_the_schema_gives_no_file_at_all(book, tmp_path, lab):
    done = certificate(book, tmp_path, "--json", "--dcc", "--lab", lab, "--schema", tmp_path)
    assert done.exit_code != 0
    assert "holds no DCC schema" in str(done.exception)
    assert not (tmp_path / "out").exists()


def test_a_schema_without_a_dcc_is_a_slip(book, tmp_path):
    done = certificate(book, tmp_path, "--json", "--schema", tmp_path)
    assert done.exit_code == 2
    assert "--schema is for --dcc" in done.output


def test_a_draft_gives_no_dcc(tmp_path, lab):
    path = tmp_path / "draft.logbook"
    unfinished(path).book.close()
    done = certificate(path, tmp_path, "--dcc", "--lab", lab)
    assert "made of a certificate only" in str(done.exception)
    assert not (tmp_path / "out").exists()


@with_schema
def test_a_dcc_is_written_that_keeps_to_the_published_schema(book, tmp_path, lab):
    done = certificate(book, tmp_path, "--dcc", "--lab", lab, "--schema", schema_folder())
    assert done.exit_code == 0, done.output
    assert (tmp_path / "out" / "certificate-2026-0042.dcc.xml").exists()

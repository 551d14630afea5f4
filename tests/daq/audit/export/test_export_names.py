"""Names that stand in records lead to no place outside the folder that is exported to."""

from pathlib import Path

import pytest

from daq.audit.export import export_log
from daq.logbook import Logbook
from daq.report.certificate.files import plain_name
from tests.daq.logbook.conftest import BEGUN, make_capture

NAMES = [
    "../../outside",
    "..",
    "/etc/outside",
    "a/../../../outside",
    "C:\\outside",
    "\\\\host\\share",
    "~root",
    "a\nb",
    "-rf",
    "x" * 200,
]


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("from_record", [True, False])
def test_a_site_stays_within_the_folder(tmp_path, name, from_record):
    home = tmp_path / "deep" / "er"
    home.mkdir(parents=True)
    book = home / "a.logbook"
    with Logbook.open(book, at=BEGUN) as logbook:
        logbook.append(make_capture(station=name if from_record else "bench 2"))
    before = set(tmp_path.rglob("*"))
    export_log(book, home / "out", form="jsonl", site="" if from_record else name)
    new = {each for each in set(tmp_path.rglob("*")) - before if "a.logbook" not in each.name}
    assert all((home / "out") in [each, *each.parents] for each in new)
    (file,) = (home / "out").glob("captures/*/*.jsonl")
    assert file.resolve().is_relative_to((home / "out").resolve())


@pytest.mark.parametrize("name", NAMES)
def test_the_name_of_a_certificates_file_is_one_name(name):
    plain = plain_name(name)
    assert plain
    assert Path(plain).name == plain
    assert set("/\\:\n~").isdisjoint(plain)
    assert not plain.startswith((".", "-"))

"""The files of a certificate by format, and the file that says who the laboratory is."""

import json
from pathlib import Path

import pytest

from daq.report.certificate import CertificateError, Laboratory, LaboratoryError
from daq.report.certificate.files import FORMATS, files_for
from daq.report.certificate.laboratory import laboratory_from_bytes
from tests.daq.report.certificate.making import adjusted, broken_off, gauge, unfinished

LAB = """\
name = "Invented Length Laboratory"
address = ["1 Example Street", "Inventedtown"]
contact = "length@laboratory.invalid"
"""


def test_every_format_gives_its_files():
    model = adjusted().model()
    made = files_for(model, FORMATS, Path("out"))
    names = ["html", "pdf", "csv", "schema.json", "json"]
    assert list(made) == [Path(f"out/certificate-2026-0042.{each}") for each in names]
    assert made[Path("out/certificate-2026-0042.html")].startswith(b"<!doctype html>")
    assert made[Path("out/certificate-2026-0042.pdf")].startswith(b"%PDF-")
    text = made[Path("out/certificate-2026-0042.json")].decode()
    assert type(model).model_validate_json(text) == model
    schema = json.loads(made[Path("out/certificate-2026-0042.schema.json")])
    assert schema["fields"][0]["name"] == "row"


def test_what_is_no_certificate_has_a_name_that_says_so():
    assert list(files_for(unfinished().model(), ["csv"], Path())) == [
        Path("draft-DI-7-abcd0000.csv"), Path("draft-DI-7-abcd0000.schema.json"),
    ]  # fmt: skip
    assert list(files_for(broken_off().model(), ["json"], Path())) == [
        Path("void-DI-7-abcd0000.json")
    ]


@pytest.mark.parametrize(
    ("number", "name"),
    [
        ("../../etc/x", "certificate-etc-x.json"),
        ("2026/42 b", "certificate-2026-42-b.json"),
        ("…", "certificate-unnamed.json"),
    ],
)
def test_a_number_never_leads_to_another_folder(number, name):
    model = adjusted(ended={"certificate": number}).model()
    assert list(files_for(model, ["json"], Path("out"))) == [Path("out") / name]


def test_a_label_never_leads_to_another_folder():
    story = unfinished()
    model = story.model().model_copy(
        update={"gauge": story.model().gauge.model_copy(update={"label": gauge().label + "/../x"})}
    )
    assert list(files_for(model, ["json"], Path())) == [Path("draft-DI-7-..-x-abcd0000.json")]


def test_a_format_that_there_is_not_is_refused():
    with pytest.raises(CertificateError, match=r"cannot be made as odt; it can be html, pdf, csv"):
        files_for(unfinished().model(), ["html", "odt"], Path())


def test_a_laboratory_from_its_file():
    assert laboratory_from_bytes(LAB.encode(), "lab.toml") == Laboratory(
        name="Invented Length Laboratory", address=("1 Example Street", "Inventedtown"),
        contact="length@laboratory.invalid",
    )  # fmt: skip
    assert laboratory_from_bytes(b"", "lab.toml") == Laboratory()
    with_more = LAB + '[dcc]\nlanguage = "en"\n'
    assert (
        laboratory_from_bytes(with_more.encode(), "lab.toml").name == "Invented Length Laboratory"
    )


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ('name = "A"\nadress = ["x"]\n', r"lab\.toml:2: "),
        ("name = 7\n", r"lab\.toml:1: "),
        ('address = "one line"\n', r"lab\.toml:1: "),
        ('name = "A\n', r"lab\.toml:1"),
    ],
)
def test_a_mistake_in_it_is_told_with_its_line(text, says):
    with pytest.raises(LaboratoryError, match=says):
        laboratory_from_bytes(text.encode(), "lab.toml")


def test_bytes_that_are_no_text_are_told_with_their_line():
    with pytest.raises(LaboratoryError, match=r"lab\.toml:2: it is not UTF-8"):
        laboratory_from_bytes(b'name = "A"\ncontact = "\xff"\n', "lab.toml")
    with pytest.raises(LaboratoryError, match="far too large"):
        laboratory_from_bytes(b"#" * 30_000, "lab.toml")

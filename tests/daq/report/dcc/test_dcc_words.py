"""What a DCC says in words, what it leaves out, and what it refuses to make up."""

import subprocess
import sys
from pathlib import Path

import pytest

from daq.report.certificate import Laboratory, Typed
from daq.report.certificate.laboratory import laboratory_from_bytes
from daq.report.dcc import DccError, NotStatedError, Stated, dcc_of, stated_from_bytes
from tests.daq.report.certificate.making import (
    LABORATORY,
    adjusted,
    broken_off,
    gauge,
    troubled,
    unfinished,
    untouched,
)
from tests.daq.report.dcc.reading import NS, STATED, Read, names_of, read

ORDER = {
    "digitalCalibrationCertificate": "administrativeData measurementResults",
    "administrativeData": "dccSoftware refTypeDefinitions coreData items calibrationLaboratory "
    "respPersons customer statements",
    "coreData": "countryCodeISO3166_1 usedLangCodeISO639_1 mandatoryLangCodeISO639_1 "
    "uniqueIdentifier identifications receiptDate beginPerformanceDate endPerformanceDate "
    "performanceLocation issueDate",
    "item": "name description identifications itemQuantities",
    "calibrationLaboratory": "contact cryptElectronicSeal cryptElectronicSignature "
    "cryptElectronicTimeStamp",
    "contact": "name eMail location",
    "respPerson": "person description role cryptElectronicSignature",
    "statement": "name convention reference declaration date conformity data",
    "measurementResult": "name description usedMethods usedSoftware measuringEquipments "
    "influenceConditions results",
    "usedMethod": "name description norm reference",
    "measuringEquipment": "name description identifications measuringEquipmentQuantities",
    "identification": "issuer value name",
    "influenceCondition": "name description status data",
    "result": "name data",
    "real": "value unit dateTime expandedUnc",
    "expandedUnc": "uncertainty coverageFactor coverageProbability",
    "realListXMLList": "valueXMLList unitXMLList expandedUncXMLList",
}
"""Elements in the order that the schema, version 3.2.1, has them in."""


@pytest.mark.parametrize("story", [adjusted, untouched, troubled])
def test_elements_stand_in_the_order_of_the_schema(story):
    document, seen = read(story().model()), set()
    for each in document.root.iter():
        name = each.tag.partition("}")[2]
        if name in ORDER:
            seen.add(name)
            order = ORDER[name].split()
            places = [order.index(child) for child in names_of(each)]
            assert places == sorted(places), name
    assert seen == set(ORDER)


def test_the_certificate_says_who_calibrated_what_when_and_for_whom():
    document = read(adjusted().model())
    core = "dcc:administrativeData/dcc:coreData/"
    assert document.text(core + "dcc:uniqueIdentifier") == "2026-0042"
    assert document.text(core + "dcc:countryCodeISO3166_1") == "XX"
    assert document.text(core + "dcc:performanceLocation") == "laboratory"
    assert document.text(core + "dcc:receiptDate") == "2026-05-29"
    assert document.text(core + "dcc:beginPerformanceDate") == "2026-06-01"
    assert document.text(core + "dcc:issueDate") == "2026-06-01"
    item = [each.text for each in document.all(".//dcc:item//dcc:identification/dcc:value")]
    assert item == ["DI-7", "ADAPTER-0007"]
    lab = ".//dcc:calibrationLaboratory/dcc:contact/"
    assert document.text(lab + "dcc:name/dcc:content") == LABORATORY.name
    assert document.text(lab + "dcc:eMail") == LABORATORY.contact
    lines = [each.text for each in document.all(lab + "dcc:location/dcc:further/dcc:content")]
    assert lines == list(LABORATORY.address)
    assert document.text(".//dcc:customer/dcc:name/dcc:content") == "Engine shop, B. Foreman"


def test_a_contact_that_is_no_e_mail_address_stands_with_the_address():
    typed = Typed(Laboratory(name="Lab", address=("Street 1",), contact="+00 123 456"))
    document = read(adjusted().model(typed))
    assert document.all(".//dcc:eMail") == []
    lines = [each.text for each in document.all(".//dcc:contact//dcc:further/dcc:content")]
    assert lines == ["Street 1", "+00 123 456"]


def test_only_the_name_that_was_typed_answers_for_it_and_nothing_is_signed():
    document = read(adjusted().model())
    assert document.text(".//dcc:respPerson/dcc:person/dcc:name/dcc:content") == "C. Head"
    signed = [each for each in document.root.iter() if "cryptElectronic" in each.tag]
    assert {each.text for each in signed} == {"false"}
    assert "no signature" in document.statement("signature").text("dcc:declaration/dcc:content")
    assert not any("Signature" in each.tag and "crypt" not in each.tag
                   for each in document.root.iter())  # fmt: skip


def test_verdicts_stand_with_the_schema_s_own_words():
    document = read(adjusted().model())
    overall = document.all(".//dcc:statement[@refType='restpoint_conformity']")
    words = [each.findtext("dcc:conformity", namespaces=NS) for each in overall]
    assert words == ["fail", "pass"]


@pytest.mark.parametrize(
    ("word", "said"),
    [
        ("pass", "pass"), ("conditional pass", "conditionalPass"),
        ("conditional fail", "conditionalFail"), ("fail", "fail"), ("not judged", None),
    ],
)  # fmt: skip
def test_each_word_has_its_counterpart_and_not_judged_has_none(word, said):
    story = adjusted(ended={"as_left": word})
    result = story.kept.records[-2]
    found = tuple(
        each if each.word is None else each.model_copy(update={"word": word})
        for each in result.characteristics
    )
    changes = {"characteristics": found, "word": word}
    story.kept.records[-2] = result.model_copy(update=changes)
    ended = story.kept.records[-1].model_copy(update={"as_left": word})
    story.kept.records[-1] = ended
    for each in read(story.model()).all(".//dcc:statement[@refId]"):
        if each.get("refId").startswith("as_left"):
            assert each.findtext("dcc:conformity", namespaces=NS) == said
            assert each.findtext("dcc:declaration/dcc:content", namespaces=NS).startswith(word)


def test_every_reference_leads_to_an_element():
    document = read(troubled().model())
    ids = [each.get("id") for each in document.root.iter() if each.get("id")]
    refs = [each.get("refId") for each in document.root.iter() if each.get("refId")]
    assert len(ids) == len(set(ids))
    assert refs
    assert set(refs) <= set(ids)


def test_all_that_a_certificate_says_of_itself_is_said_but_how_figures_are_rounded():
    model = troubled().model()
    words = " ".join(read(model).words())
    for each in model.statements:
        assert (each.words in words) == (each.about != "Uncertainty")
    assert "rounded up" not in words
    for said in (
        *model.verdict.sentences, *model.method.words, *model.doubts, *model.remarks,
        *(each.words for each in model.deviations), model.decision.words, model.due.rests_on,
        model.adjustment.words, model.place, model.proof.last_hash, model.gauge.condition,
        *(run.remarks[0] for run in model.runs if run.remarks),
        *model.operators, model.order, model.method.sha256,
    ):  # fmt: skip
        assert said
        assert said in words


def test_a_bound_on_the_range_of_use_is_a_quantity():
    used = read(troubled().model()).statement("rangeOfUse")
    assert used.quantity("useFrom").text("si:real/si:value") == "1.5"
    assert used.quantity("useTo").text("si:real/si:value") == "10"


def test_the_same_certificate_gives_the_same_bytes():
    assert dcc_of(adjusted().model(), STATED) == dcc_of(adjusted().model(), STATED)


@pytest.mark.parametrize(
    "words",
    [
        "</dcc:name><evil/>",
        "a & b < c > d \"e\" 'f'",
        "]]><!--",
        "&#7;&bomb;",
        "Größe µ 漢字 \U0001f527",
    ],
)
def test_hostile_words_come_back_as_they_were(words):
    story = adjusted(gauge_facts=gauge(label=words), customer=words, ended={"certificate": words})
    document = read(story.model())
    assert document.text(".//dcc:uniqueIdentifier") == words
    assert document.text(".//dcc:customer/dcc:name/dcc:content") == words
    assert document.all(".//dcc:item//dcc:identification/dcc:value")[0].text == words
    assert document.all(".//evil") == []


@pytest.mark.parametrize(
    ("words", "shown"),
    [("a\x00b", "a\\x00b"), ("\x07", "\\x07"), ("x\x1b[2J", "x\\x1b[2J"), ("\ufffe", "\\ufffe")],
)
def test_characters_that_xml_does_not_allow_are_written_out(words, shown):
    story = adjusted(customer=words, ended={"authorised_by": words})
    document = read(story.model())
    assert document.text(".//dcc:customer/dcc:name/dcc:content") == shown
    assert document.text(".//dcc:respPerson/dcc:person/dcc:name/dcc:content") == shown


def test_blanks_around_an_identification_are_left_off():
    document = read(adjusted(order="\t4711 ", ended={"certificate": " 2026-0042\n"}).model())
    assert document.text(".//dcc:uniqueIdentifier") == "2026-0042"
    assert "4711" in document.words()
    without = read(adjusted(order=" ").model())
    assert without.all(".//dcc:issuer[.='customer']") == []


def test_tabs_and_line_ends_stay_in_a_text():
    document = read(adjusted(customer="first\tline\r\nsecond").model())
    assert document.text(".//dcc:customer/dcc:name/dcc:content") == "first\tline\r\nsecond"


def test_all_that_nobody_stated_is_named_at_once_with_its_key():
    story = adjusted(customer="  ", ended={"authorised_by": ""})
    with pytest.raises(NotStatedError) as told:
        dcc_of(story.model(Typed()))
    assert len(told.value.missing) == 6
    for words in (
        "name =", "address =", "country =", "performed =", '"customerBranch"', "customer =",
        "Nobody answers",
    ):  # fmt: skip
        assert words in str(told.value)


@pytest.mark.parametrize(
    ("stated", "missing"),
    [
        (Stated(performed="laboratory"), "country ="),
        (Stated(country="XX"), "performed ="),
    ],
)
def test_what_is_missing_is_named_alone(stated, missing):
    with pytest.raises(NotStatedError, match=missing) as told:
        dcc_of(adjusted().model(), stated)
    assert len(told.value.missing) == 1


def test_a_house_that_calibrates_its_own_gauges_names_itself_as_the_customer():
    stated = Stated(country="XX", performed="laboratory", customer=("The works", "Road 2"))
    document = read(adjusted(customer="").model(), stated)
    assert document.text(".//dcc:customer/dcc:name/dcc:content") == "The works"
    assert document.text(".//dcc:customer/dcc:location//dcc:content") == "Road 2"
    named = read(adjusted().model(), stated)
    assert named.text(".//dcc:customer/dcc:name/dcc:content") == "Engine shop, B. Foreman"


@pytest.mark.parametrize("story", [unfinished, broken_off])
def test_what_is_no_certificate_becomes_no_dcc(story):
    with pytest.raises(DccError, match=r"no certificate.*made of a certificate only"):
        dcc_of(story().model(), STATED)


def test_the_laboratory_s_file_says_what_the_records_do_not():
    raw = b'name = "Lab"\naddress = ["Street"]\n[dcc]\ncountry = "XX"\nperformed = "other"\n'
    assert stated_from_bytes(raw, "lab.toml") == Stated(country="XX", performed="other")
    assert stated_from_bytes(b'name = "Lab"\n', "lab.toml") == Stated()


@pytest.mark.parametrize(
    ("raw", "told"),
    [
        (b'[dcc]\ncountry = "Utopia"\n', "lab.toml:2: dcc.country"),
        (b'[dcc]\n\nperformed = "somewhere"\n', "lab.toml:3: dcc.performed"),
        (b'[dcc]\ncontry = "XX"\n', "lab.toml:2: dcc.contry"),
        (b"[dcc\n", "lab.toml:1"),
        (b'[dcc]\n# \xff\n', "lab.toml:2: it is not UTF-8"),
    ],
)  # fmt: skip
def test_mistakes_in_the_laboratory_s_file_are_named_by_line(raw, told):
    with pytest.raises(DccError) as error:
        stated_from_bytes(raw, "lab.toml")
    assert told in str(error.value)


def test_without_the_extra_the_refusal_says_what_to_install(monkeypatch):
    monkeypatch.setitem(sys.modules, "lxml", None)
    for name in [each for each in sys.modules if each.startswith("daq.report.dcc.writing")]:
        monkeypatch.delitem(sys.modules, name)
    with pytest.raises(DccError, match=r"restpoint\[dcc\]"):
        dcc_of(adjusted().model(), STATED)


def test_importing_the_export_does_not_import_lxml():
    program = "import sys, daq.report.dcc, daq.report.dcc.files; assert 'lxml' not in sys.modules"
    subprocess.run([sys.executable, "-c", program], check=True)


def test_every_ref_type_is_in_the_documentation():
    page = (Path(__file__).parents[4] / "docs" / "dcc.md").read_text("utf-8")
    for story in (adjusted, untouched, troubled):
        for each in read(story().model()).root.iter():
            if found := each.get("refType"):
                assert f"`{found.removeprefix('restpoint_')}`" in page


def test_the_example_of_a_laboratory_s_file_in_the_documentation_is_one():
    page = (Path(__file__).parents[4] / "docs" / "dcc.md").read_text("utf-8")
    example = page.split("```toml\n")[1].split("```")[0]
    stated = stated_from_bytes(example.encode(), "lab.toml")
    typed = Typed(laboratory_from_bytes(example.encode(), "lab.toml"))
    document = read(adjusted(customer="").model(typed), stated)
    assert document.text(".//dcc:customer/dcc:name/dcc:content") == "Invented Works"
    assert document.text(".//dcc:eMail") == "length@laboratory.invalid"


def test_a_document_is_utf_8_and_says_so():
    made = dcc_of(adjusted(customer="Größe").model(), STATED)
    assert made.startswith(b"<?xml version='1.0' encoding='UTF-8'?>")
    assert "Größe".encode() in made
    assert Read(made).root.get("schemaVersion") == "3.2.1"

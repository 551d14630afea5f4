"""A schema is found by what it says of itself, nothing is fetched, and messages say what to do.

The schemas here are small ones of the same namespaces, made for these tests; the published ones are
tried where RESTPOINT_TEST_DCC_SCHEMA names a folder that holds them.
"""

import re
import socket

import pytest

from daq.report.dcc import VERSION, InvalidDccError, SchemaError, check_dcc, dcc_of
from daq.report.dcc.errors import DccError
from daq.report.dcc.files import LARGEST_BYTES, MOST_FILES, dcc_files, schema_files
from tests.daq.report.certificate.making import STORIES, adjusted
from tests.daq.report.dcc.reading import STATED, schema_folder, with_schema

SI = """<xs:schema xmlns:xs="http://www.w3.org/2001/XMLSchema" targetNamespace="https://ptb.de/si"
  version="{version}"><xs:simpleType name="length"><xs:restriction base="xs:decimal"/>
  </xs:simpleType>{more}</xs:schema>"""

DCC = """<?xml version="1.0"?>
<xs:schema xmlns:xs="http://www.w3.org/2001/XMLSchema" xmlns:si="https://ptb.de/si"
  targetNamespace="https://ptb.de/dcc" version="{version}" elementFormDefault="qualified">
  <xs:import namespace="https://ptb.de/si" schemaLocation="{place}"/>
  <xs:element name="digitalCalibrationCertificate"><xs:complexType>
    <xs:sequence><xs:element name="length" type="si:length" maxOccurs="9"/></xs:sequence>
    <xs:attribute name="schemaVersion" use="required"/>
  </xs:complexType></xs:element>
</xs:schema>"""

FAR = "https://schema.invalid/si/v2.1.0/SI_Format.xsd"


def small(version=VERSION, place=FAR):
    return DCC.format(version=version, place=place).encode()


def si(version="2.1.0", more=""):
    return SI.format(version=version, more=more).encode()


def small_document(*lengths):
    inside = "".join(f"\n<dcc:length>{each}</dcc:length>" for each in lengths)
    return (
        f'<dcc:digitalCalibrationCertificate xmlns:dcc="https://ptb.de/dcc" '
        f'schemaVersion="{VERSION}">{inside}\n</dcc:digitalCalibrationCertificate>'
    ).encode()


GOOD = small_document("1.5")


@pytest.mark.parametrize(
    "place",
    [FAR, "http://schema.invalid/SI.xsd", "./SI_Format.xsd", "../up/x.xsd", "file:///SI.xsd"],
)
def test_what_a_schema_imports_is_taken_from_the_folder_wherever_it_says_that_it_lies(place):
    files = {"one.xsd": si(), "two.xsd": small(place=place)}
    check_dcc(GOOD, files)
    with pytest.raises(InvalidDccError, match="line 2"):
        check_dcc(small_document("one"), files)


def test_what_an_imported_schema_takes_in_its_turn_is_found_too():
    taking = si().replace(
        b"<xs:simpleType", b'<xs:include schemaLocation="units.xsd"/><xs:simpleType'
    )
    units = si(more='<xs:simpleType name="unit"><xs:restriction base="xs:string"/></xs:simpleType>')
    units = units.replace(b'name="length"', b'name="breadth"')
    taking = taking.replace(b"</xs:schema>", b'<xs:element name="u" type="si:unit"/></xs:schema>')
    taking = taking.replace(b"version=", b'xmlns:si="https://ptb.de/si" version=')
    files = {
        "units.xsd": units,
        "SI_Format.xsd": taking,
        "dcc.xsd": small(place="https://a.invalid/SI_Format.xsd"),
    }
    check_dcc(GOOD, files)


def test_a_file_is_known_by_its_namespace_and_version_and_not_by_its_name():
    older = small("3.1.2").replace(b'name="length"', b'name="breadth"')
    files = {"a.xsd": older, "dcc312.xsd": small(), "SI.xsd": si()}
    check_dcc(GOOD, files)


def test_files_that_are_no_schema_are_passed_over():
    note = f'<note targetNamespace="https://ptb.de/dcc" version="{VERSION}"/>'.encode()
    check_dcc(GOOD, {"a.xsd": small(), "b.xsd": si(), "c.xsd": note})


def test_a_folder_without_the_schema_is_refused():
    with pytest.raises(SchemaError, match=f"Here holds no DCC schema.*{VERSION}"):
        check_dcc(GOOD, {"SI.xsd": si()}, "Here")
    with pytest.raises(SchemaError, match="holds no DCC schema"):
        check_dcc(GOOD, {})


def test_a_schema_of_another_version_is_refused_and_both_are_named():
    files = {"a.xsd": small("3.1.2"), "b.xsd": small("3.3.0"), "SI.xsd": si()}
    with pytest.raises(SchemaError) as told:
        check_dcc(GOOD, files)
    for words in ("3.1.2 (a.xsd)", "3.3.0 (b.xsd)", f"of version {VERSION}"):
        assert words in str(told.value)


def test_a_schema_that_is_missing_beside_the_others_is_named():
    with pytest.raises(SchemaError, match=r"two\.xsd needs the schema of https://ptb\.de/si"):
        check_dcc(GOOD, {"two.xsd": small()})


def test_several_versions_of_an_imported_schema_are_told_apart_by_the_place():
    no_length = si("2.2.1").replace(b"length", b"breadth")
    check_dcc(GOOD, {"a.xsd": no_length, "b.xsd": si(), "dcc.xsd": small()})
    by_name = {"a.xsd": no_length, "mine.xsd": si(), "dcc.xsd": small(place="x/mine.xsd")}
    check_dcc(GOOD, by_name)


def test_several_that_differ_and_cannot_be_told_apart_are_refused():
    files = {"a.xsd": si(), "b.xsd": si(more="<!-- -->"), "dcc.xsd": small(place="SI.xsd")}
    with pytest.raises(SchemaError, match=r"several files that differ: a\.xsd, b\.xsd"):
        check_dcc(GOOD, files)
    check_dcc(GOOD, {"a.xsd": si(), "b.xsd": si(), "dcc.xsd": small(place="SI.xsd")})


@pytest.mark.parametrize(
    ("files", "told"),
    [
        ({"a.xsd": b"no XML", "b.xsd": small()}, "a.xsd is no XML file"),
        ({"a.xsd": si(), "b.xsd": small().replace(b"si:length", b"si:breadth")}, "cannot be used"),
    ],
)
def test_a_schema_that_is_damaged_is_named(files, told):
    with pytest.raises(SchemaError, match=told):
        check_dcc(GOOD, files)


def test_a_schema_may_begin_with_a_document_type_and_what_it_names_is_not_read(tmp_path):
    (tmp_path / "secret.xml").write_text("<unclosed")
    head = (
        '<!DOCTYPE schema PUBLIC "-//NOBODY//" "http://schema.invalid/none.dtd" '
        f'[<!ENTITY secret SYSTEM "{(tmp_path / "secret.xml").as_uri()}">]>\n'
    )
    more = "<xs:annotation><xs:documentation>&secret;</xs:documentation></xs:annotation>"
    files = {"a.xsd": head.encode() + si(more=more), "b.xsd": small()}
    check_dcc(GOOD, files)
    with pytest.raises(InvalidDccError, match="line 2"):
        check_dcc(small_document("one"), files)


def test_no_place_is_asked_over_a_network():
    with socket.create_server(("127.0.0.1", 0)) as server:
        place = f"http://127.0.0.1:{server.getsockname()[1]}/SI.xsd"
        check_dcc(GOOD, {"a.xsd": si(), "b.xsd": small(place=place)})
        server.setblocking(False)
        with pytest.raises(BlockingIOError):
            server.accept()


def test_every_place_that_does_not_keep_to_the_schema_is_named_with_line_and_element():
    with pytest.raises(InvalidDccError) as told:
        check_dcc(small_document("1", "two", "3", "four"), {"a.xsd": si(), "b.xsd": small()})
    places = [re.match(r"line (\d+), Element 'dcc:length'", each) for each in told.value.problems]
    assert {each[1] for each in places} == {"3", "5"}
    assert "'two'" in str(told.value)
    assert "b.xsd" in str(told.value)
    assert "not written" in str(told.value)


def test_only_the_first_places_are_told_of_very_many():
    error = InvalidDccError("dcc.xsd", tuple(f"line {n}, wrong" for n in range(100)))
    assert "line 19, wrong" in str(error)
    assert "line 20, wrong" not in str(error)
    assert "and 80 more" in str(error)


def test_what_is_no_xml_is_refused():
    with pytest.raises(InvalidDccError, match=r"XML 1\.0"):
        check_dcc(b"<a>", {"a.xsd": si(), "b.xsd": small()})


def test_a_folder_is_read_without_the_folders_in_it(tmp_path):
    (tmp_path / "dcc.XSD").write_bytes(small())
    (tmp_path / "readme.txt").write_text("no schema")
    (tmp_path / "inside").mkdir()
    (tmp_path / "inside" / "SI.xsd").write_bytes(si())
    assert schema_files(tmp_path) == {"dcc.XSD": small()}


def test_a_folder_that_is_none_or_holds_too_much_is_refused(tmp_path):
    with pytest.raises(SchemaError, match="is no folder"):
        schema_files(tmp_path / "nowhere")
    (tmp_path / "large.xsd").write_bytes(b" " * (LARGEST_BYTES + 1))
    with pytest.raises(SchemaError, match="more than"):
        schema_files(tmp_path)
    (tmp_path / "large.xsd").unlink()
    for number in range(MOST_FILES + 1):
        (tmp_path / f"{number}.xsd").write_bytes(b"")
    with pytest.raises(SchemaError, match="more than"):
        schema_files(tmp_path)


@pytest.fixture
def lab(tmp_path):
    path = tmp_path / "lab.toml"
    path.write_text('[dcc]\ncountry = "XX"\nperformed = "laboratory"\n')
    return path


def test_the_file_of_a_dcc_stands_beside_the_others_under_the_certificate_s_number(tmp_path, lab):
    found = dcc_files(adjusted().model(), tmp_path, lab)
    assert found == {tmp_path / "certificate-2026-0042.dcc.xml": dcc_of(adjusted().model(), STATED)}


def test_a_document_that_does_not_keep_to_the_schema_gives_no_file(tmp_path, lab):
    (tmp_path / "dcc.xsd").write_bytes(small())
    (tmp_path / "si.xsd").write_bytes(si())
    with pytest.raises(InvalidDccError, match="administrativeData"):
        dcc_files(adjusted().model(), tmp_path, lab, tmp_path)


def test_a_laboratory_s_file_that_is_not_there_is_named(tmp_path):
    with pytest.raises(DccError, match=r"lab\.toml cannot be read"):
        dcc_files(adjusted().model(), tmp_path, tmp_path / "lab.toml")


@with_schema
@pytest.mark.parametrize("name", ["adjusted", "untouched", "troubled"])
def test_a_dcc_keeps_to_the_published_schema(name):
    check_dcc(dcc_of(STORIES[name]().model(), STATED), schema_files(schema_folder()))


@with_schema
def test_a_dcc_of_hostile_words_keeps_to_the_published_schema():
    words = " \x07</x>&amp; \n]]> "
    ended = {"certificate": words, "authorised_by": words, "remarks": words}
    model = adjusted(customer=words, order=words, place=words, ended=ended).model()
    named = model.gauge.model_copy(update={"label": words, "identity": words})
    model = model.model_copy(update={"gauge": named})
    check_dcc(dcc_of(model, STATED), schema_files(schema_folder()))


@with_schema
def test_the_published_schema_serves_with_places_that_are_far_away():
    files = {
        name: re.sub(
            rb'schemaLocation="([^"]+)"', rb'schemaLocation="https://schema.invalid/\1"', raw
        )
        for name, raw in schema_files(schema_folder()).items()
    }
    assert any(b"schema.invalid" in raw for raw in files.values())
    check_dcc(dcc_of(adjusted().model(), STATED), files)


@with_schema
@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        (b"<dcc:uniqueIdentifier>2026-0042<", b"<dcc:uniqueIdentifier> <", "uniqueIdentifier"),
        (b"<si:coverageFactor>2.0211<", b"<si:coverageFactor>0.5<", "coverageFactor"),
        (b"<dcc:conformity>pass<", b"<dcc:conformity>good<", "conformity"),
        (b"<dcc:countryCode>XX<", b"<dcc:countryCode>Utopia<", "countryCode"),
        (b'schemaVersion="3.2.1"', b'schemaVersion="9.9.9"', "9.9.9"),
    ],
    ids=lambda each: each if isinstance(each, str) else "",
)
def test_the_published_schema_finds_what_is_wrong(old, new, told):
    made = dcc_of(adjusted().model(), STATED)
    assert old in made
    with pytest.raises(DccError, match=told):
        check_dcc(made.replace(old, new), schema_files(schema_folder()))

"""Every figure in a DCC is the one on record, digit for digit, with its unit and uncertainty."""

from decimal import Decimal

import pytest

from daq.logbook.fields import time_text
from daq.report.dcc import DccError, dcc_of
from daq.report.dcc.quantities import MM, Expanded, reals
from tests.daq.report.certificate.making import STORIES, adjusted, troubled, untouched
from tests.daq.report.dcc.reading import NS, STATED, read

D = Decimal


def plain(values):
    return [f"{each:f}" for each in values]


@pytest.fixture(scope="module")
def story():
    return adjusted()


@pytest.fixture(scope="module")
def document(story):
    return read(story.model())


@pytest.mark.parametrize("number", [0, 1])
def test_the_points_of_a_run_are_those_of_its_record(story, document, number):
    result = [each for each in story.kept.records if each.kind == "calibration result"][number]
    points = document.run(number).result("points")
    assert points.values("nominal") == plain(p.nominal_mm for p in result.points)
    assert points.values("reference") == plain(p.reference_mm for p in result.points)
    assert points.values("indicated") == plain(p.reading_mm for p in result.points)
    assert points.values("error") == plain(p.error_mm for p in result.points)
    assert points.values("error", "uncertainty") == plain(p.expanded_mm for p in result.points)
    assert points.values("error", "coverageFactor") == plain(p.k for p in result.points)
    assert points.values("standardUncertainty") == plain(p.u_mm for p in result.points)
    assert points.chars("degreesOfFreedom") == plain(p.dof for p in result.points)
    assert points.chars("series") == [p.series for p in result.points]
    assert points.chars("direction") == [p.direction for p in result.points]
    taken = {each.uid: each for each in story.kept.records if each.kind == "calibration point"}
    times = points.text(".//dcc:dateTimeXMLList").split()
    assert times == [time_text(taken[p.point].at) for p in result.points]
    assert points.values("temperature") == plain(
        taken[p.point].temperature_c for p in result.points
    )
    assert points.values("number") == [str(p.place) for p in result.points]


@pytest.mark.parametrize("number", [0, 1])
def test_the_characteristics_of_a_run_are_those_of_its_record(story, document, number):
    result = [each for each in story.kept.records if each.kind == "calibration result"][number]
    data = document.run(number).result("characteristics").one("dcc:data")
    assert len(data) == len(result.characteristics)
    for element, each in zip(data, result.characteristics, strict=True):
        said = [
            element.findtext(path, namespaces=NS)
            for path in (
                "dcc:name/dcc:content",
                "si:real/si:value",
                "si:real/si:unit",
                "si:real/si:expandedUnc/si:uncertainty",
                "si:real/si:expandedUnc/si:coverageFactor",
                "si:real/si:expandedUnc/si:coverageProbability",
            )
        ]
        numbers = plain((each.value_mm, each.expanded_mm, each.k, story.kept.begun.level))
        assert said == [each.what, numbers[0], MM, *numbers[1:]]


def test_correction_and_line_are_those_of_the_record(story, document):
    result = story.kept.records[-2]
    table = document.run(1).result("correction")
    rows = result.correction
    assert table.values("nominal") == plain(row.nominal_mm for row in rows)
    assert table.values("indicated") == plain(row.reading_mm for row in rows)
    assert table.values("correction") == plain(row.correction_mm for row in rows)
    assert table.values("standardUncertainty") == plain(row.u_mm for row in rows)
    assert table.values("betweenWays") == plain(row.between_ways_mm for row in rows)
    line = document.run(1).result("line")
    for kind, value in (
        ("lineAtZero", result.line.at_zero_mm), ("uLineAtZero", result.line.u_at_zero_mm),
        ("lineSlope", result.line.slope), ("uLineSlope", result.line.u_slope),
        ("lineCorrelation", result.line.correlation), ("lineScatter", result.line.residual_s_mm),
        ("degreesOfFreedom", D(result.line.dof)),
    ):  # fmt: skip
        assert line.quantity(kind).text("si:real/si:value") == f"{value:f}"


def test_limits_and_probabilities_are_those_of_the_record(story, document):
    result = story.kept.records[-2]
    judged = [each for each in result.characteristics if each.limit_mm is not None]
    found = [
        each
        for each in document.all(".//dcc:statement[@refId]")
        if each.get("refId").startswith("as_left")
    ]
    assert len(found) == len(judged)
    for element, each in zip(found, judged, strict=True):
        values = {
            quantity.get("refType"): quantity.findtext("si:real/si:value", namespaces=NS)
            for quantity in element.findall("dcc:data/dcc:quantity", NS)
        }
        assert values == {
            "restpoint_limit": f"{each.limit_mm:f}",
            "restpoint_guardBand": f"{each.guard_mm:f}",
            "restpoint_conformanceProbability": f"{each.p_conform:f}",
        }


def test_the_standards_are_those_of_the_register():
    story = troubled()
    used = read(story.model()).run(0).one("dcc:measuringEquipments")
    assert [each.get("refType") for each in used] == ["restpoint_standard", "restpoint_zeroedOn"]
    for number, entered in enumerate((story.kept.standard, story.kept.flat)):
        part = read(story.model()).run(0)
        part.root = used[number]
        values = entered.values
        assert part.values("nominal") == plain(v.nominal_mm for v in values)
        assert part.values("length") == plain(v.length_mm for v in values)
        assert part.values("expandedUncertainty") == plain(v.expanded_u_mm for v in values)
        assert part.values("coverageFactor") == plain(v.k for v in values)
        ids = [each.text for each in part.all("dcc:identifications//dcc:value")]
        assert ids == [entered.id, entered.certificate]


def test_temperatures_stand_with_the_run_that_they_were_read_in(document):
    for number, c, status in ((0, "20.0", "beforeAdjustment"), (1, "20.2", "afterAdjustment")):
        condition = document.run(number).one(
            "dcc:influenceConditions/*[@refType='restpoint_temperature']"
        )
        assert condition.findtext("dcc:status", namespaces=NS) == status
        assert condition.findtext(".//si:value", namespaces=NS) == c
        assert condition.findtext(".//si:unit", namespaces=NS) == r"\degreecelsius"
        assert condition.findtext(".//si:dateTime", namespaces=NS).endswith("Z")


def test_without_an_adjustment_there_is_one_run_and_no_status():
    document = read(untouched().model())
    assert len(document.all(".//dcc:measurementResult")) == 1
    assert document.all(".//dcc:status") == []


@pytest.mark.parametrize("name", ["adjusted", "untouched", "troubled"])
def test_every_list_has_as_many_entries_as_values(name):
    lists = read(STORIES[name]().model()).all(".//si:realListXMLList")
    assert lists
    for each in lists:
        lengths = {len(part.text.split()) for part in each.iter() if part.tag.endswith("XMLList")
                   and part.text and part.text.strip()}  # fmt: skip
        assert len(lengths) == 1


def test_every_unit_is_one_of_the_d_si(document):
    """Units after the D-SI: a backslash before each part, from memory."""
    units = {each.text for each in document.root.iter() if each.tag.endswith("}unit")}
    units |= {
        word
        for each in document.root.iter()
        if each.tag.endswith("}unitXMLList")
        for word in each.text.split()
    }
    assert units == {
        r"\milli\metre", r"\one", r"\degreecelsius", r"\kelvin",
        r"\micro\metre\metre\tothe{-1}\kelvin\tothe{-1}",
    }  # fmt: skip


def test_infinitely_many_degrees_of_freedom_are_said_in_a_word():
    story = adjusted()
    result = story.kept.records[-2]
    points = tuple(point.model_copy(update={"dof": None}) for point in result.points)
    story.kept.records[-2] = result.model_copy(update={"points": points})
    chars = read(story.model()).run(1).result("points").chars("degreesOfFreedom")
    assert chars == ["INF"] * len(points)


@pytest.mark.parametrize(
    "changed", [{"k": D("0.9")}, {"expanded_mm": D("-0.001")}], ids=lambda each: next(iter(each))
)
def test_an_uncertainty_that_can_be_none_is_refused(changed):
    story = adjusted()
    result = story.kept.records[-2]
    points = (result.points[0].model_copy(update=changed), *result.points[1:])
    story.kept.records[-2] = result.model_copy(update={"points": points})
    with pytest.raises(DccError, match="cannot stand in a DCC"):
        dcc_of(story.model(), STATED)


def test_a_level_given_in_per_cent_is_refused():
    with pytest.raises(DccError, match="probability is from 0 to 1"):
        Expanded(D("0.001"), D(2), D(95))


def test_values_without_their_uncertainties_are_refused():
    with pytest.raises(DccError, match="2 values and 1 uncertainties"):
        reals([D(1), D(2)], MM, [Expanded(D("0.001"), D(2), D("0.95"))])


def test_no_figure_is_written_with_an_exponent():
    made = reals([D("0E-7"), D("1E+2"), D("-0.00000012")], MM)
    assert made.children[0].text == "0.0000000 100 -0.00000012"

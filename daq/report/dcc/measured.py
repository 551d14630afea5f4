"""The measurement results of a DCC, one for each run: method, standards, conditions, results."""

from collections.abc import Iterator, Sequence
from decimal import Decimal

from daq.logbook.fields import decimal_text, time_text
from daq.report.certificate.lines import (
    CharacteristicLine,
    CorrectionRow,
    LineReport,
    PointLine,
    RunReport,
    StandardFacts,
    Stated,
    TemperatureLine,
)
from daq.report.certificate.model import CertificateModel, Environment, Method
from daq.report.dcc.administrative import identification, identifications, software
from daq.report.dcc.quantities import (
    CELSIUS,
    EXPANSION,
    KELVIN,
    MM,
    ONE,
    Expanded,
    exact_mm,
    quantity,
    real,
    reals,
    ref_type,
    words_list,
)
from daq.report.dcc.statements import characteristic_id
from daq.report.dcc.tree import Element, element, leaf, line, name_of, ours, theirs, typed_name

INFINITE = "INF"
"""Stands for infinitely many degrees of freedom."""

_STATUS = {"as found": "beforeAdjustment", "as left": "afterAdjustment"}


def measurement_results(model: CertificateModel) -> Element:
    """Every run: as found, and as left if the gauge was adjusted."""
    return element("dcc:measurementResults", [_run(model, run) for run in model.runs])


def _run(model: CertificateModel, run: RunReport) -> Element:
    level = model.decision.level
    status = _STATUS[run.run] if model.adjustment.what == "adjusted" else ""
    conditions = tuple(_conditions(model.environment, run, status))
    return element(
        "dcc:measurementResult",
        name_of(f"Calibration {run.run}"),
        ours("dcc:description", f"{run.word}: {run.meaning}"),
        element("dcc:usedMethods", _methods(model.method)),
        element("dcc:usedSoftware", software()),
        element("dcc:measuringEquipments", map(_equipment, model.standards)),
        element("dcc:influenceConditions", conditions) if conditions else None,
        element("dcc:results", _results(run, level)),
        refType=ref_type("asFound" if run.run == "as found" else "asLeft"),
    )


def _methods(method: Method) -> Iterator[Element]:
    revision = f", revision {method.revision}" if method.revision else ""
    yield element(
        "dcc:usedMethod",
        typed_name(f"{method.title or method.plan}{revision}"),
        ours("dcc:description", *method.words, *method.remarks),
        line("dcc:reference", f"{method.plan}, SHA-256 {method.sha256}"),
        refType=ref_type("plan"),
    )
    yield element(
        "dcc:usedMethod",
        name_of("Evaluation of measurement uncertainty"),
        leaf("dcc:norm", "JCGM 100:2008"),
        refType=ref_type("uncertainty"),
    )


def _equipment(each: StandardFacts) -> Element:
    return element(
        "dcc:measuringEquipment",
        typed_name(each.what),
        ours(
            "dcc:description",
            f"{each.role}: {each.kind}. Its certificate is by {each.issuer}; it may be used from "
            f"{each.valid_from} to {each.due}.",
        ),
        identifications(
            identification("calibrationLaboratory", each.id, "id"),
            identification("other", each.certificate, f"certificate, issued by {each.issuer}"),
        ),
        element("dcc:measuringEquipmentQuantities", _standard_quantities(each)),
        refType=ref_type("zeroedOn" if each.role == "zeroed on" else "standard"),
    )


def _standard_quantities(each: StandardFacts) -> Iterator[Element]:
    """Its certificate's values; the level of its U is not on record, so U stands by itself."""
    values = each.values
    for name, what, kind in (
        ("nominal length", reals([exact_mm(v.nominal) for v in values], MM), "nominal"),
        ("length at 20 °C", reals([exact_mm(v.length) for v in values], MM), "length"),
        (
            "its expanded uncertainty",
            reals([exact_mm(v.expanded) for v in values], MM),
            "expandedUncertainty",
        ),
        ("its coverage factor", reals([v.k for v in values], ONE), "coverageFactor"),
        ("most change in a year", real(exact_mm(each.drift_per_year), MM), "driftPerYear"),
        ("coefficient of expansion", real(each.expansion, EXPANSION), "expansion"),
        ("its standard uncertainty", real(each.u_expansion, EXPANSION), "uExpansion"),
    ):
        yield quantity(name, what, kind, tag="dcc:measuringEquipmentQuantity")


def _conditions(around: Environment, run: RunReport, status: str) -> Iterator[Element]:
    for each in around.readings:
        if each.run == run.run:
            yield _temperature(each, status)
    allowed = [
        (name, what, kind)
        for name, value, unit, kind in (
            ("lowest", around.coldest_c, CELSIUS, "temperatureMin"),
            ("highest", around.warmest_c, CELSIUS, "temperatureMax"),
            ("most change during a run", around.change_k, KELVIN, "temperatureChange"),
        )
        if value is not None
        for what in (real(value, unit),)
    ]
    if allowed:
        yield element(
            "dcc:influenceCondition",
            name_of("temperature that the plan allows"),
            element("dcc:data", *(quantity(*each) for each in allowed)),
            refType=ref_type("temperatureAllowed"),
        )


def _temperature(each: TemperatureLine, status: str) -> Element:
    return element(
        "dcc:influenceCondition",
        name_of("temperature of gauge and standard"),
        theirs("dcc:description", each.asked, each.said, each.operator),
        leaf("dcc:status", status) if status else None,
        element(
            "dcc:data", quantity("temperature", real(each.c, CELSIUS, at=each.at), "temperature")
        ),
        refType=ref_type("temperature"),
    )


def _results(run: RunReport, level: Decimal) -> Iterator[Element]:
    yield _result(
        "Characteristics",
        "characteristics",
        *(
            _characteristic(each, level, characteristic_id(run, number))
            for number, each in enumerate(run.characteristics, start=1)
        ),
    )
    yield _result("Errors of indication", "points", _points(run.points, level))
    if run.correction:
        yield _result("Correction table", "correction", _correction(run.correction))
    if run.line is not None:
        yield _result("Straight line through the errors", "line", *_line(run.line))


def _result(name: str, kind: str, *data: Element) -> Element:
    return element("dcc:result", name_of(name), element("dcc:data", *data), refType=ref_type(kind))


def _characteristic(each: CharacteristicLine, level: Decimal, uid: str) -> Element:
    result = each.result
    dof = "infinitely many" if result.dof is None else decimal_text(result.dof)
    return quantity(
        each.what,
        real(exact_mm(result.value), MM, _expanded(result, level)),
        _kind_of(each.what),
        each.where,
        f"Combined standard uncertainty {decimal_text(result.u_mm)} mm, effective degrees of "
        f"freedom: {dof}.",
        uid=uid,
    )


def _kind_of(what: str) -> str:
    """A characteristic as the end of a refType: ``span error`` gives ``spanError``."""
    plain = "".join(each if each.isascii() and each.isalnum() else " " for each in what)
    first, *rest = plain.split() or ["characteristic"]
    return first + "".join(each.capitalize() for each in rest)


def _points(points: Sequence[PointLine], level: Decimal) -> Element:
    errors = [each.error for each in points]
    moments = [each.at for each in points if each.at is not None]
    temperatures = [each.temperature_c for each in points if each.temperature_c is not None]
    lengths = (
        ("nominal", [each.nominal for each in points], "nominal"),
        ("reference, by the standard's certificate, at 20 °C",
         [each.reference for each in points], "reference"),
        ("indicated", [each.reading for each in points], "indicated"),
    )  # fmt: skip
    return element(
        "dcc:list",
        name_of("points, in the order of the plan"),
        leaf("dcc:dateTimeXMLList", " ".join(map(time_text, moments)))
        if len(moments) == len(points)
        else None,
        quantity("number of the reading", reals([Decimal(p.place) for p in points], ONE), "number"),
        quantity("series", words_list([each.series for each in points]), "series"),
        quantity("direction", words_list([each.direction for each in points]), "direction"),
        *(
            quantity(name, reals([exact_mm(each) for each in values], MM), kind)
            for name, values, kind in lengths
        ),
        quantity(
            "error, indicated minus reference",
            reals(
                [exact_mm(each.value) for each in errors],
                MM,
                [_expanded(each, level) for each in errors],
            ),
            "error",
        ),
        quantity(
            "combined standard uncertainty of the error",
            reals([each.u_mm for each in errors], MM),
            "standardUncertainty",
        ),
        quantity(
            "effective degrees of freedom",
            words_list([_dof(each) for each in errors]),
            "degreesOfFreedom",
        ),
        quantity("temperature", reals(temperatures, CELSIUS), "temperature")
        if len(temperatures) == len(points)
        else None,
    )


def _expanded(result: Stated, level: Decimal) -> Expanded:
    return Expanded(exact_mm(result.expanded), result.k, level)


def _dof(result: Stated) -> str:
    return INFINITE if result.dof is None else decimal_text(result.dof)


def _correction(rows: Sequence[CorrectionRow]) -> Element:
    columns = (
        ("nominal", [exact_mm(each.nominal) for each in rows], "nominal"),
        ("indicated", [exact_mm(each.reading) for each in rows], "indicated"),
        ("correction, to be added", [exact_mm(each.correction) for each in rows], "correction"),
        ("standard uncertainty of reference and reading", [each.u_mm for each in rows],
         "standardUncertainty"),
        ("difference between the ways", [exact_mm(each.between_ways) for each in rows],
         "betweenWays"),
    )  # fmt: skip
    return element(
        "dcc:list",
        name_of("what to add to a reading"),
        *(quantity(name, reals(values, MM), kind) for name, values, kind in columns),
    )


def _line(fit: LineReport) -> Iterator[Element]:
    """error = at zero + slope · travel, with standard uncertainties."""
    for name, value, unit, kind in (
        ("error at the zero", fit.at_zero_mm, MM, "lineAtZero"),
        ("its standard uncertainty", fit.u_at_zero_mm, MM, "uLineAtZero"),
        ("slope", fit.slope, ONE, "lineSlope"),
        ("its standard uncertainty", fit.u_slope, ONE, "uLineSlope"),
        ("correlation of the two", fit.correlation, ONE, "lineCorrelation"),
        ("standard deviation about the line", fit.residual_s_mm, MM, "lineScatter"),
        ("degrees of freedom", Decimal(fit.dof), ONE, "degreesOfFreedom"),
    ):
        yield quantity(name, real(value, unit), kind)

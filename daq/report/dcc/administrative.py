"""The administrative data of a DCC: software, certificate, item, laboratory, persons, customer."""

import re
from collections.abc import Iterator
from importlib.metadata import version

from daq.report.certificate.lines import GaugeFacts
from daq.report.certificate.model import CertificateModel
from daq.report.dcc.quantities import EXPANSION, MM, exact_mm, quantity, real, ref_type
from daq.report.dcc.stated import Stated
from daq.report.dcc.statements import statements_of
from daq.report.dcc.tree import (
    Element,
    element,
    leaf,
    line,
    must,
    name_of,
    ours,
    paragraphs,
    theirs,
    typed_name,
)

LANGUAGE = "en"
"""Of restpoint's own words; what people typed carries no language."""

_E_MAIL = re.compile(r"[^@\s]+@[^@\s]+")


def administrative_data(model: CertificateModel, stated: Stated) -> Element:
    """The whole of it."""
    return element(
        "dcc:administrativeData",
        element("dcc:dccSoftware", software()),
        element("dcc:refTypeDefinitions", _ref_types()),
        _core(model, stated),
        element("dcc:items", _item(model.gauge)),
        _laboratory(model, stated),
        element("dcc:respPersons", _person(model)),
        _customer(model, stated),
        element("dcc:statements", statements_of(model)),
    )


def software() -> Element:
    """restpoint, and which."""
    return element(
        "dcc:software",
        name_of("restpoint"),
        leaf("dcc:release", version("restpoint")),
        leaf("dcc:type", "application"),
    )


def identification(issuer: str, value: str, name: str) -> Element | None:
    """An identification; None if there is nothing in it."""
    words = line("dcc:value", value)
    if words is None:
        return None
    return element("dcc:identification", leaf("dcc:issuer", issuer), words, name_of(name))


def identifications(*every: Element | None) -> Element | None:
    """Those that there are; None if there are none."""
    found = [each for each in every if each is not None]
    return element("dcc:identifications", found) if found else None


def _ref_types() -> Element:
    return element(
        "dcc:refTypeDefinition",
        name_of("refTypes of restpoint"),
        ours("dcc:description", "They begin with restpoint_; the page named here has them all."),
        leaf("dcc:namespace", "restpoint"),
        leaf("dcc:link", "docs/dcc.md"),
        leaf("dcc:release", version("restpoint")),
    )


def _core(model: CertificateModel, stated: Stated) -> Element:
    dates = model.dates
    received, issued = dates.received, dates.issued
    return element(
        "dcc:coreData",
        leaf("dcc:countryCodeISO3166_1", stated.country),
        leaf("dcc:usedLangCodeISO639_1", LANGUAGE),
        leaf("dcc:mandatoryLangCodeISO639_1", LANGUAGE),
        must("dcc:uniqueIdentifier", model.number, "The certificate has no number."),
        identifications(
            identification("calibrationLaboratory", model.calibration, "record in the logbook"),
            identification("customer", model.order, "order"),
        ),
        None if received is None else leaf("dcc:receiptDate", received.isoformat()),
        leaf("dcc:beginPerformanceDate", dates.performed_from.isoformat()),
        leaf("dcc:endPerformanceDate", dates.performed_to.isoformat()),
        leaf("dcc:performanceLocation", stated.performed or ""),
        None if issued is None else leaf("dcc:issueDate", issued.isoformat()),
    )


def _item(gauge: GaugeFacts) -> Element:
    seen = ("Condition when it came in:",) if gauge.condition.strip() else ()
    return element(
        "dcc:item",
        name_of(gauge.kind),
        element(
            "dcc:description",
            paragraphs([f"Read by the gauge profile {gauge.profile}.", *seen], "en"),
            paragraphs([gauge.condition]),
        ),
        identifications(
            identification("calibrationLaboratory", gauge.label, "label"),
            identification("other", gauge.identity, "identity of its adapter"),
        ),
        element("dcc:itemQuantities", _item_quantities(gauge)),
    )


def _item_quantities(gauge: GaugeFacts) -> Iterator[Element]:
    for name, value, unit, kind in (
        ("range", exact_mm(gauge.range), MM, "range"),
        ("display step", exact_mm(gauge.step), MM, "step"),
        ("coefficient of expansion", gauge.expansion, EXPANSION, "expansion"),
        ("its standard uncertainty", gauge.u_expansion, EXPANSION, "uExpansion"),
    ):
        yield quantity(name, real(value, unit), kind, tag="dcc:itemQuantity")


def _laboratory(model: CertificateModel, stated: Stated) -> Element:
    lab = model.laboratory
    contact = lab.contact.strip()
    is_mail = _E_MAIL.fullmatch(contact) is not None
    return element(
        "dcc:calibrationLaboratory",
        element(
            "dcc:contact",
            typed_name(lab.name),
            line("dcc:eMail", contact) if is_mail else None,
            element(
                "dcc:location",
                leaf("dcc:countryCode", stated.country),
                theirs("dcc:further", *lab.address, "" if is_mail else contact),
            ),
        ),
        *(
            leaf(name, "false")
            for name in (
                "dcc:cryptElectronicSeal",
                "dcc:cryptElectronicSignature",
                "dcc:cryptElectronicTimeStamp",
            )
        ),
    )


def _person(model: CertificateModel) -> Element:
    return element(
        "dcc:respPerson",
        element("dcc:person", typed_name(model.authorised_by)),
        ours("dcc:description", model.authorised_words),
        leaf("dcc:role", "authorised by"),
        leaf("dcc:cryptElectronicSignature", "false"),
        refType=ref_type("authorisedBy"),
    )


def _customer(model: CertificateModel, stated: Stated) -> Element:
    """The customer; the records have name and address in one, so that both say all of it."""
    lines = (model.customer,) if model.customer.strip() else stated.customer
    name, *rest = lines
    return element(
        "dcc:customer",
        typed_name(name),
        element("dcc:location", theirs("dcc:further", *(rest or [name]))),
    )

"""The statements of a DCC: what conforms, by which rule, and what a certificate says of itself."""

from collections.abc import Iterator

from daq.logbook.calibration import CalibrationWord
from daq.logbook.fields import Day, time_text
from daq.report.certificate.lines import CharacteristicLine, Deviation, RunReport
from daq.report.certificate.model import CertificateModel
from daq.report.dcc.quantities import MM, ONE, exact_mm, quantity, real, ref_type
from daq.report.dcc.tree import Element, element, leaf, line, name_of, ours, theirs

CONFORMITY: dict[CalibrationWord, str] = {
    "pass": "pass",
    "conditional pass": "conditionalPass",
    "conditional fail": "conditionalFail",
    "fail": "fail",
}
"""The schema's word for a word of ours. It has none for what is not judged."""

_ROUNDED = "Uncertainty"
"""A certificate's statement on how figures are rounded; in a DCC none is."""


def characteristic_id(run: RunReport, number: int) -> str:
    """The ``id`` of the quantity of a characteristic; ``number`` counts from 1."""
    return f"{run.run.replace(' ', '_')}_characteristic_{number}"


def statements_of(model: CertificateModel) -> Iterator[Element]:
    """Every statement, verdicts first."""
    yield from _overall(model)
    for run in model.runs:
        for number, each in enumerate(run.characteristics, start=1):
            if each.limit is not None:
                yield _of_characteristic(model, run, each, number)
    yield _rule(model)
    level = model.decision.level_shown
    yield _said(
        "Uncertainty",
        "uncertainty",
        "Every figure is as it was recorded, and none is rounded. U is the expanded measurement "
        "uncertainty, the standard uncertainty u times the coverage factor k that stands with it. "
        f"For the effective degrees of freedom that is a coverage probability of about {level}. It "
        "was evaluated after JCGM 100:2008.",
    )
    for statement in model.statements:
        if statement.about != _ROUNDED:
            yield _said(statement.about, _camel(statement.about), statement.words)
    yield _said("Adjustment", "adjustment", model.adjustment.words)
    if model.due is not None:
        due = model.due
        yield _said("Due next", "dueNext", f"{due.rests_on}. {due.note}", on=due.on)
    yield _said("Authorisation", "authorisation", model.authorised_words)
    yield _said(
        "Signature",
        "signature",
        "This document carries no signature, seal or time stamp. restpoint makes none; a "
        "signature is the laboratory's own to add.",
    )
    yield _said("Calibrated by", "operators", *model.operators, is_typed=True)
    if model.place.strip():
        yield _said("Done at", "place", model.place, is_typed=True)
    yield from _remarks(model)
    proof = model.proof
    yield _said(
        "Records",
        "records",
        f"Logbook {proof.logbook_id}, records {proof.first_record} to {proof.last_record}; the "
        f"hash of the last is {proof.last_hash}. Checked by: {proof.verify}",
    )


def _overall(model: CertificateModel) -> Iterator[Element]:
    """What is said of the gauge as a whole, as found and as left."""
    verdict = model.verdict
    sentences = {"as left": verdict.sentences}
    meanings = {each.word: each.meaning for each in model.decision.meanings}
    for run, word in (("as found", verdict.as_found), ("as left", verdict.as_left)):
        if word is not None:
            yield element(
                "dcc:statement",
                name_of(f"Conformity {run}"),
                ours("dcc:declaration", f"{word}: {meanings[word]}", *sentences.get(run, ())),
                _conformity(word),
                refType=ref_type("conformity"),
            )  # fmt: skip
    bounds = (("from", verdict.range_from), ("to", verdict.range_to))
    if limited := [(name, each) for name, each in bounds if each is not None]:
        yield element(
            "dcc:statement",
            name_of("Range of use"),
            ours("dcc:declaration", "The gauge may be used in this part of its range only."),
            element(
                "dcc:data",
                *(
                    quantity(name, real(exact_mm(each), MM), f"use{name.capitalize()}")
                    for name, each in limited
                ),
            ),
            refType=ref_type("rangeOfUse"),
        )  # fmt: skip


def _of_characteristic(
    model: CertificateModel, run: RunReport, each: CharacteristicLine, number: int
) -> Element:
    assert each.limit is not None  # whoever asks has looked
    word = each.word
    values = [quantity("permissible error", real(exact_mm(each.limit), MM), "limit")]
    if each.guard is not None:
        values.append(quantity("guard band", real(exact_mm(each.guard), MM), "guardBand"))
    if each.p_conform is not None:
        name = "probability that the true value is within the limit"
        values.append(quantity(name, real(each.p_conform, ONE), "conformanceProbability"))
    return element(
        "dcc:statement",
        name_of(f"Conformity {run.run}: {each.what}"),
        line("dcc:convention", model.decision.rule),
        line("dcc:reference", model.gauge.limits_source),
        ours("dcc:declaration", f"{word}: {each.meaning}" if word else "", each.reason),
        _conformity(word),
        element("dcc:data", values),
        refId=characteristic_id(run, number),
        refType=ref_type("conformityOfCharacteristic"),
    )


def _conformity(word: CalibrationWord | None) -> Element | None:
    """The schema's word; None where it has none."""
    found = None if word is None else CONFORMITY.get(word)
    return None if found is None else leaf("dcc:conformity", found)


def _rule(model: CertificateModel) -> Element:
    decision = model.decision
    values = [quantity("level of confidence", real(decision.level, ONE), "level")]
    if (most := decision.largest_expanded) is not None:
        name = "the most that an expanded uncertainty may be"
        values.append(quantity(name, real(exact_mm(most), MM), "largestExpanded"))
    return element(
        "dcc:statement",
        name_of("Decision rule"),
        line("dcc:convention", decision.rule),
        ours(
            "dcc:declaration",
            decision.words,
            *(f"{each.word}: {each.meaning}" for each in decision.meanings),
        ),
        element("dcc:data", values),
        refType=ref_type("decisionRule"),
    )


def _remarks(model: CertificateModel) -> Iterator[Element]:
    for each in model.deviations:
        yield _deviation(each)
    for words in model.remarks:
        yield _said("Remark", "remark", words, is_typed=True)
    for run in model.runs:
        for words in run.remarks:
            yield _said(f"Remark {run.run}", "remark", words)
    for words in model.doubts:
        yield _said("In doubt", "doubt", words)


def _deviation(each: Deviation) -> Element:
    return element(
        "dcc:statement",
        name_of(f"Deviation: {each.what}, {each.about}"),
        theirs("dcc:declaration", each.words, f"{each.operator}, {time_text(each.at)}"),
        refType=ref_type("deviation"),
    )


def _said(
    name: str, kind: str, *words: str, on: Day | None = None, is_typed: bool = False
) -> Element:
    return element(
        "dcc:statement",
        name_of(name),
        (theirs if is_typed else ours)("dcc:declaration", *words),
        None if on is None else leaf("dcc:date", on.isoformat()),
        refType=ref_type(kind),
    )


def _camel(words: str) -> str:
    """Words as the end of a refType: ``What it relates to`` gives ``whatItRelatesTo``."""
    first, *rest = words.split()
    return first.lower() + "".join(each.capitalize() for each in rest)

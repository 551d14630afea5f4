"""The first page of a certificate: which gauge, does it pass, what was judged, who says so."""

from collections.abc import Iterator

from daq.report.certificate.blocks import (
    Block,
    Cell,
    Column,
    Facts,
    Heading,
    Picture,
    Sentence,
    Tone,
    facts,
    left,
    right,
    table,
)
from daq.report.certificate.charts import error_chart
from daq.report.certificate.lines import CharacteristicLine, RunReport
from daq.report.certificate.model import CertificateModel

NOT_STATED = Cell("not stated", "soft")


def tone_of(word: str | None) -> Tone:
    """How loud a word of conformity is."""
    return {"pass": "good", None: "soft", "": "soft"}.get(word, "bad")  # type: ignore[return-value]


def said(words: str, tone: Tone = "") -> Cell:
    """Words, or that nothing was stated."""
    return Cell(words, tone) if words else NOT_STATED


def headline(model: CertificateModel) -> tuple[str, Tone]:
    """The large word in the box, and how it looks; a verdict on a certificate only."""
    if model.state == "draft":
        return "Draft", "soft"
    if model.state == "void":
        return "Void", "bad"
    word = model.verdict.as_left or "no result"
    return word[0].upper() + word[1:], tone_of(word)


def box_lines(model: CertificateModel) -> tuple[str, ...]:
    """The lines beside the large word."""
    if model.state != "issued":
        return ("This is no certificate.", *model.why, *model.verdict.sentences)
    meaning = f"As left: {model.verdict.meaning}." if model.verdict.meaning else ""
    return tuple(filter(None, (meaning, *model.verdict.sentences)))


def laboratory(model: CertificateModel) -> Facts:
    """Who calibrated, and for whom."""
    lab = model.laboratory
    return facts(
        ("laboratory", said(lab.name, "loud")),
        ("address", said(", ".join(lab.address))),
        ("contact", said(lab.contact)),
        ("done at", said(model.place)),
        ("customer", said(model.customer)),
        ("order", said(model.order)),
    )


def item(model: CertificateModel) -> Facts:
    """What was calibrated, and when."""
    gauge, dates = model.gauge, model.dates
    done = str(dates.performed_from)
    if dates.performed_to != dates.performed_from:
        done += f" to {dates.performed_to}"
    return facts(
        ("gauge", Cell(gauge.label, "loud", f"identity: {gauge.identity or 'none'}")),
        ("kind", Cell(f"{gauge.kind}, {gauge.range.shown} mm, step {gauge.step.shown} mm")),
        ("condition", said(gauge.condition)),
        ("received", NOT_STATED if dates.received is None else Cell(str(dates.received))),
        ("calibrated", Cell(done, "loud")),
        *_use(model),
        ("issued", Cell("not issued", "bad") if dates.issued is None else Cell(str(dates.issued))),
    )


def _use(model: CertificateModel) -> Iterator[tuple[str, Cell]]:
    verdict = model.verdict
    if verdict.range_from is not None or verdict.range_to is not None:
        low = verdict.range_from.shown if verdict.range_from else "0"
        high = (verdict.range_to or model.gauge.range).shown
        yield "to be used", Cell(f"from {low} mm to {high} mm only", "bad")


def front(model: CertificateModel) -> Iterator[Block]:
    """What follows the box: the characteristics, the error curve, and who answers for it."""
    if model.runs:
        yield Heading("What was judged", 2)
        yield characteristics(model)
        final = model.runs[-1]
        yield Sentence(
            f"Largest permissible errors from {model.gauge.limits_source}. U = k·u, "
            f"{model.decision.level_shown}, k = {_factors(final)}. {model.decision.words} Risk is "
            "the probability that the true value lies beyond the limit.",
            "soft",
        )
    if (chart := error_chart(model)) is not None:
        yield Picture(chart)
    for doubt in model.doubts:
        yield Sentence(doubt, "bad", "In doubt")
    yield facts(
        ("authorised", _authorised(model)),
        ("calibrated by", Cell(", ".join(model.operators))),
        *_due(model),
    )


def _authorised(model: CertificateModel) -> Cell:
    if not model.authorised_by:
        return Cell(model.authorised_words, "bad")
    return Cell(model.authorised_by, "loud", model.authorised_words)


def _factors(run: RunReport) -> str:
    every = dict.fromkeys(each.result.k_shown for each in run.characteristics)
    return ", ".join(every)


def _due(model: CertificateModel) -> Iterator[tuple[str, Cell]]:
    due = model.due
    if due is not None:
        yield "due next", Cell(str(due.on), "loud", f"{due.rests_on}. {due.note}")


def characteristics(model: CertificateModel) -> Block:
    """Every characteristic that there is, found and left side by side."""
    found, final = model.run("as found"), model.runs[-1]
    before = {each.what: each for each in found.characteristics} if found else {}
    both = found is not None and found is not final
    columns = (
        Column("characteristic", wide=True),
        *(right("as found, mm") if both else ()),
        *right(f"{final.run if both else 'value'}, mm", "U, mm", "limit, mm"),
        *(left("as found") if both else ()),
        *left(final.run if both else "verdict"),
        *right("risk"),
    )
    rows = []
    for each in final.characteristics:
        old = before.get(each.what)
        rows.append(
            (
                Cell(each.what, "loud" if each.word else "", each.at),
                *((Cell(old.result.value.shown if old else "", "soft"),) if both else ()),
                Cell(each.result.value.shown, "loud"),
                each.result.expanded.shown,
                each.limit.shown if each.limit else "",
                *((_word(old),) if both else ()),
                _word(each),
                each.risk_shown,
            )
        )
    return table(columns, rows)


def _word(each: CharacteristicLine | None) -> Cell:
    if each is None:
        return Cell("")
    return Cell(each.word, tone_of(each.word)) if each.word else Cell("no limit", "soft")

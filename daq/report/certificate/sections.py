"""Everything after the first page: results, uncertainty, method, conditions, statements."""

from collections.abc import Iterator
from datetime import datetime
from decimal import Decimal

from daq.report.certificate.blocks import (
    Block,
    Cell,
    Column,
    Heading,
    Sentence,
    facts,
    left,
    right,
    table,
)
from daq.report.certificate.figures import brief, digits
from daq.report.certificate.front import said, tone_of
from daq.report.certificate.lines import BudgetReport, RunReport, StandardFacts
from daq.report.certificate.model import CertificateModel


def utc(at: datetime | None) -> str:
    """A time to the second in UTC; nothing for None."""
    return "" if at is None else f"{at:%Y-%m-%d %H:%M:%S}"


def dof_words(dof: Decimal | None) -> str:
    """Degrees of freedom; ∞ for infinitely many."""
    return "∞" if dof is None else brief(dof)


def body(model: CertificateModel) -> Iterator[Block]:
    """All parts, in their order."""
    for run in model.runs:
        yield from _results(run)
    if model.runs:
        yield from _uncertainty(model.runs[-1])
        yield from _correction(model.runs[-1])
    yield from _method(model)
    yield from _conditions(model)
    yield from _decision(model)
    yield from _remarks(model)
    yield Heading("What this document says and does not say")
    for each in model.statements:
        yield Sentence(each.words, name=each.about)


def _results(run: RunReport) -> Iterator[Block]:
    yield Heading(f"Results {run.run}")
    yield Sentence(
        f"{run.word}: {run.meaning}. Record {run.record}, {run.operator}, {utc(run.at)} UTC.",
        tone_of(run.word),
    )
    for doubt in run.doubts:
        yield Sentence(doubt, "bad", "In doubt")
    yield table(
        (Column("characteristic", wide=True), *right("value, mm", "U, mm", "k", "limit, mm",
         "guard, mm"), Column("verdict", wide=True), *right("probability within", "risk beyond")),
        (
            (
                Cell(each.what, "loud", each.at), each.result.value.shown,
                each.result.expanded.shown, each.result.k_shown,
                each.limit.shown if each.limit else "", each.guard.shown if each.guard else "",
                Cell(each.word or "no limit", tone_of(each.word), each.reason),
                each.p_conform_shown, each.risk_shown,
            )
            for each in run.characteristics
        ),
    )  # fmt: skip
    yield Heading(f"Points {run.run}", 2)
    yield table(
        (*right("no."), *left("series"), *right("nominal, mm", "reference, mm", "reading, mm",
         "error, mm", "U, mm", "k"), *left("")),
        (
            (
                str(each.place), _series(each.series, each.direction), each.nominal.shown,
                each.reference.shown, each.reading.shown, Cell(each.error.value.shown, "loud"),
                each.error.expanded.shown, each.error.k_shown,
                Cell("insisted" if each.insisted else "", "bad"),
            )
            for each in run.points
        ),
    )  # fmt: skip
    if run.repeats:
        yield Heading(f"Repeats {run.run}", 2)
        yield table(
            (*right("nominal, mm"), *left("from"), Column("readings, mm", wide=True),
             *right("range, mm", "s, mm")),
            (
                (
                    each.nominal.shown, each.direction,
                    "   ".join(reading.shown for reading in each.readings),
                    each.range.shown, each.s_shown,
                )
                for each in run.repeats
            ),
        )  # fmt: skip


def _series(series: str, direction: str) -> str:
    return f"repeat, {direction}" if series == "repeat" else series


def _uncertainty(run: RunReport) -> Iterator[Block]:
    yield Heading(f"Uncertainty {run.run}")
    for each in run.budgets:
        yield from _budget(each)
    for found in run.monte_carlo:
        yield Sentence(
            f"{found.words}.", "" if found.agrees else "bad", "Checked by Monte Carlo (JCGM 101)"
        )


def _budget(budget: BudgetReport) -> Iterator[Block]:
    yield Heading(f"Budget: {budget.of}", 2)
    rows: list[tuple[Cell | str, ...]] = [
        (
            Cell(each.name, small=each.basis), each.distribution, each.u_shown, each.unit,
            dof_words(each.dof), each.sensitivity_shown, each.contribution_shown, each.share,
        )
        for each in budget.rows
    ]  # fmt: skip
    rows.append(
        (
            Cell("combined, u", "loud"), "", "", "", dof_words(budget.dof), "",
            Cell(budget.u_shown, "loud"), "",
        )
    )  # fmt: skip
    rows.append(
        (
            Cell(f"expanded, U = k·u with k = {budget.k_shown}", "loud"), "", "", "", "", "",
            Cell(budget.expanded.shown, "loud"), "",
        )
    )  # fmt: skip
    yield table(
        (Column("component", wide=True), *left("distribution"), *right("u"), *left("unit"),
         *right("ν", "sensitivity", "contribution, mm", "share")),
        rows,
    )  # fmt: skip


def _correction(run: RunReport) -> Iterator[Block]:
    if run.correction:
        yield Heading(f"Correction {run.run}")
        yield Sentence(
            "What to add to a reading: minus the mean error of both ways. U (k = 2) is of "
            "reference and reading; the difference between the ways is not in it.",
            "soft",
        )
        yield table(
            right("nominal, mm", "reading, mm", "correction, mm", "U, mm", "between the ways, mm"),
            (
                (
                    each.nominal.shown, each.reading.shown, Cell(each.correction.shown, "loud"),
                    each.expanded.shown, each.between_ways.shown,
                )
                for each in run.correction
            ),
        )  # fmt: skip
    if run.line is not None:
        yield Sentence(run.line.words, name="Line")


def _method(model: CertificateModel) -> Iterator[Block]:
    method, gauge = model.method, model.gauge
    yield Heading("Method, standard, gauge")
    for words in method.words:
        yield Sentence(words)
    for remark in method.remarks:
        yield Sentence(remark, name="Of the plan")
    yield facts(
        ("plan", Cell(f"{method.title or method.plan}, revision {method.revision or 'not known'}")),
        ("its file", Cell(method.plan)),
        ("its SHA-256", Cell(method.sha256)),
        ("adjustment", Cell(model.adjustment.words, small=_by(model))),
        ("read by", Cell(f"gauge profile {gauge.profile}")),
        ("scale", Cell(_expansion(gauge.expansion, gauge.u_expansion))),
        ("zero", Cell(gauge.zero)),
        ("interval", Cell(gauge.interval, small=f"the gauge is record {gauge.record}")),
    )
    yield Heading("Permissible errors", 2)
    yield table(
        (Column("of", wide=True), *right("limit, mm")),
        ((each.of, each.limit.shown) for each in gauge.limits),
    )
    yield Sentence(f"From {gauge.limits_source}.", "soft")
    for each in model.standards:
        yield from _standard(each)


def _by(model: CertificateModel) -> str:
    made = model.adjustment
    if made.record is None:
        return made.what
    return f"{made.what}: {made.operator}, {utc(made.at)} UTC, record {made.record}"


def _expansion(expansion: Decimal, u: Decimal) -> str:
    return f"{digits(expansion)} µm/(m·K), u = {digits(u)} µm/(m·K)"


def _standard(each: StandardFacts) -> Iterator[Block]:
    yield Heading(f"{each.role.capitalize()}: {each.id}", 2)
    yield facts(
        ("what", Cell(f"{each.what} ({each.kind})")),
        ("certificate", Cell(f"{each.certificate}, issued by {each.issuer}", "loud")),
        ("to be used", Cell(f"from {each.valid_from} to {each.due}")),
        ("drift in a year", Cell(f"at most {each.drift_per_year.shown} mm")),
        ("expansion", Cell(_expansion(each.expansion, each.u_expansion),
         small=f"record {each.record}")),
    )  # fmt: skip
    yield table(
        right("nominal, mm", "length at 20 °C, mm", "U, mm", "k"),
        (
            (value.nominal.shown, value.length.shown, value.expanded.shown, digits(value.k))
            for value in each.values
        ),
        dense=True,
    )


def _conditions(model: CertificateModel) -> Iterator[Block]:
    yield Heading("Conditions")
    of = model.environment
    yield Sentence(of.words)
    yield facts(
        ("read", Cell(_from_to(of.lowest_c, of.highest_c))),
        ("allowed", Cell(_from_to(of.coldest_c, of.warmest_c))),
        ("change in a run", said("" if of.change_k is None else f"{digits(of.change_k)} K")),
    )
    if model.environment.readings:
        yield table(
            (*left("run"), *right("°C"), *left("asked"), Column("said", wide=True),
             *left("by, at (UTC)"), *right("record")),
            (
                (
                    each.run, Cell(digits(each.c), "loud"), each.asked, each.said,
                    Cell(each.operator, small=utc(each.at)), str(each.record),
                )
                for each in model.environment.readings
            ),
        )  # fmt: skip


def _from_to(low: Decimal | None, high: Decimal | None) -> str:
    if low is None or high is None:
        return "not known"
    return f"{digits(low)} °C to {digits(high)} °C"


def _decision(model: CertificateModel) -> Iterator[Block]:
    yield Heading("Decision rule")
    of = model.decision
    yield Sentence(of.words, name=of.rule)
    yield facts(
        ("level of U", Cell(f"{digits(of.level)}, {of.level_shown}")),
        ("largest U", Cell(f"{of.largest_expanded.shown} mm" if of.largest_expanded else "any")),
    )
    yield table(
        (*left("word"), Column("means", wide=True)),
        ((Cell(each.word, tone_of(each.word)), each.meaning) for each in model.decision.meanings),
    )


def _remarks(model: CertificateModel) -> Iterator[Block]:
    yield Heading("Deviations, remarks, doubts")
    if not (model.deviations or model.remarks or model.doubts or _of_runs(model)):
        yield Sentence("None.", "soft")
    for doubt in model.doubts:
        yield Sentence(doubt, "bad", "In doubt")
    for run, remark in _of_runs(model):
        yield Sentence(remark, name=f"Remark {run}")
    for remark in model.remarks:
        yield Sentence(remark, name="Remark")
    if model.deviations:
        yield table(
            (*left("what", "about"), Column("why", wide=True), *left("by, at (UTC)"),
             *right("record")),
            (
                (
                    Cell(each.what, "bad"), each.about, each.words,
                    Cell(each.operator, small=utc(each.at)),
                    "" if each.record is None else str(each.record),
                )
                for each in model.deviations
            ),
        )  # fmt: skip


def _of_runs(model: CertificateModel) -> list[tuple[str, str]]:
    return [(run.run, remark) for run in model.runs for remark in run.remarks]

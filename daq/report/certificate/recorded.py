"""The last pages: every figure with all digits of its record, and what vouches for them."""

from collections.abc import Iterator

from daq.report.certificate.blocks import (
    Block,
    Cell,
    Code,
    Column,
    Heading,
    PageBreak,
    Sentence,
    facts,
    left,
    right,
    table,
)
from daq.report.certificate.figures import digits
from daq.report.certificate.lines import RunReport
from daq.report.certificate.model import CertificateModel
from daq.report.certificate.sections import dof_words, utc


def recorded(model: CertificateModel) -> Iterator[Block]:
    """All figures of every run as recorded."""
    if not model.runs:
        return
    yield PageBreak()
    yield Heading("As recorded")
    yield Sentence(
        "Every figure with all digits of its record, in millimetres. u is the combined standard "
        "uncertainty (k = 1), ν its effective degrees of freedom.",
        "soft",
    )
    for run in model.runs:
        yield from _points(run)
        yield from _characteristics(run)
        yield from _budgets(run)
        yield from _further(run)


def _points(run: RunReport) -> Iterator[Block]:
    yield Heading(f"Points {run.run}, as recorded", 2)
    yield table(
        (*right("no.", "reference", "reading", "error", "u", "ν", "k", "U", "°C"),
         *right("record", "capture"), Column("by, at (UTC)", wide=True)),
        (
            (
                str(each.place), digits(each.reference.exact), digits(each.reading.exact),
                digits(each.error.value.exact), digits(each.error.u_mm), dof_words(each.error.dof),
                digits(each.error.k), digits(each.error.expanded.exact),
                "" if each.temperature_c is None else digits(each.temperature_c),
                "" if each.record is None else str(each.record),
                "" if each.capture is None else str(each.capture),
                Cell(", ".join(filter(None, (each.operator, utc(each.at)))), small=each.insisted),
            )
            for each in run.points
        ),
        dense=True,
    )  # fmt: skip


def _characteristics(run: RunReport) -> Iterator[Block]:
    yield Heading(f"Characteristics {run.run}, as recorded", 2)
    yield table(
        (*left("characteristic"), *right("value", "u", "ν", "k", "U", "limit", "guard",
         "P within"), Column("where; points", wide=True)),
        (
            (
                each.what, digits(each.result.value.exact), digits(each.result.u_mm),
                dof_words(each.result.dof), digits(each.result.k),
                digits(each.result.expanded.exact),
                digits(each.limit.exact) if each.limit else "",
                digits(each.guard.exact) if each.guard else "",
                "" if each.p_conform is None else digits(each.p_conform),
                f"{each.where}; {', '.join(map(str, each.places))}",
            )
            for each in run.characteristics
        ),
        dense=True,
    )  # fmt: skip


def _budgets(run: RunReport) -> Iterator[Block]:
    for budget in run.budgets:
        yield Heading(f"Budget {run.run}, as recorded: {budget.of}", 2)
        yield table(
            (Column("component", wide=True), *left("distribution", "basis"), *right("u"),
             *left("unit"), *right("ν", "sensitivity", "contribution, mm")),
            (
                (
                    each.name, each.distribution, each.basis, digits(each.u), each.unit,
                    dof_words(each.dof), digits(each.sensitivity), digits(each.contribution_mm),
                )
                for each in budget.rows
            ),
            dense=True,
        )  # fmt: skip
        yield Sentence(
            f"u = {digits(budget.u_mm)} mm, ν = {dof_words(budget.dof)}, k = {digits(budget.k)}, "
            f"U = {digits(budget.expanded.exact)} mm.",
            "soft",
        )


def _further(run: RunReport) -> Iterator[Block]:
    if run.correction:
        yield Heading(f"Correction {run.run}, as recorded", 2)
        yield table(
            right("nominal", "reading", "correction", "u", "U", "between the ways"),
            (
                (
                    digits(each.nominal.exact), digits(each.reading.exact),
                    digits(each.correction.exact), digits(each.u_mm), digits(each.expanded.exact),
                    digits(each.between_ways.exact),
                )
                for each in run.correction
            ),
            dense=True,
        )  # fmt: skip
    each_s = ", ".join(
        f"{each.nominal.shown} mm {each.direction}: {digits(each.s_mm)} mm, range "
        f"{digits(each.range.exact)} mm"
        for each in run.repeats
        if each.s_mm is not None
    )
    if each_s:
        yield Sentence(f"{each_s}.", "soft", f"Repeats {run.run}")
    if run.line is not None:
        of = run.line
        yield Sentence(
            f"error = {digits(of.at_zero_mm)} mm (u = {digits(of.u_at_zero_mm)} mm) + "
            f"{digits(of.slope)} (u = {digits(of.u_slope)}) · travel, correlation "
            f"{digits(of.correlation)}, s = {digits(of.residual_s_mm)} mm, ν = {of.dof}.",
            "soft",
            f"Line {run.run}",
        )
    for found in run.monte_carlo:
        yield Sentence(
            f"{found.of}: {found.trials} trials from the seed {found.seed}, u = "
            f"{digits(found.u_mm)} mm, from {digits(found.low_mm)} mm to {digits(found.high_mm)} "
            f"mm; {found.reason}",
            "soft",
            f"Monte Carlo {run.run}",
        )


def proof(model: CertificateModel) -> Iterator[Block]:
    """Where the records lie, how to check them, and that this is the end."""
    of, dates = model.proof, model.dates
    yield Heading("Where it is kept, and how to check it")
    yield Sentence(
        f"Records {of.first_record} to {of.last_record} of the logbook {of.logbook_id}. Hash of "
        "the last of them:"
    )
    yield Code(of.last_hash)
    yield Sentence("It vouches for every record up to that one. To hold the logbook against it:")
    yield Code(of.verify)
    yield facts(
        ("calibration", Cell(model.calibration)),
        ("at", Cell(model.station)),
        ("begun", Cell(f"{utc(dates.begun.utc)} UTC", small=f"local {dates.begun.local}")),
        ("last record", Cell(f"{utc(dates.last.utc)} UTC", small=f"local {dates.last.local}")),
    )

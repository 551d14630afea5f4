"""restpoint budget: an uncertainty budget from its file, with u, k and U."""

import math
from collections.abc import Iterator
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from daq.cli.options import json_option, print_json

if TYPE_CHECKING:
    from daq.calibration.budget import Budget, Coverage
    from daq.calibration.monte_carlo import Check


@click.command(epilog="Example: restpoint budget block.toml --level 0.99 --monte-carlo")
@click.argument("budget_file", metavar="FILE", type=click.Path(dir_okay=False, path_type=Path))
@click.option(
    "--level",
    type=click.FloatRange(0, 1, min_open=True, max_open=True),
    help="Level of confidence. [default: the file's, else 0.95]",
)
@click.option(
    "--monte-carlo", is_flag=True, help="Check it by random draws of the inputs; needs numpy."
)
@click.option("--seed", type=click.IntRange(0), default=1, show_default=True, help="Of the draws.")
@click.option(
    "--figures",
    type=click.IntRange(1, 2),
    default=2,
    show_default=True,
    help="Significant figures of u that the check is held to.",
)
@json_option
def command(
    budget_file: Path,
    level: float | None,
    monte_carlo: bool,
    seed: int,
    figures: int,
    as_json: bool,
) -> int:
    """Work out an uncertainty budget.

    FILE is a TOML file with the inputs, what is known of each, and the model as arithmetic;
    docs/budgets.md says how to write one. The exit status is 1 if the Monte Carlo check does not
    confirm the budget.
    """
    from daq.calibration.budget_file import budget_from_bytes
    from daq.calibration.monte_carlo import check

    budget, asked = budget_from_bytes(_bytes(budget_file), str(budget_file))
    coverage = budget.coverage(level or asked)
    held = check(budget, level=coverage.level, seed=seed, figures=figures) if monte_carlo else None
    if as_json:
        print_json(**_facts(budget, coverage, held))
    else:
        for line in _words(budget, coverage, held):
            click.echo(line)
    return 0 if held is None or held.validated else 1


def _bytes(budget_file: Path) -> bytes:
    """What the file holds.

    Raises:
        CalibrationError: it cannot be read.
    """
    from daq.calibration.errors import CalibrationError

    try:
        return budget_file.read_bytes()
    except OSError as error:
        raise CalibrationError(f"{budget_file} cannot be read: {error.strerror}") from error


def _facts(budget: "Budget", coverage: "Coverage", held: "Check | None") -> dict[str, Any]:
    """Everything, unrounded; what is infinite becomes None."""
    from daq.calibration.rounding import rounded_uncertainty

    rows = [{n: _finite(value) for n, value in asdict(row).items()} for row in budget.table()]
    facts: dict[str, Any] = {
        "measurand": budget.measurand,
        "estimate": budget.estimate,
        "unit": budget.unit or None,
        "inputs": rows,
        "correlations": [[*pair, r] for pair, r in budget.correlations.items()],
        **{name: _finite(value) for name, value in asdict(coverage).items()},
    }
    facts["stated"] = str(rounded_uncertainty(coverage.expanded)) if coverage.expanded else None
    facts["monte_carlo"] = None
    if held is not None:
        facts["monte_carlo"] = {**asdict(held), "validated": held.validated}
    return facts


def _finite(value: Any) -> Any:
    return None if isinstance(value, float) and not math.isfinite(value) else value


def _words(budget: "Budget", coverage: "Coverage", held: "Check | None") -> Iterator[str]:
    from daq.calibration.rounding import stated

    yield from _table(budget)
    unit = f" {budget.unit}" if budget.unit else ""
    yield ""
    yield f"u = {_figure(coverage.u)}{unit}, combined standard uncertainty"
    cut = "" if coverage.dof == coverage.dof_exact else f", cut down to {_figure(coverage.dof)}"
    yield f"ν = {_figure(coverage.dof_exact)} effective degrees of freedom{cut}"
    yield f"k = {_figure(coverage.k)} for {100 * coverage.level:g} %"
    yield f"U = {_figure(coverage.expanded)}{unit}, expanded uncertainty"
    if cut:
        yield (
            f"Not cut down, k would be {_figure(coverage.k_exact)} and "
            f"U {_figure(coverage.expanded_exact)}{unit}."
        )
    if coverage.expanded:
        said = stated(budget.estimate, coverage.expanded)
        yield f"{budget.measurand} = {said}{unit} (U rounded up to two figures)"
    if held is not None:
        yield from _check_words(held, unit)


def _check_words(held: "Check", unit: str) -> Iterator[str]:
    run = held.monte_carlo
    digits = max(0, 1 - math.floor(math.log10(held.delta)))
    low, high = (f"{end:.{digits}f}".replace("-", "−") for end in held.interval)
    yield ""
    yield (
        f"Monte Carlo, {run.trials} trials, seed {run.seed}: u = {_figure(run.u)}{unit}, "
        f"{100 * run.level:g} % from {low} to {high}{unit}"
    )
    yield f"{'Confirmed' if held.validated else 'Not confirmed'}: {held.reason}."


def _table(budget: "Budget") -> Iterator[str]:
    """The rows as columns of one width each."""
    unit = f", {budget.unit}" if budget.unit else ""
    head = ("input", "estimate", "unit", "distribution", "stated", "divisor", "u", "ν")
    cells: list[tuple[str, ...]] = [
        (*head, "sensitivity", f"contribution{unit}", "share, %", "known from")
    ]
    for row in budget.table():
        shape = row.distribution or ""
        figures = (row.stated, row.divisor, row.u, row.dof, row.sensitivity, row.contribution)
        share = f"{100 * row.share:.1f}".replace("-", "−")
        middle = (*(_figure(each) for each in figures), share)
        cells.append((row.name, _value(row.estimate), row.unit, shape, *middle, row.basis))
    widths = [max(len(row[i]) for row in cells) for i in range(len(cells[0]))]
    left = {0, 2, 3, len(cells[0]) - 1}
    for line in cells:
        told = (
            each.ljust(width) if i in left else each.rjust(width)
            for i, (each, width) in enumerate(zip(line, widths, strict=True))
        )
        yield "  ".join(told).rstrip()


def _figure(value: float) -> str:
    """Four significant digits; an infinite one as a sign."""
    if math.isinf(value):
        return "∞"
    return f"{value:.4g}".replace("-", "−")


def _value(value: float) -> str:
    """An estimate keeps its digits."""
    return f"{value:.12g}".replace("-", "−")

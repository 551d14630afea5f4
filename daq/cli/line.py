"""restpoint line: a straight line through points, with the uncertainty of what it says."""

import csv
import io
import math
from collections.abc import Iterator
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from daq.cli.options import json_option, print_json

if TYPE_CHECKING:
    from daq.calibration.line import Line, Predicted

_COLUMNS = (["x", "y"], ["x", "y", "u"])


@click.command(epilog="Example: restpoint line corrections.csv --origin 20 --at 30")
@click.argument("csv_file", metavar="FILE.csv", type=click.Path(dir_okay=False, path_type=Path))
@click.option("--origin", type=float, help="Where the intercept is taken. [default: the mean of x]")
@click.option(
    "--at", "places", type=float, multiple=True, help="Say what the line gives at this x."
)
@json_option
def command(csv_file: Path, origin: float | None, places: tuple[float, ...], as_json: bool) -> int:
    """Fit a line by least squares to points, with its uncertainty.

    FILE.csv has the columns x,y or x,y,u: u is the standard uncertainty of each point, and then
    they have weights. Figures are plain numbers in units of your own.
    """
    from daq.calibration.line import fit_line

    x, y, u = _points(csv_file)
    line = fit_line(x, y, u=u or None, origin=origin)
    said = [line.at(place) for place in places]
    if as_json:
        print_json(**_facts(line, said))
    else:
        for each in _words(line, said):
            click.echo(each)
    return 0


def _points(csv_file: Path) -> tuple[list[float], list[float], list[float]]:
    """The columns of the file; no u where there is no such column.

    Raises:
        CalibrationError: it cannot be read, or every mistake in it, by line.
    """
    from daq.calibration.errors import CalibrationError

    try:
        text = csv_file.read_bytes().decode("utf-8-sig")
    except OSError as error:
        raise CalibrationError(f"{csv_file} cannot be read: {error.strerror}") from error
    except UnicodeDecodeError as error:
        raise CalibrationError(f"{csv_file} is not UTF-8 text; save it as CSV in UTF-8") from error
    reader = csv.reader(io.StringIO(text, newline=""))
    columns: list[list[float]] = []
    names: list[str] = []
    problems = []
    for cells in reader:
        if not any(cell.strip() for cell in cells):
            continue
        where = f"{csv_file}:{reader.line_num}"
        if not names:
            names = [cell.strip().casefold() for cell in cells]
            if names not in _COLUMNS:
                raise CalibrationError(f"{where}: the columns are {','.join(names)}; write x,y,u")
            columns = [[] for _ in names]
            continue
        if len(cells) != len(names):
            problems.append(f"{where}: {len(cells)} cells where there are {len(names)} columns")
            continue
        for name, column, cell in zip(names, columns, cells, strict=True):
            number = _number(cell)
            column.append(number)
            if math.isnan(number):
                problems.append(f"{where}: {name}: {cell.strip()!r} is not a number such as 12.7")
    if not names:
        problems.append(f"{csv_file}:1: it is empty; the first line must name the columns x,y")
    if problems:
        raise CalibrationError(*problems)
    return columns[0], columns[1], columns[2] if len(columns) > 2 else []


def _number(cell: str) -> float:
    """The number in a cell; NaN where there is none."""
    try:
        number = float(cell.strip().replace("−", "-"))
    except ValueError:
        return math.nan
    return number if math.isfinite(number) else math.nan


def _facts(line: "Line", said: "list[Predicted]") -> dict[str, Any]:
    facts = {**asdict(line), "correlation": line.correlation}
    facts["dof"] = line.dof if math.isfinite(line.dof) else None
    facts["at"] = [
        {**asdict(each), "dof": each.dof if math.isfinite(each.dof) else None} for each in said
    ]
    return facts


def _words(line: "Line", said: "list[Predicted]") -> Iterator[str]:
    n = len(line.residuals)
    yield f"y = intercept + slope · (x − {_figure(line.origin)}), least squares through {n} points"
    yield f"  intercept    {_figure(line.intercept):>12}  u {_figure(line.u_intercept, 4)}"
    yield f"  slope        {_figure(line.slope):>12}  u {_figure(line.u_slope, 4)}"
    yield f"  correlation  {_figure(line.correlation, 3):>12}"
    if line.chi_square is None:
        yield (
            f"  residual standard deviation {_figure(line.sd, 4)}, {line.dof:g} degrees of freedom"
        )
    else:
        yield f"  χ² = {_figure(line.chi_square, 4)} with {n - 2} degrees of freedom"
    for each in said:
        beyond = "" if each.inside else "; beyond the points, where nothing shows that it is right"
        yield f"  at {each.x:g}: {_figure(each.value)}, u {_figure(each.u, 4)}{beyond}"


def _figure(value: float, digits: int = 6) -> str:
    return f"{value:.{digits}g}".replace("-", "−")

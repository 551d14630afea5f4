"""A foreign log turned once into the open format, so that no later audit must sort or convert it.

What comes out is Parquet, sorted, names as whole numbers where the log has such for all of them.
Rows that cannot be read are left out, and listed beside it in `REJECTED`, so that whoever opens it
is told of them as at every audit. How a foreign log is chained is written there too, in `CHAIN`.
"""

import shutil
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import duckdb

from daq.audit.errors import IntakeError
from daq.audit.intake.limits import Limits
from daq.audit.intake.mapping import ChainFrom, Mapping
from daq.audit.intake.opening import CHAIN, REJECTED, open_source
from daq.audit.intake.quoting import literal
from daq.audit.intake.rejects import Rejects
from daq.audit.intake.source import LogSource
from daq.audit.layout import TABLES

_FORM: Final = "FORMAT parquet, COMPRESSION zstd"


@dataclass(frozen=True, slots=True)
class Converted:
    """What was written: files, and rows by table; and what was not.

    ``rejects`` are complete and closed; ``notes`` as of the log.
    """

    files: tuple[Path, ...]
    rows: dict[str, int]
    rejects: Rejects
    notes: tuple[str, ...]


def convert_log(
    paths: Sequence[Path],
    mapping: Mapping | None,
    to: Path,
    *,
    limits: Limits | None = None,
    rejects_to: Path | None = None,
) -> Converted:
    """Write the log in ``paths`` to the folder ``to``, which `open_source` reads without a mapping.

    The folder is there when all of it is written, or not at all.

    Args:
        paths: what to read, files or folders.
        mapping: which column is what; None if the files are in the open format, but in no order.
        to: a folder that is empty or not there yet, in none of ``paths``.
        limits: what reading may use.
        rejects_to: another CSV file for every rejected row.

    Raises:
        IntakeError: as `open_source`; or ``to`` cannot be used, or has no room.
        MappingError: as `open_source`.
    """
    _check(paths, to)
    partial = to.with_name(f".{to.name}.partial")
    shutil.rmtree(partial, ignore_errors=True)
    try:
        partial.mkdir(parents=True)
        left_out = partial / REJECTED
        with open_source(paths, mapping, limits=limits, rejects_to=left_out) as source:
            names = list(_written(source, partial))
            if isinstance(source.chain, ChainFrom):
                (partial / CHAIN).write_text(_chain(source.chain), "utf-8")
            rows = {name: source.rows(name) for name in TABLES if source.columns(name)}
            rejects, notes = source.rejects, tuple(source.notes)
        if rejects_to is not None:
            shutil.copyfile(left_out, rejects_to)
        if not rejects:
            left_out.unlink()
        if to.exists():
            to.rmdir()
        partial.rename(to)
    except (OSError, duckdb.IOException, duckdb.OutOfMemoryException) as error:
        raise IntakeError(f"The log cannot be written to {to}: {error}") from error
    finally:
        shutil.rmtree(partial, ignore_errors=True)
    return Converted(tuple(to / name for name in names), rows, rejects, notes)


def _check(paths: Sequence[Path], to: Path) -> None:
    if to.exists() and (not to.is_dir() or any(to.iterdir())):
        raise IntakeError(f"{to} holds other files. Name a folder that is empty or not there yet.")
    for path in paths:
        if to.resolve().is_relative_to(path.resolve()):
            raise IntakeError(f"{to} is within the log in {path}. Name a folder outside of it.")


def _written(source: LogSource, folder: Path) -> Iterator[str]:
    """Write all tables; the names of the files, relative to the folder."""
    for table in TABLES:
        for number, query in enumerate(source.sorted_selects(table), start=1):
            (folder / table).mkdir(exist_ok=True)
            name = f"{table}/{table}-{number:06d}.parquet"
            source.connection.execute(f"COPY ({query}) TO {literal(str(folder / name))} ({_FORM})")
            yield name


def _chain(chain: ChainFrom) -> str:
    columns = ", ".join(_quoted(each) for each in chain.columns)
    return (
        "# How each row is bound to the one before of its gauge: docs/log-format.md.\n\n"
        f"[chain]\ntable = {_quoted(chain.table)}\ncolumns = [{columns}]\n"
        f"separator = {_quoted(chain.separator)}\ndigits = {chain.digits}\n"
    )


def _quoted(text: str) -> str:
    """A text as TOML has it."""
    told = "".join(
        f"\\U{ord(each):08X}" if each in '"\\' or not each.isprintable() else each for each in text
    )
    return f'"{told}"'

"""A job sheet from a TOML file: read whole, or refused with every mistake at its line."""

import hashlib
import re
from importlib.resources import files
from pathlib import Path as FilePath

from pydantic import ValidationError

from daq.jobs.engine import Engine
from daq.jobs.engine_file import LARGEST_BYTES, bytes_of, engine_from_toml, text_of
from daq.jobs.sheet.draft import draft
from daq.jobs.sheet.errors import NoSheetError, SheetError
from daq.jobs.sheet.problem import Path, Problem, Problems
from daq.jobs.sheet.recover import line_in, recovered
from daq.jobs.sheet.rules import problems_in
from daq.jobs.sheet.sheet import Sheet, SheetFile
from daq.jobs.sheet.step_rules import countable
from drivers.toml_form import check_toml, toml_tables
from drivers.toml_lines import lines_of

_DEMO = files("daq.jobs") / "sheets" / "ferry-auxiliary.toml"

_SHEETS_OWN = re.compile(r"^[ \t]*\[+[ \t]*(?:sheet|steps)\b", re.MULTILINE)
"""A table that only a job sheet has."""


def load_sheet(path: FilePath) -> Sheet:
    """Read a job sheet from a file.

    Raises:
        SheetError: it cannot be read, or has mistakes; all of them at once, each as ``file:line:
            field: what is wrong; what would be right``.
    """
    return sheet_from_bytes(bytes_of(path, "a job sheet", NoSheetError), str(path))


def engine_in(path: FilePath) -> Engine:
    """The engine of a job sheet, or of a file that holds an engine only.

    Raises:
        SheetError: it is a sheet, and as a whole it has mistakes.
        EngineError: it is a file with an engine only, and it has mistakes.
    """
    raw = bytes_of(path, "a job sheet", NoSheetError)
    text = text_of(raw, str(path), NoSheetError)
    if _SHEETS_OWN.search(text):
        return sheet_from_bytes(raw, str(path)).engine
    return engine_from_toml(text, str(path))


def demo_sheet() -> Sheet:
    """The sheet that is shipped for the demonstration; every figure on it is invented."""
    return sheet_from_bytes(_DEMO.read_bytes(), _DEMO.name)


def sheet_from_bytes(raw: bytes, name: str) -> Sheet:
    """The job sheet in a file's bytes, fingerprint and all.

    Args:
        raw: the file's content; UTF-8.
        name: the file's name, for the messages.

    Raises:
        SheetError: as ``load_sheet``.
    """
    if len(raw) > LARGEST_BYTES:
        raise NoSheetError(f"{name} is far too large for a job sheet; check which file it is.")
    file = _file_from(text_of(raw, name, NoSheetError), name)
    return Sheet(
        name=name,
        fingerprint=hashlib.sha256(raw).hexdigest(),
        heading=file.sheet,
        sources=file.sources,
        engine=file.engine,
        variants=file.variants,
        gauges=file.gauges,
        steps=file.steps,
        text=raw.decode("utf-8"),
    )


def _file_from(text: str, name: str) -> SheetFile:
    """The tables of a sheet; every mistake there is, of all kinds, in the order of the lines."""
    readable = recovered(text, name)
    if readable.text is None:
        raise SheetError(*readable.problems)
    file, problems = check_toml(readable.text, name, SheetFile)
    if file is None:
        between = _problems_of_draft(toml_tables(readable.text))
    else:
        between = problems_in(file, file.engine)
    lines = lines_of(readable.text)
    found = [*problems, *(_at_its_line(problem, lines, name) for problem in between)]
    at = {problem: line_in(problem, name) for problem in found}  # each is said once
    told = [problem for problem, line in at.items() if line not in readable.broken]
    every = sorted([*readable.problems, *told], key=lambda problem: line_in(problem, name))
    if every or file is None:
        raise SheetError(*every)
    return file


def _problems_of_draft(data: dict[str, object]) -> Problems:
    """What is wrong between the sound parts of a sheet that has mistakes, engine and all."""
    sheet = draft(SheetFile, data)
    try:
        whole = Engine.model_validate(data.get("engine"))
    except ValidationError:
        yield from _engine_problems(sheet.engine)
        yield from problems_in(sheet, None)
    else:
        yield from problems_in(sheet.model_copy(update={"engine": whole}), whole)


def _engine_problems(engine: Engine | None) -> Problems:
    """The rules of a drafted engine, if enough of it is sound to apply them."""
    if engine is None or engine.firing_order is None or not countable(engine):
        return
    sound = {
        key: getattr(engine, key) or Engine.model_fields[key].default
        for key in ("intervals", "timing", "valve_table")
    }
    for problem in engine.model_copy(update=sound).problems():
        where, _, words = problem.partition(": ")
        parts = [int(part) - 1 if part.isdigit() else part for part in where.split(".")]
        yield ("engine", *parts), words


def _at_its_line(problem: Problem, lines: dict[Path, int], name: str) -> str:
    path, words = problem
    where = ".".join(str(part + 1) if isinstance(part, int) else part for part in path)
    while path and path not in lines:
        path = path[:-1]
    return f"{name}:{lines.get(path, 1)}: {where}: {words}"

"""A TOML file as a form of this room, or refused with every mistake at once, each at its line.

Rules between the tables are held against every table that is sound, so a mistake in one table does
not hide those in the others.
"""

import tomllib
from collections.abc import Callable, Iterator
from typing import Any, TypeVar, get_args, get_origin

from pydantic import TypeAdapter, ValidationError

from daq.calibration.errors import CalibrationError
from drivers.form import Form
from drivers.toml_form import check_toml, toml_tables
from drivers.toml_lines import lines_of

LARGEST_BYTES = 500_000
"""No file that a person writes for a calibration is larger; a long certificate has 300 values."""

Path = tuple[str | int, ...]
Problem = tuple[Path, str]
"""Where in the file (elements counted from 0), and ``what is wrong; what would be right``."""

Problems = Iterator[Problem]
Checked = TypeVar("Checked", bound=Form)


def form_from(
    raw: bytes,
    name: str,
    form: type[Checked],
    between: Callable[[Checked], Problems],
    error: type[CalibrationError],
) -> Checked:
    """The form in a file's bytes.

    Args:
        raw: the file's content; UTF-8.
        name: the file's name, for the messages.
        form: its fields are tables (forms) or lists of tables.
        between: the rules between tables. A table that is not sound is None in what it gets.
        error: what to raise.

    Raises:
        CalibrationError: the given one, with every mistake as ``file:line: field: what is wrong;
            what would be right``.
    """
    text = _text(raw, name, error)
    file, problems = check_toml(text, name, form)
    if file is not None:
        found = between(file)
    else:
        try:
            found = between(_sound_tables(form, toml_tables(text)))
        except tomllib.TOMLDecodeError:
            raise error(*problems) from None
    lines = lines_of(text)
    told = dict.fromkeys([*problems, *(_told(each, lines, name) for each in found)])
    if told or file is None:
        raise error(*sorted(told, key=lambda problem: _line_in(problem, name)))
    return file


def _text(raw: bytes, name: str, error: type[CalibrationError]) -> str:
    if len(raw) > LARGEST_BYTES:
        raise error(f"{name}:1: it is far too large; check which file it is")
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as cause:
        line = 1 + raw.count(b"\n", 0, cause.start)
        raise error(f"{name}:{line}: it is not UTF-8 text; save it as UTF-8") from cause


def _sound_tables(form: type[Checked], data: dict[str, Any]) -> Checked:
    """The file's form with each table as it is, or None where it is not sound."""
    tables: dict[str, Any] = {}
    for name, field in form.model_fields.items():
        given = data.get(name)
        annotation: Any = field.annotation
        if get_origin(annotation) is tuple:
            element: TypeAdapter[Any] = TypeAdapter(get_args(annotation)[0])
            many = given if isinstance(given, list) else []
            tables[name] = tuple(_sound(element, each) for each in many)
        else:
            tables[name] = _sound(TypeAdapter(annotation), given)
    return form.model_construct(**tables)


def _sound(adapter: TypeAdapter[Any], given: Any) -> Any:
    try:
        return adapter.validate_python(given)
    except ValidationError:
        return None


def _told(problem: Problem, lines: dict[Path, int], name: str) -> str:
    path, words = problem
    where = ".".join(str(part + 1) if isinstance(part, int) else part for part in path)
    while path and path not in lines:
        path = path[:-1]
    return f"{name}:{lines.get(path, 1)}: {where}: {words}"


def _line_in(problem: str, name: str) -> int:
    return int(problem.removeprefix(f"{name}:").partition(":")[0])

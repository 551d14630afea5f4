"""TOML files checked against a form, with every mistake named by file and line at once.

A person writes these files by hand, so a message says where (file, line, field), what is wrong, and
what would be right.
"""

import re
import tomllib
from collections.abc import Iterator, Sequence
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

from drivers.toml_lines import Path, lines_of
from drivers.toml_words import is_tag, words_for

Checked = TypeVar("Checked", bound=BaseModel)


def toml_tables(text: str) -> dict[str, Any]:
    """The tables of ``text``.

    Raises:
        tomllib.TOMLDecodeError: it is no TOML, or so deeply nested that nobody meant it.
    """
    try:
        return tomllib.loads(text)
    except RecursionError:
        raise tomllib.TOMLDecodeError("Nested too deeply (at line 1, column 1)") from None


def check_toml(text: str, name: str, model: type[Checked]) -> tuple[Checked | None, list[str]]:
    """``text`` as a ``model``, or what is wrong with it.

    Args:
        text: the file's content.
        name: the file's name, for the messages.
        model: the pydantic model to fill; it should forbid unknown keys.

    Returns:
        The model and no problems, or None and one line a problem:
        ``file:line: field: what is wrong; what would be right``.
    """
    try:
        data = toml_tables(text)
    except tomllib.TOMLDecodeError as error:
        return None, [_syntax_problem(str(error), text, name)]
    try:
        return model.model_validate(data), []
    except ValidationError as error:
        lines = lines_of(text)
        found = error.errors()
        problems = [
            problem
            for each in found
            if not _only_follows(each, found)
            for problem in _problems(each, data, lines, model)
        ]
        places = sorted(dict.fromkeys(problems), key=lambda problem: problem[0])
        return None, [f"{name}:{line}: {words}" for line, words in places]


def _only_follows(error: Any, errors: Sequence[Any]) -> bool:
    """Whether a list only counts as too short because its elements have mistakes of their own."""
    loc = error["loc"]
    return error["type"] == "too_short" and any(
        other["loc"][: len(loc)] == loc and len(other["loc"]) > len(loc) for other in errors
    )


def _syntax_problem(said: str, text: str, name: str) -> str:
    """A message for text that is no TOML, with a hint for the commonest slips."""
    lines = text.splitlines() or [""]
    found = re.search(r"\(at line (\d+), column \d+\)", said)
    number = min(int(found[1]) if found else len(lines), len(lines))
    if not lines[number - 1].strip() and number > 1:
        number -= 1  # an unfinished line is only noticed on the next one
    line = lines[number - 1].strip()
    what = re.sub(r" ?\(at [^)]*\)", "", said)
    problem = f"{name}:{number}: cannot read {line!r} ({what[:1].lower()}{what[1:]})"
    return problem + (f"; {hint}" if (hint := _hint(line, what)) else "")


def _hint(line: str, what: str) -> str:
    """What would be right on a line that is no TOML; empty if nobody can tell."""
    if comma := re.search(r"=[ \t]*[+-]?([0-9]{1,9}),([0-9]{1,9})(?![0-9])", line):
        return f'use a point, not a comma, and quotes: "{comma[1]}.{comma[2]}"'
    if bare := re.fullmatch(r"([A-Za-z_]+)[ \t]*=[ \t]*([A-Za-z][^\"'#=\[\]{}]{0,60})", line):
        return f'text stands in quotes: {bare[1]} = "{bare[2].strip()}"'
    if colon := re.fullmatch(r"([A-Za-z_]+)[ \t]*:[ \t]*(.{1,60})", line):
        return f"write {colon[1]} = {colon[2]}"
    if "backslash" in what or "escape" in what.lower():
        return "write \\\\ for one backslash, or use single quotes"
    if line.startswith("[") and not line.endswith("]"):
        return "a closing bracket is missing"
    if line.count('"') % 2:
        return "a closing quote is missing"
    if "overwrite" in what.lower() or "twice" in what.lower():
        return "the same name stands twice; take one out"
    return ""


def _problems(
    error: Any, data: dict[str, Any], lines: dict[Path, int], model: type[BaseModel]
) -> Iterator[tuple[int, str]]:
    """The lines and words of one of the validator's errors."""
    path = _path_in(data, error["loc"], model)
    if error["type"] in ("union_tag_invalid", "union_tag_not_found"):
        path = (*path, str(error["ctx"]["discriminator"]).strip("'"))
    for words in words_for(error, path, data, model).split("\n"):
        at = path
        if named := re.match(r"([a-z_]+(?:\.[a-z0-9_]+)*): ", words):
            # A rule over several parts names the part itself, elements counted from 1.
            parts = [int(p) - 1 if p.isdigit() else p for p in named[1].split(".")]
            at = (*path, *parts)
            words = words[named.end() :]
        where = ".".join(str(part + 1) if isinstance(part, int) else part for part in at)
        while at and at not in lines:
            at = at[:-1]
        yield lines.get(at, 1), f"{where + ': ' if where else ''}{words}"


def _path_in(data: Any, loc: Sequence[str | int], model: type[BaseModel]) -> Path:
    """The part of the validator's location that is in the file: chosen forms' names left out."""
    path: list[str | int] = []
    node, tag_seen = data, False
    for index, part in enumerate(loc):
        last = index == len(loc) - 1
        if not tag_seen and is_tag(part, tuple(path), data, model):
            tag_seen = True
            continue
        if _holds(node, part):
            node = node[part]
        elif part == "[key]" or not (last and isinstance(node, dict) and isinstance(part, str)):
            continue  # the validator's name of a branch that was tried
        path.append(part)
        tag_seen = False
    return tuple(path)


def _holds(node: Any, part: str | int) -> bool:
    if isinstance(node, list):
        return isinstance(part, int) and part < len(node)
    return isinstance(node, dict) and part in node

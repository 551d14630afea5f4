"""Text that is no TOML in some lines, made readable, so that those lines do not hide the rest."""

import re
import tomllib
from dataclasses import dataclass

from pydantic import ConfigDict

from drivers.form import Form
from drivers.toml_form import check_toml, toml_tables

_MOST = 30
"""Broken lines after which it gives up: such a file is no sheet."""

_PART = r"(?:[A-Za-z0-9_-]+|\"[^\"\n]*\"|'[^'\n]*')"
_KEY = re.compile(rf"[ \t]*(?P<key>{_PART}(?:[ \t]*\.[ \t]*{_PART})*)[ \t]*[=:]")

_STAND_IN = "1900-01-01"
"""What a broken value is replaced by: a date, which no field of a sheet takes."""


class _Anything(Form):
    """Any TOML at all."""

    model_config = ConfigDict(extra="allow")


@dataclass(frozen=True, slots=True)
class Recovered:
    """A file's text as far as it can be read.

    ``text`` is valid TOML with as many lines; None if there is none. ``problems`` name the broken
    lines, and ``broken`` are their numbers: what is said of them otherwise means a stand-in.
    """

    text: str | None
    problems: tuple[str, ...]
    broken: frozenset[int]


def recovered(text: str, name: str) -> Recovered:
    """``text`` with every line that alone is no TOML replaced, if it sets a key.

    Args:
        text: the file's content.
        name: the file's name, for the messages.
    """
    lines = text.split("\n")
    problems: list[str] = []
    broken: set[int] = set()
    for _ in range(_MOST):
        _, found = check_toml("\n".join(lines), name, _Anything)
        if not found:
            return Recovered("\n".join(lines), tuple(problems), frozenset(broken))
        number = line_in(found[0], name)
        if number not in broken:
            problems.append(found[0])
        if not _replace(lines, number, number in broken, found[0]):
            break
        broken.add(number)
    return Recovered(None, tuple(problems), frozenset(broken))


def line_in(problem: str, name: str) -> int:
    """The line that a problem in the file ``name`` is at."""
    return int(problem.removeprefix(f"{name}:").partition(":")[0])


def _replace(lines: list[str], number: int, again: bool, problem: str) -> bool:
    """Whether the line could be replaced, so that reading may go on."""
    line = lines[number - 1]
    key = _KEY.match(line)
    if again or "the same name stands twice" in problem:
        lines[number - 1] = "#"
        return not again or line != "#"
    if key is None or _is_readable(line):
        return False  # what is wrong lies elsewhere, such as a bracket left open above
    lines[number - 1] = f"{key['key']} = {_STAND_IN}"
    return True


def _is_readable(line: str) -> bool:
    try:
        toml_tables(line)
    except tomllib.TOMLDecodeError:
        return False
    return True

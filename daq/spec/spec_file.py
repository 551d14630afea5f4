"""Specifications from a TOML file that a workshop writes by hand."""

import difflib
import re
import tomllib
from collections.abc import Callable
from pathlib import Path

from daq.spec.errors import SpecError
from daq.spec.limits import LIMITS_HINT, Spec
from drivers.toml_form import toml_tables

_NEEDED = {
    "name": "say what is measured, in quotes",
    "nominal": "write nominal = '76.20 mm'",
    "limits": LIMITS_HINT,
    "source": "say the document and its revision, in quotes",
}
_OPTIONAL = ("unit", "condition")
_TOML_PLACE = re.compile(r" ?\(at (?:line (?P<line>[0-9]+), column [0-9]+|end of document)\)")
_LARGEST_BYTES = 100_000

Note = Callable[[str, str], None]
"""Takes a field and what is wrong with it."""


def load_spec(path: Path) -> Spec:
    """Read one specification from a TOML file.

    The file says ``name``, ``nominal``, ``limits`` and ``source``, and may say ``unit`` (what to
    show it in) and ``condition``, each as text in quotes and in the forms ``Spec.of`` takes.

    Raises:
        SpecError: it cannot be read or does not say what it must; every mistake at once, each as
            ``file:line: field: what is wrong; what would be right``.
    """
    lines, table = _read(path)
    problems: list[tuple[int, str]] = []

    def note(field: str, what: str) -> None:
        line = _line_of(field, lines)
        problems.append((line, f"{path}:{line}: {field}: {what}"))

    for key in table:
        if key not in _NEEDED and key not in _OPTIONAL:
            close = difflib.get_close_matches(key, [*_NEEDED, *_OPTIONAL], n=1)
            known = f"did you mean {close[0]}?" if close else f"known: {_known()}"
            note(key, f"there is no such field; {known}")
    for key, hint in _NEEDED.items():
        if key not in table:
            note(key, f"it is missing; {hint}")
    words = {key: _text(key, table, note) for key in (*_NEEDED, *_OPTIONAL)}
    spec = _spec(words, note)
    if problems or spec is None:
        raise SpecError(*(problem for _, problem in sorted(problems)))
    return spec


def _read(path: Path) -> tuple[list[str], dict[str, object]]:
    """The file's lines and what TOML makes of them."""
    try:
        with path.open("rb") as file:
            raw = file.read(_LARGEST_BYTES + 1)
    except OSError as error:
        raise SpecError(f"{path} cannot be read: {error.strerror}") from error
    if len(raw) > _LARGEST_BYTES:
        raise SpecError(f"{path} is far too large for a specification; check which file it is")
    try:
        # Some editors put a byte order mark in front; TOML has none.
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        raise SpecError(f"{path}:{line}: file: it is not UTF-8 text; save it as UTF-8") from error
    lines = text.splitlines()
    try:
        return lines, toml_tables(text)
    except tomllib.TOMLDecodeError as error:
        place = _TOML_PLACE.search(str(error))
        line = int(place["line"]) if place and place["line"] else max(len(lines), 1)
        what = _TOML_PLACE.sub("", str(error))
        raise SpecError(
            f"{path}:{line}: file: it is not TOML ({what}); write lines such as name = '...'"
        ) from error


def _text(key: str, table: dict[str, object], note: Note) -> str | None:
    """The field as text; None, and a note, if it is something else."""
    value = table.get(key)
    if value is None or isinstance(value, str):
        return value
    if key in ("nominal", "limits"):
        note(key, f"{value!r} has no unit; write text in quotes with the unit: '{value} mm'")
    else:
        note(key, f"{value!r} is not text; write it in quotes")
    return None


def _spec(words: dict[str, str | None], note: Note) -> Spec | None:
    """The specification, or None with notes; a field already noted is not noted again."""
    # A field that is missing is stood in for, so that the others are still looked at.
    try:
        return Spec.of(
            words["name"] or ("?" if words["name"] is None else ""),
            nominal=words["nominal"] if words["nominal"] is not None else "0 mm",
            limits=words["limits"] if words["limits"] is not None else "± 1 mm",
            source=words["source"] or ("?" if words["source"] is None else ""),
            unit=words["unit"],  # type: ignore[arg-type]  # the model says what is wrong with it
            condition=words["condition"] or "",
        )
    except SpecError as error:
        for problem in error.problems:
            field, _, what = problem.partition(": ")
            note(field, what)
        return None


def _line_of(field: str, lines: list[str]) -> int:
    """The line that sets ``field``; 1 if none does."""
    setting = re.compile(rf"""\s*(\[+\s*)?["']?{re.escape(field)}["']?\s*[=.\]]""")
    return next((n for n, line in enumerate(lines, 1) if setting.match(line)), 1)


def _known() -> str:
    return ", ".join([*_NEEDED, *_OPTIONAL])

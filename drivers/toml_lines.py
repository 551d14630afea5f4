"""On which line of a TOML file each key, table and array element stands.

The standard library's parser gives values without their places. This walks over text that it has
already accepted, so it looks only for what marks a place: keys, brackets, commas, quotes, comments.
"""

import re
from bisect import bisect_right

Path = tuple[str | int, ...]

SPACE = re.compile(r"(?:[ \t\r\n]|#[^\n]*(?:\n|\Z))*")
KEY_PART = re.compile(r"[ \t]*(?:\"((?:[^\"\\]|\\.)*)\"|'([^']*)'|([A-Za-z0-9_-]+))[ \t]*")
STRING = re.compile(
    r'"""(?:[^"\\]|\\.|"(?!""))*"{3,5}' + r"|'''(?:[^']|'(?!''))*'{3,5}"
    r'|"(?:[^"\\\n]|\\.)*"' + r"|'[^'\n]*'",
    re.DOTALL,
)
SCALAR = re.compile(r"[^,\]}\n#]*")


def lines_of(text: str) -> dict[Path, int]:
    """The line of each key, table and array element.

    Args:
        text: a valid TOML document.

    Returns:
        Line numbers from 1 by path; elements of arrays are counted from 0.
    """
    scanner = _Scanner(text)
    scanner.document()
    return scanner.lines


class _Scanner:
    def __init__(self, text: str) -> None:
        self.lines: dict[Path, int] = {}
        self._text = text
        self._at = 0
        self._breaks = [match.start() for match in re.finditer("\n", text)]
        self._counts: dict[Path, int] = {}

    def _line(self) -> int:
        return bisect_right(self._breaks, self._at - 1) + 1

    def _skip_space(self) -> str:
        """Skip blanks, line ends and comments; the character after them, empty at the end."""
        found = SPACE.match(self._text, self._at)
        self._at = found.end() if found else self._at
        return self._text[self._at : self._at + 1]

    def document(self) -> None:
        table: Path = ()
        while sign := self._skip_space():
            before = self._at
            if sign == "[":
                table = self._header()
            else:
                self._pair(table)
            if self._at == before:  # nothing that this walk knows: give up, with the lines so far
                return

    def _header(self) -> Path:
        line, in_array = self._line(), self._text.startswith("[[", self._at)
        self._at += 2 if in_array else 1
        names = self._key()
        closed = self._text.find("]", self._at)
        self._at = closed + (2 if in_array else 1) if closed >= 0 else len(self._text)
        path: Path = ()
        for place, name in enumerate(names):
            path = (*path, name)
            if in_array and place == len(names) - 1:
                self._counts[path] = self._counts.get(path, -1) + 1
                self.lines.setdefault(path, line)
            if path in self._counts:
                path = (*path, self._counts[path])
        self.lines.setdefault(path, line)
        return path

    def _key(self) -> list[str]:
        """The parts of a dotted key."""
        parts = []
        while found := KEY_PART.match(self._text, self._at):
            parts.append(next(part for part in found.groups() if part is not None))
            self._at = found.end()
            if self._text[self._at : self._at + 1] != ".":
                break
            self._at += 1
        return parts

    def _pair(self, table: Path) -> None:
        line = self._line()
        path = table
        for part in self._key():
            path = (*path, part)
            self.lines.setdefault(path, line)
        if self._text[self._at : self._at + 1] == "=":
            self._at += 1
            self._value(path)

    def _value(self, path: Path) -> None:
        sign = self._skip_space()
        if sign == "[":
            self._at += 1
            self._items(path, "]")
        elif sign == "{":
            self._at += 1
            self._items(path, "}")
        else:
            found = STRING.match(self._text, self._at) or SCALAR.match(self._text, self._at)
            self._at = found.end() if found else len(self._text)

    def _items(self, path: Path, closing: str) -> None:
        """The elements of an array or the pairs of an inline table, up to its bracket."""
        element = 0
        while (sign := self._skip_space()) not in ("", closing):
            before = self._at
            if sign == ",":
                self._at += 1
                element += 1
            elif closing == "}":
                self._pair(path)
            else:
                self.lines[(*path, element)] = self._line()
                self._value((*path, element))
            if self._at == before:
                return
        self._at += len(closing)

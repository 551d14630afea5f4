"""Rows that could not be read: counted exactly, the first of them kept, all written if asked."""

import csv
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from types import TracebackType
from typing import NamedTuple, Self

from daq.audit.errors import IntakeError

_COLUMNS = ("file", "line", "column", "reason", "value")

KEPT = 1000
"""Rejected rows that are kept to be shown. The counts are exact however many there are."""

_LONGEST = 60


class Reject(NamedTuple):
    """A rejected row. ``line``: of text the physical line, of Parquet the row, from 1; 0 for all of
    the file. ``column`` is the foreign column's name, or empty for the whole row."""

    file: str
    line: int
    column: str
    reason: str
    value: str = ""

    def __str__(self) -> str:
        where = f"{self.file}:{self.line}" if self.line else self.file
        column = f"{self.column}: " if self.column else ""
        value = f" ({self.value!r})" if self.value else ""
        return f"{where}: {column}{self.reason}{value}"


class Rejects:
    """All rejected rows of a source.

    Args:
        to: a CSV file that every one is written to; None to keep only the first `KEPT`.
    """

    def __init__(self, to: Path | None = None) -> None:
        self.count = 0
        """Rejected rows, exactly."""
        self.lost_files: list[Reject] = []
        """Files that could not be read at all; their rows nobody can count."""
        self.kept: list[Reject] = []
        self.by_reason: Counter[tuple[str, str, str]] = Counter()
        """Rows by file, column and reason."""
        self._file = None if to is None else to.open("w", encoding="utf-8", newline="")
        self._csv = None if self._file is None else csv.writer(self._file)
        if self._csv is not None:
            self._csv.writerow(_COLUMNS)

    def add(self, file: str, line: int, column: str, reason: str, value: str = "") -> None:
        """A row that is rejected."""
        self.count += 1
        self.by_reason[file, column, reason] += 1
        if self._csv is not None:
            self._csv.writerow((file, line, column, reason, value[:_LONGEST]))
        if len(self.kept) < KEPT:
            self.kept.append(Reject(file, line, column, reason, value[:_LONGEST]))

    def lose(self, file: str, reason: str) -> None:
        """A file that cannot be read."""
        lost = Reject(file, 0, "", reason)
        self.lost_files.append(lost)
        if self._csv is not None:
            self._csv.writerow(lost)

    def add_from(self, file: Path) -> None:
        """All those that another's CSV file has.

        Raises:
            IntakeError: it is no such file.
        """
        try:
            with file.open(encoding="utf-8", newline="") as opened:
                rows = csv.reader(opened, strict=True)
                if tuple(next(rows, ())) != _COLUMNS:
                    raise ValueError("its first line is another")
                for name, line, column, reason, value in rows:
                    if int(line) or column:
                        self.add(name, int(line), column, reason, value)
                    else:
                        self.lose(name, reason)
        except (OSError, ValueError, csv.Error) as error:
            raise IntakeError(
                f"{file} does not list rejected rows as it should: {error}. "
                "Write the log anew from where it came from."
            ) from error

    def __bool__(self) -> bool:
        return bool(self.count or self.lost_files)

    def words(self) -> Iterator[str]:
        """Each lost file, then each reason with its count, the commonest first."""
        yield from map(str, self.lost_files)
        for (file, column, reason), count in self.by_reason.most_common():
            rows = "1 row" if count == 1 else f"{count} rows"
            yield f"{file}: {rows} rejected: {column + ': ' if column else ''}{reason}"

    def close(self) -> None:
        """Finish the file of rejected rows."""
        if self._file is not None:
            self._file.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

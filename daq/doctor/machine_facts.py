"""What the machine says of its disk, its clock, its screen and its sound."""

import ctypes
import importlib.metadata
import os
import shutil
import sys
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

_TIME_ERROR = 5
"""What adjtimex(2) returns while the clock is not synchronised."""

_TIMEX_BYTES = 512
"""More than ``struct timex`` takes anywhere."""


@dataclass(frozen=True, slots=True)
class DiskFacts:
    """The disk that a folder is on."""

    folder: str
    free_bytes: int = 0
    kind: str = ""
    """Of the file system, as mount(8) names it; empty if unknown."""
    may_write: bool = True
    exists: bool = True


@dataclass(frozen=True, slots=True)
class ScreenFacts:
    """Where this program writes to."""

    is_terminal: bool
    columns: int
    rows: int
    encoding: str
    kind: str
    """What the terminal calls itself (``TERM``)."""


def disk_facts(folder: Path, *, root: Path = Path("/")) -> DiskFacts:
    """The disk of a folder; ``root`` is where ``/proc`` is."""
    real = folder.absolute()
    if not real.is_dir():
        return DiskFacts(str(real), exists=False)
    kind = _kind_of(real.resolve(), root)
    return DiskFacts(str(real), shutil.disk_usage(real).free, kind, os.access(real, os.W_OK))


def is_synchronised() -> bool | None:
    """Whether the system says its clock is kept right by another; None where it cannot be asked."""
    if not sys.platform.startswith("linux"):
        return None
    try:
        library = ctypes.CDLL(None, use_errno=True)
        state = int(library.adjtimex(ctypes.create_string_buffer(_TIMEX_BYTES)))
    except (OSError, AttributeError):
        return None
    return None if state < 0 else state != _TIME_ERROR


def newest_record_at(logbook: Path) -> datetime | None:
    """When the newest record of a logbook was made; None if there is none.

    Raises:
        LogbookError: it cannot be read.
    """
    from daq.logbook import Logbook, UnknownRecord

    with Logbook.read(logbook) as book:
        last = book.last()
    record = last.record if last else None
    return None if record is None or isinstance(record, UnknownRecord) else record.at


def screen_facts() -> ScreenFacts:
    """Where the standard output goes."""
    size = shutil.get_terminal_size()
    return ScreenFacts(
        sys.stdout.isatty(),
        size.columns,
        size.lines,
        (sys.stdout.encoding or "").lower(),
        os.environ.get("TERM", ""),
    )


def sound_cards(*, root: Path = Path("/")) -> int | None:
    """How many sound cards the system knows; None where it cannot be asked."""
    file = root / "proc/asound/cards"
    if not (root / "proc/self").exists() and not file.exists():
        return None
    try:
        lines = file.read_text("utf-8", "replace").splitlines()
    except OSError:
        return 0
    return sum(line[:3].strip().isdecimal() for line in lines)


def shadowing() -> bool:
    """Whether a package is installed whose name hides the serial library's."""
    try:
        importlib.metadata.distribution("serial")
    except importlib.metadata.PackageNotFoundError:
        return False
    return True


def now() -> datetime:
    """The time of day, aware."""
    return datetime.now(UTC)


def _kind_of(folder: Path, root: Path) -> str:
    """The file system with the longest mount point that ``folder`` is in."""
    try:
        lines = (root / "proc/mounts").read_text("utf-8", "replace").splitlines()
    except OSError:
        return ""
    best = ("", "")
    for line in lines:
        _, point, kind, *_ = line.split(" ")
        point = point.replace("\\040", " ")
        if folder.is_relative_to(point) and len(point) >= len(best[0]):
            best = (point, kind)
    return best[1]

"""The manifest of an export: a line for every committed run, and how far the logbook was read.

Lines are only ever added to ``manifest.jsonl``; the one that reaches the disk commits the run.
Beside it, ``watermark.json`` has what the next run needs. It is written under another name before
the line is added and takes its place after, so that a crash at any moment leaves one that fits.
"""

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from daq.audit.errors import LogExportError
from daq.audit.export.chain import FIRST_LINK, link_of
from daq.audit.layout import VERSION
from daq.logbook.disk import flush_file, flush_folder, make_folder

MANIFEST = "manifest.jsonl"
WATERMARK = "watermark.json"
_NEXT = "watermark.next.json"


class Manifest:
    """The manifest in ``folder``, which belongs to one logbook.

    Raises:
        LogExportError: it cannot be read, or does not fit its watermark.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.lines = list(manifest_lines(folder))
        self.run = len(self.lines)
        """Committed runs."""
        self.link: str = self.lines[-1]["link"] if self.lines else FIRST_LINK
        self.watermark = self._watermark()
        """How far the logbook was read: ``run, logbook, sequence, hash, counts``; or None."""

    def commit(self, facts: dict[str, Any], files: list[dict[str, Any]], mark: Any) -> str:
        """Commit a run; returns its link.

        Args:
            facts: what the link is taken over.
            files: name, SHA-256, rows and digest of each file.
            mark: the new watermark.
        """
        link = link_of(self.link, facts)
        line = {"previous": self.link, "link": link, "facts": facts, "files": files}
        make_folder(self.folder)
        _write(self.folder / _NEXT, json.dumps(mark, ensure_ascii=False, indent=1).encode())
        flush_folder(self.folder)
        _append(self.folder / MANIFEST, (json.dumps(line, ensure_ascii=False) + "\n").encode())
        (self.folder / _NEXT).replace(self.folder / WATERMARK)
        flush_folder(self.folder)
        return link

    def _watermark(self) -> dict[str, Any] | None:
        for name in (WATERMARK, _NEXT):
            path = self.folder / name
            try:
                found = json.loads(path.read_bytes())
            except (FileNotFoundError, ValueError):
                continue
            if isinstance(found, dict) and found.get("run") == self.run and self.run:
                return found
        if self.run:
            raise LogExportError(
                f"{self.folder / WATERMARK} does not fit the manifest beside it, which has "
                f"{self.run} runs. Put the right one back, or export to a new folder."
            )
        return None


def manifest_lines(folder: Path) -> Iterator[dict[str, Any]]:
    """The lines of a manifest, oldest first; what a crash left of one is no line.

    Raises:
        LogExportError: there is something else in it.
    """
    path = folder / MANIFEST
    try:
        raw = path.read_bytes()
    except FileNotFoundError:
        return
    except OSError as error:
        raise LogExportError(f"{path} cannot be read ({error.strerror}).") from error
    *lines, _ = raw.split(b"\n")
    for number, line in enumerate(lines, start=1):
        try:
            found = json.loads(line)
        except ValueError:
            found = None
        known = isinstance(found, dict) and {"previous", "link", "facts", "files"} <= {*found}
        if not known or found["facts"].get("version") != VERSION:
            raise LogExportError(f"{path}:{number}: it is no line of a manifest of version 1.")
        yield found


def _append(path: Path, line: bytes) -> None:
    """Add a line, in the place of what a crash left of one.

    In a file of its own that then takes the name: of a line that is added where it stands, a power
    cut may leave the end without the beginning.
    """
    raw = path.read_bytes() if path.exists() else b""
    new = path.with_name(f".{path.name}.partial")
    _write(new, raw[: raw.rfind(b"\n") + 1] + line)
    new.replace(path)
    flush_folder(path.parent)


def _write(path: Path, content: bytes) -> None:
    with open(path, "wb") as file:
        file.write(content)
        file.flush()
        flush_file(file.fileno())

"""A logbook's new records to the open log format, in one committed run.

Files are ``TABLE/site=SITE/LOGBOOK-RUN.parquet`` (or ``.csv``, ``.jsonl``) with the site's name
percent-encoded, the first eight digits of the logbook's id and the number of the run; the chain is
in ``chain/LOGBOOK/``. A run that did not reach its commit is written over by the next.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import quote

from daq.audit.errors import LogExportError
from daq.audit.export.chain import digest_of, link_of
from daq.audit.export.harvest import CONTEXT, Harvest
from daq.audit.export.manifest import Manifest
from daq.audit.export.rows import Rows
from daq.audit.export.writing import columns_of, write_table
from daq.audit.layout import FORMATS, TABLES, VERSION
from daq.logbook import Logbook, LogbookReader
from daq.logbook.book import Entry
from daq.logbook.records import Record, UnknownRecord

CHAIN = "chain"
"""The folder of the manifests, one folder a logbook."""


@dataclass(frozen=True, slots=True)
class Exported:
    """What a run exported: rows by table, the files, the records from ``first`` to ``last``.

    ``unknown`` counts records that this program cannot read and so did not export. ``link`` is
    empty if nothing was new.
    """

    rows: dict[str, int]
    files: tuple[Path, ...]
    first: int
    last: int
    unknown: int
    link: str


def export_log(logbook: Path, folder: Path, *, form: str = "parquet", site: str = "") -> Exported:
    """Export what is new in a logbook since the last export to ``folder``.

    Args:
        logbook: the logbook; a writer may be at work meanwhile.
        folder: where to; the first export makes it.
        form: one of `daq.audit.layout.FORMATS`.
        site: the site of all rows; empty to take the station that the records name.

    Raises:
        LogExportError: the logbook does not go on from where it was exported to, is not intact, or
            the files cannot be written. What was exported before stays as it was.
        LogbookError: the logbook cannot be read.
    """
    if form not in FORMATS:
        raise LogExportError(f"{form} is no form of the open log format; use {', '.join(FORMATS)}.")
    with Logbook.read(logbook) as book:
        home = folder / CHAIN / book.id
        manifest = Manifest(home)
        mark = manifest.watermark or {"sequence": 0, "counts": {}}
        _check_mark(book, mark, folder)
        first = mark["sequence"] + 1
        newest = book.last()
        last = newest.sequence if newest is not None else 0
        new = _Intact(book, mark, last)
        before = _context(book, mark["sequence"])
        harvest = Harvest(Rows(dict(mark["counts"])), site, mark.get("station", ""))
        harvest.all_of(before, new.records())
        if new.last.sequence < first:
            return Exported({}, (), first, first - 1, 0, "")
        facts = {
            "version": VERSION,
            "run": manifest.run + 1,
            "logbook": book.id,
            "first": first,
            "last": new.last.sequence,
            "last_hash": new.last.hash,
        }
        try:
            return _written(manifest, facts, harvest, folder, form, new.unknown)
        except OSError as error:
            raise LogExportError(f"{folder} cannot be written ({error}).") from error


def _check_mark(book: LogbookReader, mark: dict[str, Any], folder: Path) -> None:
    """Refuse to go on from a watermark that is not in this logbook."""
    if not mark["sequence"]:
        return
    entry = book.entry(mark["sequence"])
    if mark["logbook"] != book.id or entry is None or entry.hash != mark["hash"]:
        raise LogExportError(
            f"{folder} was exported up to record {mark['sequence']} of this logbook, but that "
            "record is not there any more, or is another. Check it with: restpoint log verify. To "
            "export it as it is now, use a new folder."
        )


class _Intact:
    """The new entries, each held against its hash and the one before it."""

    def __init__(self, book: LogbookReader, mark: dict[str, Any], last: int) -> None:
        self._book = book
        self._through = last
        self.last = Entry(mark["sequence"], "", mark.get("hash", ""), "")
        self.unknown = 0

    def records(self) -> Iterator[Record]:
        """The records that can be read."""
        for entry in self._book.entries(self.last.sequence + 1, self._through):
            follows = self.last.sequence == 0 or entry.previous == self.last.hash
            if not entry.intact or not follows or entry.sequence != self.last.sequence + 1:
                raise LogExportError(
                    f"Record {entry.sequence} of {self._book.path} is not as it was written, or "
                    "does not follow the one before it. Check it with: restpoint log verify."
                )
            self.last = entry
            if isinstance(entry.record, UnknownRecord):
                self.unknown += 1
            else:
                yield entry.record


def _context(book: LogbookReader, last: int) -> Iterator[Record]:
    """The records up to ``last`` that new ones may rest on, in their order."""
    if last == 0:
        return
    found = [entry for kind in CONTEXT for entry in book.entries(1, last, kind=kind)]
    for entry in sorted(found, key=lambda each: each.sequence):
        if not isinstance(entry.record, UnknownRecord):
            yield entry.record


def _written(
    manifest: Manifest,
    facts: dict[str, Any],
    harvest: Harvest,
    folder: Path,
    form: str,
    unknown: int,
) -> Exported:
    """Write the files, then commit them."""
    parts = []
    for name, site, part in harvest.rows.sorted():
        columns = columns_of(TABLES[name], part)
        file = f"{facts['logbook'][:8]}-{facts['run']:06d}"
        path = f"{name}/site={quote(site, safe='')}/{file}"
        parts.append((name, path, columns, digest_of(TABLES[name], columns)))
    facts |= {"digests": {path: digest for _, path, _, digest in parts}}
    link = link_of(manifest.link, facts)
    files: list[dict[str, Any]] = []
    counts = dict.fromkeys(TABLES, 0)
    for name, path, columns, digest in parts:
        number = len(next(iter(columns.values())))
        if "link" in columns:
            columns["link"] = [link] * number
        sha256 = write_table(TABLES[name], columns, folder / f"{path}.{form}")
        files.append({"file": f"{path}.{form}", "sha256": sha256, "rows": number, "digest": digest})
        counts[name] += number
    mark = {
        "run": facts["run"],
        "logbook": facts["logbook"],
        "sequence": facts["last"],
        "hash": facts["last_hash"],
        "counts": harvest.rows.counts,
        "station": harvest.station,
    }
    manifest.commit(facts, files, mark)
    paths = tuple(folder / str(each["file"]) for each in files)
    told = {name: count for name, count in counts.items() if count}
    return Exported(told, paths, facts["first"], facts["last"], unknown, link)

"""Whether what was told to be kept is there, and nothing half-written passes for whole."""

import json

from daq.audit.export import export_log
from daq.audit.export.exporting import CHAIN
from daq.audit.export.manifest import manifest_lines
from daq.logbook import Logbook, LogbookError, recorded, verify, verify_trace
from daq.logbook.checkpoint import read_checkpoint
from daq.logbook.errors import CheckpointError
from drivers.errors import RestpointError
from tests.faults.power_cut.program import AT, note_of


def told(said):
    """What a program said is kept: by what, the words of its lines."""
    lines = [line.split()[1:] for line in said.splitlines() if line.startswith("kept ")]
    by_what = {}
    for what, *words in lines:
        by_what.setdefault(what, []).append(words)
    return by_what


def judge(folder, said):
    """What is wrong with the files in ``folder`` after a program said ``said``; empty if nothing.

    Works on them as their user does afterwards: looks, opens, writes on.
    """
    kept = told(said)
    faults = [
        *_book(folder / "book.sqlite", dict(kept.get("record", []))),
        *_trace(folder / "trace.csv", kept),
        *_backup(folder, "backup" in kept),
        *_checkpoint(folder, "checkpoint" in kept),
        *_tables(folder, kept.get("tables", [])),
        *_export(folder / "book.jsonl", "export" in kept, len(kept.get("record", []))),
    ]
    return [f"{fault} (told: {', '.join(kept) or 'nothing'})" for fault in faults]


def _book(path, kept):
    if not path.exists():
        return ["the logbook is gone"] if kept else []
    faults = []
    for when in ("before", "after"):
        try:
            if when == "after" or kept:
                _look(path, kept, faults)
            if when == "before":
                with Logbook.open(path, at=AT) as book:
                    book.append(note_of(0, 10))
        except LogbookError as error:
            faults.append(f"{when} writing on: {error}")
    return faults


def _look(path, kept, faults):
    with Logbook.read(path) as reader:
        there = {str(entry.sequence): entry.hash for entry in reader.entries()}
    lost = sum(there.get(number) != digest for number, digest in kept.items())
    if lost:
        faults.append(f"{lost} of {len(kept)} records lost")
    faults.extend(f"not intact: {problem}" for problem in verify(path).problems)


def _trace(path, kept):
    if "rows" not in kept:
        return []
    if not path.exists():
        return ["the trace is gone"]
    report = verify_trace(path)
    there = [int(row.data.split()[0]) for _, row in recorded(path) if row.data]
    faults = [] if report.intact else ["the trace is not intact"]
    most = int(kept["rows"][-1][0])
    if report.rows - 1 - report.is_ended < most:
        faults.append(f"{report.rows} rows of {most}")
    if there != [number for number in range(1, report.rows) if number % 5][: len(there)]:
        faults.append("rows that nobody recorded")
    if "end" in kept and not report.is_ended:
        faults.append("the end is lost")
    return faults


def _backup(folder, is_kept):
    path = folder / "copy.sqlite"
    try:
        report = verify(path)
    except LogbookError as error:
        return [f"the backup is gone: {error}"] if is_kept else []
    if report.intact and report.records == 6:
        return []
    if is_kept:
        return [f"the backup has {report.records} records"]
    return ["half a backup passes for whole"] if report.intact else []


def _checkpoint(folder, is_kept):
    try:
        read = read_checkpoint(folder / "book.checkpoint")
    except CheckpointError as error:
        return [f"the checkpoint is gone: {error}"] if is_kept else []
    return [] if read.records == 6 else ["another checkpoint"]


def _tables(folder, kept):
    """The rows of committed runs are there once each, also after exporting anew."""
    log, path = folder / "open" / "log", folder / "book.sqlite"
    if not kept and not log.parent.exists():
        return []
    committed = max((line["facts"]["last"] for line in _lines(log)), default=0)
    told = int(kept[-1][0]) if kept else 0
    if committed < told:
        return [f"the export is committed to record {committed} of {told}"]
    try:
        done = export_log(path, log, form="jsonl")
    except RestpointError as error:
        return [f"exporting on: {error}"]
    sequences = [
        json.loads(line)["seq"]
        for file in log.glob("captures/*/*.jsonl")
        for line in file.read_bytes().splitlines()
    ]
    with Logbook.read(path) as reader:
        captures = sum(1 for _ in reader.entries(kind="capture"))
    if sorted(sequences) != sorted(set(sequences)) or len(sequences) != captures:
        return [f"{len(sequences)} rows of {captures} captures after {done}"]
    return []


def _lines(log):
    return (line for home in log.glob(f"{CHAIN}/*") for line in manifest_lines(home))


def _export(path, is_kept, records):
    if not is_kept:
        return []
    if not path.exists():
        return ["the export is gone"]
    lines = path.read_bytes().splitlines()
    whole = [json.loads(line) for line in lines] if b"\0" not in path.read_bytes() else []
    return [] if len(whole) == records + 1 else [f"the export has {len(whole)} lines"]

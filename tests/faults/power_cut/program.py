"""Works on the files of a logbook and says what is kept: what these tests cut off.

    python tests/faults/power_cut/program.py KIND FOLDER

It writes ``kept WHAT ...`` to standard output after the call that keeps it has returned, never
before. Each kind does one thing a user relies on.
"""

import os
import sys
from datetime import UTC, datetime
from pathlib import Path

from daq.audit.export import export_log
from daq.logbook import Logbook, Note, TraceRecorder, back_up, new_uid
from daq.logbook.checkpoint import write_vouching
from daq.logbook.export import write_jsonl
from daq.logbook.vouching import make_checkpoint
from tests.daq.logbook.conftest import make_capture

AT = datetime(2026, 3, 1, tzinfo=UTC)


def say(*words):
    os.write(1, (" ".join(map(str, words)) + "\n").encode())


def note_of(number, length):
    text = f"{number} " + "x" * length
    return Note(uid=new_uid(), at=AT, operator="", purpose="remark", about=None, text=text)


def keep(book, number, length):
    entry = book.append(note_of(number, length))
    say("kept", "record", entry.sequence, entry.hash)


def records(folder):
    """A logbook begun, written in, closed, opened again; one addition of several at once."""
    with Logbook.open(folder / "book.sqlite", at=AT) as book:
        for number in range(8):
            keep(book, number, number * 911 % 9000)
    with Logbook.open(folder / "book.sqlite", at=AT) as book:
        for number in range(3):
            keep(book, number, 300)
        entries = book.append_many([note_of(number, 2000) for number in range(3)])
        for entry in entries:
            say("kept", "record", entry.sequence, entry.hash)
        keep(book, 4, 5000)


def many(folder):
    """So much that SQLite empties its write-ahead log into the file and begins it anew."""
    with Logbook.open(folder / "book.sqlite", at=AT) as book:
        for number in range(300):
            keep(book, number, 9000)


def rows(folder):
    """A trace of what gauges send, ended properly."""
    with TraceRecorder.begin(folder / "trace.csv", 0.0, at=AT) as recorder:
        say("kept", "rows", 0)
        for number in range(1, 41):
            recorder.put(number / 10, f"G-{number % 3}", f"{number} mm\r\n".encode() * (number % 5))
            recorder.wait()
            say("kept", "rows", recorder.durable)
    say("kept", "end")


def copies(folder):
    """A backup, a checkpoint and an export of a small logbook."""
    path = folder / "book.sqlite"
    with Logbook.open(path, at=AT) as book:
        for number in range(5):
            keep(book, number, 3000)
        back_up(path, folder / "copy.sqlite")
        say("kept", "backup")
        write_vouching(make_checkpoint(path, at=AT), folder / "book.checkpoint")
        say("kept", "checkpoint")
        with Logbook.read(path) as reader:
            write_jsonl(reader.entries(), folder / "book.jsonl")
        say("kept", "export")


def tables(folder):
    """Two runs of an export in the open log format, the second of what is new."""
    with Logbook.open(folder / "book.sqlite", at=AT) as book:
        for run in range(2):
            entries = book.append_many([make_capture(run * 10 + number) for number in range(3)])
            for entry in entries:
                say("kept", "record", entry.sequence, entry.hash)
            done = export_log(folder / "book.sqlite", folder / "open" / "log", form="jsonl")
            say("kept", "tables", done.last)


KINDS = {each.__name__: each for each in (records, many, rows, copies, tables)}


if __name__ == "__main__":
    KINDS[sys.argv[1]](Path(sys.argv[2]))

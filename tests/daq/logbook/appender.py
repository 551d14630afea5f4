"""A writer to be killed: writes a logbook or a trace and says so, as fast as it can.

Reads ``records <path>`` or ``rows <path>``, one a line, from standard input. For each it forks a
child that writes until it is killed: records appended to a logbook, or rows put into a trace. The
child writes ``kept <number> <hash>`` to standard output only after `append` has returned, or
``kept <number>`` when so many rows are durable. When it has died, the parent writes
``dead <status>``.

One warm process that forks saves starting Python for every kill; it has a single thread, so that
forking is safe.
"""

import os
import sys
import time
from datetime import UTC, datetime

from daq.logbook import Logbook, Note, TraceRecorder, new_uid

BEGUN = datetime(2026, 3, 1, tzinfo=UTC)


def append_for_ever(path):
    with Logbook.open(path, at=BEGUN) as book:
        number = 0
        while True:
            number += 1
            # Of every size, so that commits, page splits and checkpoints all get their turn.
            entry = book.append(note_of("x" * (number * 911 % 9000)))
            os.write(1, f"kept {entry.sequence} {entry.hash}\n".encode())


def record_for_ever(path):
    """Rows as of some gauges at line speed: each says its own number."""
    recorder = TraceRecorder.begin(path, time.monotonic(), at=BEGUN)
    put = told = 0
    while True:
        size = 1 + put * 911 % 300
        rows = [
            (time.monotonic(), f"G-{i % 7}", f"{i:+011d} mm\r\n".encode())
            for i in range(put + 1, put + size + 1)
        ]
        put = recorder.put_all(rows)
        recorder.wait(put - 1000)  # far enough behind that rows wait for the disk at every moment
        if recorder.durable > told:
            told = recorder.durable
            os.write(1, f"kept {told}\n".encode())


def note_of(text):
    return Note(uid=new_uid(), at=BEGUN, operator="", purpose="remark", about=None, text=text)


WRITE = {"records": append_for_ever, "rows": record_for_ever}


def main():
    for line in sys.stdin:
        what, path = line.split(maxsplit=1)
        child = os.fork()
        if child == 0:
            try:
                WRITE[what](path.strip())
            finally:
                os._exit(1)
        os.write(1, f"child {child}\n".encode())
        _, status = os.waitpid(child, 0)
        os.write(1, f"dead {status}\n".encode())


if __name__ == "__main__":
    main()

"""A writer to be killed: appends to a logbook and says so, as fast as it can.

Reads one path a line from standard input. For each it forks a child that opens the logbook and
appends until it is killed; the child writes ``kept <sequence> <hash>`` to standard output only
after `append` has returned. When the child has died, the parent writes ``dead <status>``.

One warm process that forks saves starting Python for every kill; it has a single thread, so that
forking is safe.
"""

import os
import sys
from datetime import UTC, datetime

from daq.logbook import Logbook, Note, new_uid

BEGUN = datetime(2026, 3, 1, tzinfo=UTC)


def append_for_ever(path):
    with Logbook.open(path, at=BEGUN) as book:
        number = 0
        while True:
            number += 1
            # Of every size, so that commits, page splits and checkpoints all get their turn.
            entry = book.append(note_of("x" * (number * 911 % 9000)))
            os.write(1, f"kept {entry.sequence} {entry.hash}\n".encode())


def note_of(text):
    return Note(uid=new_uid(), at=BEGUN, operator="", purpose="remark", about=None, text=text)


def main():
    for line in sys.stdin:
        child = os.fork()
        if child == 0:
            try:
                append_for_ever(line.strip())
            finally:
                os._exit(1)
        os.write(1, f"child {child}\n".encode())
        _, status = os.waitpid(child, 0)
        os.write(1, f"dead {status}\n".encode())


if __name__ == "__main__":
    main()

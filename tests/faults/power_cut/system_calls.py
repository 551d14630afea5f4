"""What a program asked of the system about the files in a folder, in order, as strace tells it.

strace sees what no test double does: what SQLite and Python really wrote, flushed, renamed.
"""

import os
import re
import shutil
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

APPENDED = -1
"""The offset of a write to the end, wherever that is."""

STRACE = shutil.which("strace")
CALLS = "openat,write,pwrite64,lseek,ftruncate,fsync,fdatasync,unlink,rename,mkdir,close"

PROGRAM = Path(__file__).with_name("program.py")
ROOT = Path(__file__).parents[3]

_LINE = re.compile(rb"(\d+) +(?:<\.\.\. )?(\w+)(?: resumed>|\()?(.*)", re.DOTALL)
_RESULT = re.compile(rb"\) = (-?\d+)[^=]*$")
_TEXT = re.compile(rb'"((?:\\x[0-9a-f]{2})*)"')
_NAME = re.compile(rb"<((?:\\x[0-9a-f]{2})+)>")
_DESCRIPTOR = re.compile(rb"\d+")


@dataclass(frozen=True)
class Call:
    """One that succeeded. ``name`` is the path of the file, seen from the folder.

    ``do``: made, made folder, write, cut (to a length), flush, flush folder, gone, moved (to
    ``text``), said. The folder itself is ``.``.
    """

    do: str
    name: str = ""
    offset: int = 0
    data: bytes = b""
    text: str = ""


def run(kind, folder, *options):
    """Run the program of `program` under strace with ``options``; its own output."""
    command = [STRACE, "-f", *options, sys.executable, str(PROGRAM), kind, str(folder)]
    done = subprocess.run(
        command,
        capture_output=True,
        check=False,
        timeout=50,
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT), "PYTHONDONTWRITEBYTECODE": "1"},
    )
    return done.returncode, done.stdout.decode(), done.stderr.decode()


def watched(kind, folder):
    """All calls of one whole run in ``folder``, which is empty before."""
    told = folder.with_suffix(".strace")
    told.unlink(missing_ok=True)
    options = ("-y", "-xx", "-s", "100000000", "-e", f"trace={CALLS}", "-o", str(told))
    status, _, errors = run(kind, folder, *options)
    assert status == 0, errors
    calls = list(calls_in(told, str(folder)))
    told.unlink()
    return calls


def calls_in(told, folder):
    """Of what strace wrote to the file ``told``, the calls about ``folder``, and what was said."""
    places, begun = {}, {}
    with open(told, "rb") as lines:
        for line in lines:
            found = _LINE.match(line)
            if not found:
                continue
            process, what, rest = found[1], found[2], found[3]
            if rest.rstrip().endswith(b"<unfinished ...>"):
                begun[process] = rest.rpartition(b" <unfinished")[0]
                continue
            rest = begun.pop(process, b"") + rest if b" resumed>" in line[:60] else rest
            result = _RESULT.search(rest)
            if result and int(result[1]) >= 0:
                yield from _calls(what.decode(), rest, int(result[1]), folder, places)


def _calls(what, rest, result, folder, places):
    if what in ("unlink", "rename", "mkdir"):
        names = [_within(_plain(each), folder) for each in _TEXT.findall(rest)]
        do = {"unlink": "gone", "rename": "moved", "mkdir": "made folder"}[what]
        if names[0]:
            yield Call(do, names[0], text=names[1] if names[1:] else "")
        return
    if what == "openat":
        yield from _opened(rest, result, folder, places)
        return
    descriptor = int(_DESCRIPTOR.match(rest)[0])
    if what == "write" and descriptor == 1:
        yield Call("said", text=_plain(_TEXT.search(rest)[1]))
        return
    named = _NAME.search(rest)
    name = _within(_plain(named[1]), folder) if named else ""
    if name:
        yield from _about_file(what, name, descriptor, rest, result, places)


def _opened(rest, result, folder, places):
    names = _NAME.findall(rest)
    name = _within(_plain(names[-1]), folder) if names else ""
    if name:
        places[result] = APPENDED if b"O_APPEND" in rest else 0
        if b"O_CREAT" in rest:
            yield Call("made", name)
        if b"O_TRUNC" in rest:
            yield Call("cut", name)


def _about_file(what, name, descriptor, rest, result, places):
    if what == "lseek":
        if places[descriptor] != APPENDED:
            places[descriptor] = result
    elif what == "ftruncate":
        yield Call("cut", name, int(rest.rpartition(b") = ")[0].rpartition(b", ")[2]))
    elif what in ("fsync", "fdatasync"):
        yield Call("flush", name)
    elif what in ("write", "pwrite64"):
        data = _bytes(_TEXT.search(rest)[1])[:result]
        if what == "pwrite64":
            offset = int(rest.rpartition(b") = ")[0].rpartition(b", ")[2])
        else:
            offset = places[descriptor]
            if offset != APPENDED:
                places[descriptor] = offset + result
        yield Call("write", name, offset, data)


def _bytes(text):
    return bytes.fromhex(text.decode().replace("\\x", ""))


def _plain(text):
    return _bytes(text).decode()


def _within(path, folder):
    if path == folder:
        return "."
    return path.removeprefix(f"{folder}/") if path.startswith(f"{folder}/") else ""

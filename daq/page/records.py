"""What the logbook page shows: records that fit a question, and one record with all about it.

Reading goes in small parts through a reader of its own, so it never holds up whoever writes. How
much one question looks at is bounded; the answer says where to go on.
"""

import json
import re
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from os import PathLike
from typing import Any

from daq.logbook import Entry, Logbook, LogbookError, LogbookReader
from daq.logbook.capture import Capture
from daq.logbook.records import MODELS, UnknownRecord
from daq.logbook.words import record_words
from daq.page.errors import PageError, UnfitError
from daq.page.record_fields import fields_of, strings_in, trace_of

Message = dict[str, Any]

PAGE = 40
"""Records in one answer."""

MOST_LOOKED_AT = 4000
"""Records that one question looks at; a rare word far back takes several."""

MOST_REFERENCES = 20_000
"""How far from a record those are looked for that it names, or that name it."""

LONGEST_QUESTION = 200
LEAST_OF_UID = 8
"""So much of a uid finds it; a shorter word would find one by chance."""

_WINDOW = 256
_ASKED = re.compile(r'"([^"]+)"|(\S+)')
_DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
_UID = re.compile(r"[0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12}")
_NUMBER = re.compile(r"[1-9][0-9]{0,17}")


class Records:
    """The records of one logbook, for a page; it is opened to be read for each answer.

    Args:
        path: the logbook.
    """

    def __init__(self, path: str | PathLike[str]) -> None:
        self._path = path

    def search(self, query: Mapping[str, str]) -> Message:
        """The answer to ``q``, ``before``, ``kind`` and ``day``, each of which may be left out.

        Raises:
            UnfitError: one of them cannot be understood.
            PageError: the logbook cannot be read.
        """
        before = query.get("before", "")
        if before and not _NUMBER.fullmatch(before):
            raise UnfitError("before: it must be the number of a record")
        with self._reading() as reader:
            return search(
                reader,
                query.get("q", ""),
                int(before) if before else None,
                query.get("kind", ""),
                query.get("day", ""),
            )

    def one(self, uid: str) -> Message | None:
        """One record by its uid or its number; None if there is none.

        Raises:
            PageError: the logbook cannot be read.
        """
        with self._reading() as reader:
            return one(reader, uid)

    @contextmanager
    def _reading(self) -> Iterator[LogbookReader]:
        try:
            with Logbook.read(self._path) as reader:
                yield reader
        except LogbookError as error:
            raise PageError(str(error)) from error


def search(
    reader: LogbookReader, q: str = "", before: int | None = None, kind: str = "", day: str = ""
) -> Message:
    """Records, newest first.

    Args:
        reader: the logbook.
        q: words that must all stand somewhere in the record's own text, or begin a word there;
            what stands in quotes is one. Case does not matter.
        before: only records with smaller numbers.
        kind: only this kind.
        day: only records of this day, in UTC: ``2026-03-01``.

    Returns:
        ``records``, ``next`` to ask ``before`` for the older ones (None: there are none), and
        ``looked_to``, the number of the oldest record that was looked at.

    Raises:
        UnfitError: the kind or the day is none, or the question is too long.
    """
    fits = _fits(q, kind, day)
    newest = reader.last()
    last = newest.sequence if newest else 0
    at = last if before is None else min(before - 1, last)
    lowest = max(at - MOST_LOOKED_AT, 0)
    found: list[Message] = []
    while at > lowest and len(found) < PAGE:
        first = max(at - _WINDOW + 1, lowest + 1)
        for entry in reversed(list(reader.entries(first, at, kind=kind or None))):
            if fits(entry):
                found.append(row_of(entry))
                if len(found) == PAGE:
                    first = entry.sequence
                    break
        at = first - 1
    return {
        "logbook": reader.id,
        "last": last,
        "records": found,
        "looked_to": at + 1,
        "next": at + 1 if at > 0 else None,
        "kinds": sorted({each for each, _ in MODELS}),
    }


def _fits(q: str, kind: str, day: str) -> Callable[[Entry], bool]:
    if len(q) > LONGEST_QUESTION:
        raise UnfitError(f"the question has more than {LONGEST_QUESTION} characters")
    if kind and kind not in {each for each, _ in MODELS}:
        raise UnfitError("kind: there is no such kind of record")
    if day and not _DAY.fullmatch(day):
        raise UnfitError("day: write it as 2026-03-01")
    words = [(phrase or word).casefold() for phrase, word in _ASKED.findall(q)]
    wanted = [_wanted(word) for word in words]
    written = [json.dumps(word, ensure_ascii=False)[1:-1] for word in words]

    def fits(entry: Entry) -> bool:
        if day and f'"at":"{day}T' not in entry.body:
            return False
        body = entry.body.casefold() if words else ""
        if not all(each in body for each in written):  # quick, and never wrong about a no
            return False
        said = _body(entry)
        if day and not str(said.get("at", "")).startswith(day):
            return False
        if not wanted:
            return True
        texts = [each.casefold() for each in strings_in(said)]
        text = "\n".join(each for each in texts if not _UID.fullmatch(each))
        return all(
            each.search(text) or (len(word) >= LEAST_OF_UID and any(word in uid for uid in texts))
            for each, word in zip(wanted, words, strict=True)
        )

    return fits


def _wanted(word: str) -> re.Pattern[str]:
    """A word as it begins in a text; a whole number stands alone, so 4 is not found in 42.6."""
    end = r"(?!\w|\.\d)" if word.isdecimal() else ""
    begin = r"(?<![\w.])" if word[0].isalnum() else ""
    return re.compile(begin + re.escape(word) + end)


def _body(entry: Entry) -> dict[str, Any]:
    try:
        said = json.loads(entry.body)
    except (ValueError, RecursionError):
        return {}
    return said if isinstance(said, dict) else {}


def row_of(entry: Entry) -> Message:
    """A record as a list shows it. ``ref`` finds it again: its number."""
    record = entry.record
    said = _body(entry)
    at, _, words = record_words(record).partition("  ")
    verdict = said.get("verdict")
    return {
        "sequence": entry.sequence,
        "ref": str(entry.sequence),
        "uid": _text(said.get("uid")),
        "kind": _text(said.get("kind")) or "not readable",
        "at": at,
        "words": words,
        "operator": _text(said.get("operator")),
        "verdict": _text(verdict.get("outcome")) if isinstance(verdict, dict) else "",
        "readable": not isinstance(record, UnknownRecord),
        "intact": entry.intact,
    }


def _text(value: object) -> str:
    return value if isinstance(value, str) else ""


def one(reader: LogbookReader, uid: str) -> Message | None:
    """One record with its fields, its hash, its trace, and how it hangs together with others.

    Args:
        reader: the logbook.
        uid: of the record; or its number in the logbook.

    Returns:
        None if there is none.
    """
    entry = _found(reader, uid)
    if entry is None:
        return None
    said, record = _body(entry), entry.record
    last = reader.last()
    newest = last.sequence if last else entry.sequence
    return {
        **row_of(entry),
        "logbook": reader.id,
        "last": newest,
        "format": said.get("format") if type(said.get("format")) is int else None,
        "hash": entry.hash,
        "previous": entry.previous,
        "why": record.why if isinstance(record, UnknownRecord) else "",
        "body": entry.body if isinstance(record, UnknownRecord) else "",
        **fields_of(said),
        "trace": trace_of(record) if isinstance(record, Capture) else None,
        "refers_to": [row_of(each) for each in _named_by(reader, entry)],
        "referred_by": [row_of(each) for each in _naming(reader, entry, newest)],
        "looked_through": newest <= entry.sequence + MOST_REFERENCES,
    }


def _found(reader: LogbookReader, uid: str) -> Entry | None:
    if _NUMBER.fullmatch(uid):
        return reader.entry(int(uid))
    if not _UID.fullmatch(uid):
        return None
    last = reader.last()
    return next(_of_uids(reader, {uid}, last.sequence if last else 0, 1), None)


def _of_uids(reader: LogbookReader, uids: set[str], last: int, first: int) -> Iterator[Entry]:
    """The records with these uids among those numbered ``last`` down to ``first``."""
    left = set(uids)
    while last >= first and left:
        start = max(last - _WINDOW + 1, first)
        for entry in reversed(list(reader.entries(start, last))):
            if not any(f'"uid":"{uid}"' in entry.body for uid in left):
                continue
            uid = _text(_body(entry).get("uid"))
            if uid in left:
                left.discard(uid)
                yield entry
        last = start - 1


def _named_by(reader: LogbookReader, entry: Entry) -> list[Entry]:
    """What a record names by its uid; only older records can be."""
    uids = {each for each in strings_in(_body(entry)) if _UID.fullmatch(each)}
    first = max(1, entry.sequence - MOST_REFERENCES)
    return list(_of_uids(reader, uids, entry.sequence - 1, first))


def _naming(reader: LogbookReader, entry: Entry, last: int) -> list[Entry]:
    """Which later records name this one."""
    uid = _text(_body(entry).get("uid"))
    if not uid:
        return []
    through = min(last, entry.sequence + MOST_REFERENCES)
    later = reader.entries(entry.sequence + 1, through)
    return [each for each in later if f'"{uid}"' in each.body]

"""The page's own files, read once at the start: no path of a request ever touches the disk."""

import hashlib
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from importlib.resources import files
from importlib.resources.abc import Traversable

TYPES: Mapping[str, str] = {
    "html": "text/html; charset=utf-8",
    "js": "text/javascript; charset=utf-8",
    "css": "text/css; charset=utf-8",
    "svg": "image/svg+xml",
    "json": "application/json",
    "webmanifest": "application/manifest+json",
    "png": "image/png",
    "woff2": "font/woff2",
}
"""What each ending is served as. A file of another ending is not served."""

_NAME = re.compile(r"[A-Za-z0-9_-]+(\.[A-Za-z0-9_-]+)*\.(?P<ending>[a-z0-9]+)")


@dataclass(frozen=True, slots=True)
class Answer:
    """A file as it is answered: 200, or 304 if the browser has it already."""

    status: int
    headers: dict[str, str]
    body: bytes = field(repr=False)


@dataclass(frozen=True, slots=True)
class File:
    """One file of the page."""

    body: bytes = field(repr=False)
    media_type: str
    etag: str

    def answer(self, if_none_match: str | None = None) -> Answer:
        """What a request for this file is answered.

        Args:
            if_none_match: the header of that name (RFC 9110, section 13.1.2), if it came.
        """
        headers = {"etag": self.etag}
        if if_none_match is not None and self.etag in _tags(if_none_match):
            return Answer(304, headers, b"")
        return Answer(200, {**headers, "content-type": self.media_type}, self.body)


def _tags(header: str) -> Iterator[str]:
    """The tags of If-None-Match; it compares weakly (RFC 9110, section 8.8.3.2)."""
    return (each.strip().removeprefix("W/") for each in header.split(","))


class Files:
    """A fixed table of names.

    Args:
        table: each file by its name.
    """

    def __init__(self, table: Mapping[str, File]) -> None:
        self._table = dict(table)

    @classmethod
    def read(cls, folder: Traversable | None = None) -> "Files":
        """What lies in ``folder`` itself; the package's ``static`` if none is named.

        Args:
            folder: its files are read now, those below it are not.
        """
        place = folder if folder is not None else files("daq.page").joinpath("static")
        return cls(
            {
                each.name: _file(each)
                for each in place.iterdir()
                if is_served(each.name) and each.is_file()
            }
        )

    def get(self, name: str) -> File | None:
        """The file called exactly so; None if there is none."""
        return self._table.get(name)

    @property
    def names(self) -> tuple[str, ...]:
        """All names, sorted."""
        return tuple(sorted(self._table))


def is_served(name: str) -> bool:
    """Whether a file of this name is one for browsers."""
    found = _NAME.fullmatch(name)
    return found is not None and found["ending"] in TYPES


def _file(each: Traversable) -> File:
    body = each.read_bytes()
    media_type = TYPES[each.name.rpartition(".")[2]]
    return File(body, media_type, f'"{hashlib.sha256(body).hexdigest()[:32]}"')

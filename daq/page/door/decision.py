"""Who is let in: pure decisions about one request. Nothing here waits, answers or keeps a log."""

import math
import re
from dataclasses import dataclass, field
from urllib.parse import parse_qs

from daq.page.door.guessing import Guessing
from daq.page.door.hosts import AllowedHosts, Authority, authority_from
from daq.page.door.origin import Kind, why_foreign
from daq.page.door.tokens import MOST_TOKEN, Cookies, Role, Tokens

MOST_TARGET = 2048
"""The longest path with its query, in bytes."""

MOST_HEAD = 8192
"""The longest that all headers together may be, in bytes. The server itself bounds only a head that
comes in pieces."""

METHODS = ("GET", "HEAD")

_PATH = re.compile(rb"/|(/[A-Za-z0-9_-]+(\.[A-Za-z0-9_-]+)*)+")
"""All paths of the page look like this; none of them has an escape, a dot segment or a blank."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """A request, as it came.

    Args:
        kind: a page or file, or a live connection.
        method: GET and so on.
        path: before any ``?``, with its escapes.
        query: after it.
        headers: names in lower case, in the order they came.
        client: the address that it came from.
        arrived_at: the address of this machine that it came to.
    """

    kind: Kind = "http"
    method: str = "GET"
    path: bytes = b"/"
    query: bytes = b""
    headers: tuple[tuple[bytes, bytes], ...] = ()
    client: str = ""
    arrived_at: str | None = None

    def by_name(self) -> dict[str, list[str]]:
        """Each header's values, all of those that came."""
        found: dict[str, list[str]] = {}
        for name, value in self.headers:
            found.setdefault(name.decode("latin-1").lower(), []).append(
                value.decode("latin-1").strip()
            )
        return found


@dataclass(frozen=True, slots=True, kw_only=True)
class Refused:
    """Not let in. ``why`` is ours alone: nothing of the request stands in it."""

    status: int
    why: str
    headers: tuple[tuple[str, str], ...] = ()
    host: Authority | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SignedIn:
    """The token was right: a cookie is set, and the address is freed of the token."""

    role: Role
    cookie: str = field(repr=False)
    host: Authority


@dataclass(frozen=True, slots=True, kw_only=True)
class LetIn:
    """May go on, as ``role``."""

    role: Role
    host: Authority


Decision = Refused | SignedIn | LetIn


@dataclass(frozen=True, slots=True)
class Times:
    """The moment of a request.

    Args:
        now_s: seconds since 1970; cookies hold until such a time.
        steady_s: seconds of a clock that never goes back; pauses are counted on it.
    """

    now_s: float
    steady_s: float


class Doorkeeper:
    """Decides about every request.

    Args:
        hosts: what the page answers under.
        tokens: what opens the door.
        tls: whether the page is served by TLS. What a request says of itself does not count.
    """

    def __init__(self, hosts: AllowedHosts, tokens: Tokens, *, tls: bool) -> None:
        self._hosts = hosts
        self._tokens = tokens
        self._tls = tls
        self._cookies = Cookies(tokens, hosts.port, tls=tls)
        self._guessing = Guessing()

    def decide(self, asked: Asked, times: Times) -> Decision:
        """What becomes of a request."""
        if not asked.path.startswith(b"/"):
            return Refused(status=400, why="The request must name a path of this page alone.")
        if sum(len(name) + len(value) for name, value in asked.headers) > MOST_HEAD:
            return Refused(status=431, why="The request says too much about itself.")
        headers = asked.by_name()
        host = self._host(headers, asked.arrived_at)
        if isinstance(host, Refused):
            return host
        refused = _why_not(asked, headers, host) or self._why_foreign(asked, headers, host)
        if refused is not None:
            return refused
        shown = _token_in(asked)
        if shown is not None:
            return self._sign_in(shown, asked.client, host, times)
        role = self._cookies.role_of(headers.get("cookie", ()), times.now_s)
        if role is None:
            return Refused(status=401, why=NO_TOKEN, host=host)
        if not _PATH.fullmatch(asked.path):
            return Refused(status=404, why="There is no such page.", host=host)
        return LetIn(role=role, host=host)

    def _host(self, headers: dict[str, list[str]], arrived_at: str | None) -> Authority | Refused:
        """The host of a request if it is on the list."""
        named = headers.get("host", [])
        host = authority_from(named[0], 443 if self._tls else 80) if len(named) == 1 else None
        if host is None:
            return Refused(status=400, why="The request must name this page's host once.")
        if self._hosts.lets_in(host, arrived_at):
            return host
        return Refused(
            status=421,
            why="The page does not answer under this name. Use an address that the program showed "
            "when it started, or start it again with --host and the name as it stands in the "
            f"browser's address line. The port is {self._hosts.port}.",
        )

    def _why_foreign(
        self, asked: Asked, headers: dict[str, list[str]], host: Authority
    ) -> Refused | None:
        why = why_foreign(asked.kind, headers, host, tls=self._tls)
        return Refused(status=403, why=why, host=host) if why is not None else None

    def _sign_in(self, shown: str, client: str, host: Authority, times: Times) -> Decision:
        """What comes of a token; while its address waits, it is not even looked at."""
        wait_s = math.ceil(self._guessing.wait_s(client, times.steady_s))
        if wait_s > 0:
            return Refused(
                status=429,
                why="There were too many wrong tokens. Wait a little, then use the address that "
                "the program showed when it started.",
                headers=(("retry-after", str(wait_s)),),
                host=host,
            )
        role = self._tokens.role_of(shown)
        if role is None:
            self._guessing.was_wrong(client, times.steady_s)
            return Refused(status=401, why=WRONG_TOKEN, host=host)
        return SignedIn(role=role, cookie=self._cookies.made(role, times.now_s), host=host)


NO_TOKEN = (
    "This screen has not come in with the token yet, or that was more than a day ago. Open the "
    "whole address that the program shows in its terminal, or read the square code there with the "
    "tablet. If you have just done so, load this page again."
)
WRONG_TOKEN = (
    "The token in the address is not that of the program that runs now. Open the whole address "
    "that it shows in its terminal, or read the square code there with the tablet."
)


def _why_not(asked: Asked, headers: dict[str, list[str]], host: Authority) -> Refused | None:
    """Why a request is not of a kind that the page has, whoever asks."""
    if asked.kind == "http" and asked.method not in METHODS:
        allow = (("allow", ", ".join(METHODS)),)
        why = "The page is only read this way. What is done goes over its live connection."
        return Refused(status=405, why=why, headers=allow, host=host)
    if "transfer-encoding" in headers or any(v != "0" for v in headers.get("content-length", ())):
        return Refused(status=413, why="The page takes no files and no forms.", host=host)
    if len(asked.path) + len(asked.query) > MOST_TARGET:
        return Refused(status=414, why="The address is too long.", host=host)
    return None


def _token_in(asked: Asked) -> str | None:
    """The token that a request for ``/`` shows; None if it shows none."""
    if asked.kind != "http" or asked.path != b"/" or not names_token(asked.query):
        return None
    shown = parse_qs(asked.query.decode("latin-1"), keep_blank_values=True, max_num_fields=None)
    tokens = shown.get("t", [""])
    return tokens[0][: MOST_TOKEN + 1] if len(tokens) == 1 else ""


def names_token(query: bytes) -> bool:
    """Whether a query has a field ``t``, however it is written."""
    return "t" in parse_qs(query.decode("latin-1"), keep_blank_values=True)

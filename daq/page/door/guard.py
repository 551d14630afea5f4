"""The door: one ASGI middleware before everything that the page serves."""

import html
import time
from collections.abc import Awaitable, Callable, Iterable, MutableMapping
from typing import Any

from daq.page.door.address import Listen
from daq.page.door.decision import Asked, Doorkeeper, LetIn, Refused, SignedIn, Times, names_token
from daq.page.door.headers import OURS, Headers, security_headers
from daq.page.door.hosts import AllowedHosts
from daq.page.door.tokens import Role, Tokens

Scope = MutableMapping[str, Any]
Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
App = Callable[[Scope, Receive, Send], Awaitable[None]]

SERVER_SETTINGS: dict[str, Any] = {
    "http": "h11",
    "ws": "websockets-sansio",
    "ws_max_size": 4096,
    "ws_per_message_deflate": False,
    "ws_ping_interval": 5.0,
    "ws_ping_timeout": 10.0,
    "h11_max_incomplete_event_size": 16 * 1024,
    "timeout_keep_alive": 30,
    "proxy_headers": False,
    "server_header": False,
    "access_log": False,
    "log_level": "error",
}
"""How uvicorn is to be set for the door to hold.

``proxy_headers``: X-Forwarded-For would let a program on this machine choose the address that
wrong tokens are counted on. ``access_log``, ``log_level``: they would write addresses down.
"""

_ROLE = "restpoint.role"
_NO_BODY = b""


class Door:
    """Who may come in, and as what.

    Args:
        listen: where the page is served, with the port that it has in the end.
        tokens: what opens the door.
        hosts: names to let in besides those that follow from ``listen``.
        found: this machine's addresses, where the page listens on all of them.
        tls: whether the page is served by TLS.
        now: seconds since 1970.
        steady: seconds of a clock that never goes back.

    Raises:
        HostError: one of ``hosts`` is no host name.
    """

    def __init__(
        self,
        listen: Listen,
        tokens: Tokens,
        *,
        hosts: Iterable[str] = (),
        found: Iterable[str] = (),
        tls: bool = False,
        now: Callable[[], float] = time.time,
        steady: Callable[[], float] = time.monotonic,
    ) -> None:
        allowed = AllowedHosts.of(listen.host, listen.port, found=found, more=hosts)
        self._keeper = Doorkeeper(allowed, tokens, tls=tls)
        self._tls = tls
        self._now = now
        self._steady = steady

    def role(self, scope: Scope) -> Role | None:
        """What whoever came in by ``scope`` may do; None if the door did not let them in."""
        role: Role | None = scope.get(_ROLE)
        return role

    def guard(self, app: App) -> App:
        """``app`` behind the door: it sees only who was let in."""

        async def guarded(scope: Scope, receive: Receive, send: Send) -> None:
            if scope["type"] == "lifespan":
                await app(scope, receive, send)
            elif scope["type"] in ("http", "websocket"):
                await self._answer(app, scope, receive, send)
            else:
                raise ValueError("the door knows no such kind of connection")

        return guarded

    async def _answer(self, app: App, scope: Scope, receive: Receive, send: Send) -> None:
        asked = asked_from(scope)
        if names_token(asked.query):
            # The server keeps the scope too, and would write it into its log.
            scope["query_string"] = b""
        decision = self._keeper.decide(asked, Times(self._now(), self._steady()))
        path = asked.path.decode("latin-1")
        add = security_headers(decision.host, path, tls=self._tls)
        if isinstance(decision, LetIn):
            await app({**scope, _ROLE: decision.role}, receive, _adding(send, add))
        elif isinstance(decision, SignedIn):
            away = [(b"location", b"/"), (b"set-cookie", decision.cookie.encode())]
            await _send_all(send, "http", 303, [*away, (b"content-length", b"0"), *add], _NO_BODY)
        else:
            await _refuse(scope, receive, send, decision, add)


def asked_from(scope: Scope) -> Asked:
    """A request out of its ASGI scope."""
    client, server = scope.get("client"), scope.get("server")
    raw = scope.get("raw_path") or scope["path"].encode("utf-8", "surrogateescape")
    return Asked(
        kind=scope["type"],
        method=scope.get("method", "GET"),
        path=raw,
        query=scope.get("query_string", b""),
        headers=tuple((bytes(name), bytes(value)) for name, value in scope["headers"]),
        client=client[0] if client else "",
        arrived_at=server[0] if server else None,
    )


def _adding(send: Send, add: Headers) -> Send:
    """``send`` that puts the door's headers in the place of the app's own."""

    async def sent(message: Message) -> None:
        if message["type"] in (
            "http.response.start",
            "websocket.http.response.start",
            "websocket.accept",
        ):
            own = [
                (name, value)
                for name, value in message.get("headers", ())
                if bytes(name).lower() not in OURS
            ]
            message = {**message, "headers": [*own, *add]}
        await send(message)

    return sent


async def _refuse(
    scope: Scope, receive: Receive, send: Send, refused: Refused, add: Headers
) -> None:
    """Say no, and why. A WebSocket is answered before it is one."""
    prefix = "http"
    if scope["type"] == "websocket":
        await receive()
        if "websocket.http.response" not in scope.get("extensions", {}):
            await send({"type": "websocket.close", "code": 1008, "reason": refused.why[:120]})
            return
        prefix = "websocket.http"
    body = _page(refused).encode()
    own: Headers = [
        (b"content-type", b"text/html; charset=utf-8"),
        (b"content-length", str(len(body)).encode()),
        (b"connection", b"close"),
        *((name.encode(), value.encode()) for name, value in refused.headers),
    ]
    is_head = scope.get("method") == "HEAD"
    await _send_all(send, prefix, refused.status, [*own, *add], b"" if is_head else body)


async def _send_all(send: Send, prefix: str, status: int, headers: Headers, body: bytes) -> None:
    await send({"type": f"{prefix}.response.start", "status": status, "headers": headers})
    await send({"type": f"{prefix}.response.body", "body": body})


def _page(refused: Refused) -> str:
    """The refusal as a page; the link is for those whom another site's link brought here.

    Their browser keeps the new cookie back until they ask from this page.
    """
    again = '\n<p><a href="/">Load the bench page</a></p>' if refused.status == 401 else ""
    return (
        '<!doctype html>\n<html lang="en">\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width">\n'
        "<title>Bench page: refused</title>\n<main>\n<h1>Not let in</h1>\n"
        f"<p>{html.escape(refused.why)}</p>{again}\n</main>\n</html>\n"
    )

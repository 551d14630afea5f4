"""Serves the page from a thread of its own, beside the loop that measures.

Whatever becomes of the server, the loop goes on: it looks at ``trouble`` when it likes.
"""

import errno
import socket
import threading
import time
from collections.abc import Iterable
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Self, cast

import uvicorn
from uvicorn.protocols.websockets.websockets_sansio_impl import WebSocketsSansIOProtocol

from daq.page.app import Sources, app_of
from daq.page.door import (
    SERVER_SETTINGS,
    Door,
    Files,
    Listen,
    Tokens,
    addresses_to_type,
    own_addresses,
    with_token,
)
from daq.page.errors import ListenError
from daq.page.hub import Hub

START_WITHIN_S = 10.0
STOP_WITHIN_S = 5.0
GOODBYE_S = 0.5
"""So long screens are given to hear that the page ends."""

SOCKET_BYTES = 16 * 1024
"""The most that the system may hold back for a screen, nearly: a second of states, not ten."""


DROP_AFTER_S = 1.0
"""So long a connection that is over may still take what was written to it."""


class _Live(WebSocketsSansIOProtocol):
    """A live connection that says soon when its screen does not keep up, and does not outlive it.

    What has been handed over can no longer be replaced by something newer. Closing alone would wait
    for a screen that reads nothing any more until the system gives it up.
    """

    def connection_made(self, transport: Any) -> None:
        super().connection_made(transport)
        transport.set_write_buffer_limits(high=SOCKET_BYTES // 4)

    async def run_asgi(self) -> None:
        await super().run_asgi()
        self.loop.call_later(DROP_AFTER_S, self._drop)

    def keepalive_timeout(self) -> None:
        super().keepalive_timeout()
        self._drop()

    def shutdown(self) -> None:
        super().shutdown()
        self._drop()

    def _drop(self) -> None:
        if self.transport.get_write_buffer_size():
            self.transport.abort()


@dataclass(frozen=True, slots=True, kw_only=True)
class Served:
    """Where the page is served, and to whom.

    Args:
        listen: the address; port 0 lets the system choose one.
        tokens: what opens the door.
        hosts: names that the page answers under besides.
        certificate: PEM files of certificate and key; None for plain HTTP.
    """

    listen: Listen = field(default_factory=Listen)
    tokens: Tokens = field(default_factory=Tokens.made)
    hosts: tuple[str, ...] = ()
    certificate: tuple[Path, Path] | None = None


class PageServer:
    """The running page. Use it in a ``with`` statement; on leaving it says goodbye and is gone.

    Args:
        hub: what screens are shown.
        served: where and to whom.
        sources: what else the page can tell.

    Raises:
        ListenError: on entering, if it cannot be served there.
        HostError: one of the names is none.
    """

    def __init__(self, hub: Hub, served: Served, sources: Sources | None = None) -> None:
        self._hub, self._served, self._sources = hub, served, sources
        self._died = ""
        self.listen = served.listen

    def __enter__(self) -> Self:
        self._socket = _listening(self._served.listen)
        try:
            self.listen = self._served.listen.at(self._socket.getsockname()[1])
            self._server = uvicorn.Server(self._config())
        except BaseException:
            self._socket.close()
            raise
        self._thread = threading.Thread(target=self._run, name="bench page", daemon=True)
        self._thread.start()
        self._await_start()
        return self

    def __exit__(self, *_: object) -> None:
        self.stop("The bench program has ended. Start it again to go on.")

    def stop(self, why: str) -> None:
        """Tell every screen why it ends, free the port, and end the thread."""
        self._hub.close(why)
        _wait_until(lambda: self._hub.screens == 0, GOODBYE_S)
        self._server.should_exit = True
        self._thread.join(STOP_WITHIN_S)
        self._socket.close()

    @property
    def trouble(self) -> str:
        """Why the page is not served any more; empty while it is."""
        if self._died or self._thread.is_alive():
            return self._died
        return "The bench page has stopped. The work here goes on; start again for the page."

    @property
    def addresses(self) -> tuple[str, ...]:
        """Every address that brings people to the page, without a token."""
        return addresses_to_type(
            self.listen, hosts=self._served.hosts, tls=self._served.certificate is not None
        )

    @property
    def is_encrypted(self) -> bool:
        """Whether it is served by TLS."""
        return self._served.certificate is not None

    def ways_in(self) -> tuple[str, ...]:
        """The addresses with the token of those who may act. They are keys."""
        token = self._served.tokens.hand
        return tuple(with_token(each, token) for each in self.addresses)

    def ways_to_look(self) -> tuple[str, ...]:
        """The addresses with the token of those who may look; none if there is no such token."""
        token = self._served.tokens.viewer
        return tuple(with_token(each, token) for each in self.addresses) if token else ()

    def _config(self) -> uvicorn.Config:
        served = self._served
        found: Iterable[str] = own_addresses() if self.listen.is_everywhere else ()
        tls = served.certificate
        door = Door(
            self.listen, served.tokens, hosts=served.hosts, found=found, tls=tls is not None
        )
        files = {"ssl_certfile": tls[0], "ssl_keyfile": tls[1]} if tls is not None else {}
        settings = {**SERVER_SETTINGS, **files, "ws": _Live}
        return uvicorn.Config(
            cast("Any", door.guard(app_of(self._hub, door, Files.read(), self._sources))),
            lifespan="off",
            log_config=None,
            timeout_graceful_shutdown=2,
            **settings,
        )

    def _run(self) -> None:
        try:
            self._server.run(sockets=[self._socket])
        except BaseException as error:  # the thread's last word, whatever it was
            self._died = f"The bench page has stopped ({error!r}). The work here goes on."

    def _await_start(self) -> None:
        _wait_until(
            lambda: self._server.started or not self._thread.is_alive(), START_WITHIN_S, 0.005
        )


def _listening(listen: Listen) -> socket.socket:
    """A socket that listens at an address.

    Raises:
        ListenError: it cannot, with what to do.
    """
    family = socket.AF_INET6 if ":" in listen.host else socket.AF_INET
    found = socket.socket(family, socket.SOCK_STREAM)
    try:
        if hasattr(socket, "SO_EXCLUSIVEADDRUSE"):  # there SO_REUSEADDR would share the port
            found.setsockopt(socket.SOL_SOCKET, socket.SO_EXCLUSIVEADDRUSE, 1)
        else:
            found.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        found.setsockopt(socket.SOL_SOCKET, socket.SO_SNDBUF, SOCKET_BYTES)
        with suppress(OSError):
            found.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        found.bind((listen.host, listen.port))
        found.listen(64)
    except OSError as error:
        found.close()
        raise ListenError(_why_not(listen, error)) from error
    return found


def _why_not(listen: Listen, error: OSError) -> str:
    if error.errno == errno.EADDRINUSE:
        return (
            f"Something else is served at {listen} already, perhaps another bench. End that, or "
            "choose another port, as: --listen "
            f"{listen.at(listen.port + 1 if listen.port < 65535 else 8420)}."
        )
    if error.errno == errno.EADDRNOTAVAIL:
        return f"{listen.host} is no address of this machine. Give one that it has to --listen."
    if error.errno == errno.EACCES:
        return f"The system does not allow port {listen.port}. Choose one above 1023."
    return f"The page cannot be served at {listen}: {error.strerror}."


def _wait_until(is_so: Any, within_s: float, every_s: float = 0.01) -> None:
    """Wait for something that another thread brings about, but no longer."""
    end_s, pause = time.monotonic() + within_s, threading.Event()
    while not is_so() and time.monotonic() < end_s:
        pause.wait(every_s)

"""A small page behind the door on a real server, and raw requests to it, byte for byte."""

import base64
import os
import socket
import ssl
import threading
from contextlib import asynccontextmanager, contextmanager, suppress
from dataclasses import dataclass

import uvicorn
from starlette.applications import Starlette
from starlette.responses import JSONResponse, PlainTextResponse, Response
from starlette.routing import Route, WebSocketRoute

from daq.page.door import SERVER_SETTINGS, Door, File, Files, Listen, Tokens
from daq.page.errors import MessageError
from daq.page.messages import encoded, refused, wish_from

HAND, VIEWER = "hand-token-hand-token", "viewer-token-viewer-t"
TOKENS = Tokens(HAND, VIEWER)

FILES = Files(
    {
        "live.js": File(b"export {};\n", "text/javascript; charset=utf-8", '"abc"'),
        "style.css": File(b"body {}\n", "text/css; charset=utf-8", '"def"'),
    }
)
LIMIT_S = 10.0


class Page:
    """A page that writes down what reached it; nothing does that the door kept out."""

    def __init__(self):
        self.seen = []
        self.captures = []
        self.door = None

    def app(self, ready):
        @asynccontextmanager
        async def lifespan(_app):
            ready.set()
            yield

        routes = [
            Route("/", self.home),
            Route("/static/{name}", self.static),
            Route("/api/record/{uid}", self.record),
            Route("/api/headers", self.own_headers),
            WebSocketRoute("/live", self.live),
        ]
        return Starlette(routes=routes, lifespan=lifespan)

    async def home(self, request):
        self.seen.append((request.url.path, request.url.query))
        return PlainTextResponse(f"role: {self.door.role(request.scope)}")

    async def static(self, request):
        self.seen.append((request.url.path, request.url.query))
        file = FILES.get(request.path_params["name"])
        if file is None:
            return PlainTextResponse("There is no such page.", 404)
        answer = file.answer(request.headers.get("if-none-match"))
        return Response(answer.body, answer.status, answer.headers)

    async def record(self, request):
        self.seen.append((request.url.path, request.url.query))
        return JSONResponse({"uid": request.path_params["uid"]})

    async def own_headers(self, request):
        """What a page that was written wrongly might say."""
        return PlainTextResponse(
            "careless",
            headers={
                "Content-Security-Policy": "default-src *",
                "Cache-Control": "public, max-age=9999",
                "Access-Control-Allow-Origin": "*",
                "X-Frame-Options": "DENY",
            },
        )

    async def live(self, socket):
        self.seen.append(("/live", socket.url.query))
        await socket.accept()
        async for text in socket.iter_text():
            try:
                wish = wish_from(text)
            except MessageError as error:
                await socket.send_text(encoded(refused(str(error))))
                continue
            if self.door.role(socket.scope) != "hand":
                await socket.send_text(encoded(refused("This screen may only look.", wish.do)))
                continue
            self.captures.append(wish.do)
            await socket.send_text(encoded({"v": 1, "kind": "done"}))


@dataclass
class Answer:
    status: int
    headers: list
    body: bytes
    raw: bytes

    def header(self, name):
        """The one value of a header; None if there is none."""
        values = [value for key, value in self.headers if key == name]
        assert len(values) <= 1, f"{name} came {len(values)} times"
        return values[0] if values else None


@dataclass
class Served:
    page: Page
    port: int
    tls: ssl.SSLContext | None = None

    @property
    def host(self):
        return f"127.0.0.1:{self.port}"

    @property
    def origin(self):
        return f"{'https' if self.tls else 'http'}://{self.host}"

    @contextmanager
    def connection(self):
        with socket.create_connection(("127.0.0.1", self.port), timeout=LIMIT_S) as plain:
            if self.tls is None:
                yield plain
            else:
                with self.tls.wrap_socket(plain, server_hostname="127.0.0.1") as wrapped:
                    yield wrapped

    def send(self, raw):
        """The answer to bytes sent as they are, read until the server closes."""
        found = self.send_anything(raw)
        assert found, "the server hung up without an answer"
        return answer_from(found)

    def send_anything(self, raw):
        """What comes back, if anything: the server may hang up before it has read all."""
        with self.connection() as connection:
            with suppress(ConnectionResetError, BrokenPipeError):
                connection.sendall(raw)
            return until_closed(connection)

    def get(self, target="/", *, method="GET", host=None, cookie=None, **more):
        """The answer to a plain request. ``more`` are headers; ``host`` a list makes several."""
        hosts = [self.host] if host is None else [host] if isinstance(host, str) else host
        lines = [f"{method} {target} HTTP/1.1", *(f"Host: {each}" for each in hosts)]
        if cookie is not None:
            lines.append(f"Cookie: {cookie}")
        lines += [f"{name.replace('_', '-')}: {value}" for name, value in more.items()]
        raw = "\r\n".join([*lines, "Connection: close", "", ""])
        return self.send(raw.encode("latin-1"))

    def sign_in(self, token=HAND):
        """The cookie that a token is turned into."""
        answer = self.get(f"/?t={token}")
        assert answer.status == 303, answer.raw
        return answer.header("set-cookie").partition(";")[0]

    @contextmanager
    def live(self, *, cookie=None, origin="", **more):
        """A WebSocket, if it is let in: its answer and a way to talk over it."""
        key = base64.b64encode(os.urandom(16)).decode()
        headers = {
            "Host": self.host,
            "Upgrade": "websocket",
            "Connection": "Upgrade",
            "Sec-WebSocket-Key": key,
            "Sec-WebSocket-Version": "13",
            **({"Origin": self.origin if origin == "" else origin} if origin is not None else {}),
            **({"Cookie": cookie} if cookie else {}),
            **{name.replace("_", "-"): value for name, value in more.items()},
        }
        lines = [f"{name}: {value}" for name, value in headers.items()]
        with self.connection() as connection:
            connection.sendall("\r\n".join(["GET /live HTTP/1.1", *lines, "", ""]).encode())
            raw = until_blank_line(connection)
            answer = answer_from(raw)
            if answer.status != 101:
                answer = answer_from(raw + until_closed(connection))
            yield answer, Live(connection)


class Live:
    """The screen's end of an open WebSocket (RFC 6455), in frames as they are."""

    def __init__(self, connection):
        self._connection = connection

    def send(self, payload, opcode=1, *, is_last=True, size=None):
        """One frame; ``size`` is what it claims, if that is not what it has."""
        size = len(payload) if size is None else size
        if size < 126:
            length = bytes([0x80 | size])
        elif size < 65536:
            length = bytes([0x80 | 126]) + size.to_bytes(2, "big")
        else:
            length = bytes([0x80 | 127]) + size.to_bytes(8, "big")
        first = bytes([(0x80 if is_last else 0) | opcode])
        self._connection.sendall(first + length + b"\x00\x00\x00\x00" + payload)

    def receive(self):
        """The next frame: its opcode and what is in it."""
        first, second = self._exactly(2)
        size = second & 0x7F
        if size == 126:
            size = int.from_bytes(self._exactly(2), "big")
        return first & 0x0F, self._exactly(size)

    def ask(self, text):
        self.send(text.encode())
        return self.receive()

    def _exactly(self, size):
        found = b""
        while len(found) < size:
            more = self._connection.recv(size - len(found))
            assert more, "the server hung up"
            found += more
        return found


def until_closed(connection):
    found = b""
    with suppress(ConnectionResetError):
        while more := connection.recv(65536):
            found += more
    return found


def until_blank_line(connection):
    found = b""
    while b"\r\n\r\n" not in found:
        more = connection.recv(1)
        assert more, "the server hung up without an answer"
        found += more
    return found


def answer_from(raw):
    head, _, body = raw.partition(b"\r\n\r\n")
    first, *lines = head.decode("latin-1").split("\r\n")
    pairs = [line.partition(":") for line in lines]
    headers = [(name.lower(), value.strip()) for name, _, value in pairs]
    return Answer(int(first.split()[1]), headers, body, raw)


@contextmanager
def served(*, tls=None, **settings):
    """The page on loopback at a port of the system's choice.

    ``tls`` is certificate, key; ``settings`` go over those that the door asks of the server.
    """
    page, ready = Page(), threading.Event()
    listening = socket.create_server(("127.0.0.1", 0))
    port = listening.getsockname()[1]
    page.door = Door(Listen().at(port), TOKENS, tls=tls is not None)
    files = {"ssl_certfile": tls[0], "ssl_keyfile": tls[1]} if tls else {}
    config = uvicorn.Config(
        page.door.guard(page.app(ready)),
        **{**SERVER_SETTINGS, "log_config": None, **files, **settings},
    )
    server = uvicorn.Server(config)
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]})
    thread.start()
    try:
        assert ready.wait(LIMIT_S)
        context = ssl.create_default_context(cafile=str(tls[0])) if tls else None
        yield Served(page, port, context)
    finally:
        server.should_exit = True
        thread.join(LIMIT_S)
        listening.close()
        assert not thread.is_alive()

"""What the page answers: its files, its live connection, and what it tells of records.

Everything here stands behind the door, which has seen to who may come in.
"""

import asyncio
from collections.abc import Awaitable, Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass
from functools import partial
from typing import Any

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, PlainTextResponse, Response
from starlette.routing import Route, WebSocketRoute
from starlette.websockets import WebSocket, WebSocketDisconnect, WebSocketState

from daq.page.door import Door, Files
from daq.page.errors import PageError
from daq.page.hub import Hub, PageScreen
from daq.page.messages import Message, bye, encoded
from drivers.errors import RestpointError

PAGES = {
    "/": "index.html",
    "/job": "job.html",
    "/calibration": "calibration.html",
    "/logbook": "logbook.html",
    "/record/{uid}": "record.html",
}
"""By path, the file that is its page."""

LOOK_S = 0.05
"""How often a screen's turn comes when nothing wakes it."""

SEND_WITHIN_S = 5.0
"""A screen that takes nothing for so long is let go."""

FULL = "There are as many screens as the page serves. Close one that nobody looks at."

GOING_AWAY, TRY_LATER = 1001, 1013  # RFC 6455, section 7.4.1, and its registry of codes

Query = Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Sources:
    """Where the page's other answers come from; None for what this work has not.

    Args:
        records: records that fit a query (``q``, ``before``, ``kind``, ``day``), newest first.
        record: one record with everything about it, by uid; None if there is none.
        engine: the drawing of the engine, as SVG; None if there is none.
    """

    records: Callable[[Query], Message] | None = None
    record: Callable[[str], Message | None] | None = None
    engine: Callable[[], str | None] | None = None


def app_of(hub: Hub, door: Door, files: Files, sources: Sources | None = None) -> Starlette:
    """The application, without its door.

    Args:
        hub: what screens are shown, and where their wishes go.
        door: says what somebody may do.
        files: the page's files.
        sources: what else it can tell.
    """
    known = sources or Sources()
    routes = [
        *(Route(path, partial(_file, files, name)) for path, name in PAGES.items()),
        Route("/static/{name}", partial(_static, files)),
        Route("/api/records", partial(_records, known)),
        Route("/api/record/{uid}", partial(_record, known)),
        Route("/api/engine.svg", partial(_engine, known)),
        WebSocketRoute("/live", partial(_live, hub, door)),
    ]
    return Starlette(routes=routes, exception_handlers={404: _missing})


async def _file(files: Files, name: str, request: Request) -> Response:
    file = files.get(name)
    if file is None:
        return PlainTextResponse("There is no such page.", 404)
    answer = file.answer(request.headers.get("if-none-match"))
    return Response(answer.body, answer.status, answer.headers)


async def _static(files: Files, request: Request) -> Response:
    return await _file(files, request.path_params["name"], request)


async def _missing(_request: Request, _error: Exception) -> Response:
    return PlainTextResponse("There is no such page.", 404)


async def _records(sources: Sources, request: Request) -> Response:
    if sources.records is None:
        return _no("This bench keeps no logbook.")
    return await _told(partial(sources.records, dict(request.query_params)))


async def _record(sources: Sources, request: Request) -> Response:
    if sources.record is None:
        return _no("This bench keeps no logbook.")
    return await _told(partial(sources.record, request.path_params["uid"]))


async def _told(ask: Callable[[], Any]) -> Response:
    """What the logbook says, asked in a thread of its own: a disk may keep it waiting."""
    try:
        found = await run_in_threadpool(ask)
    except PageError as error:
        return _no(str(error), 400)
    except RestpointError as error:
        return _no(str(error), 503)
    return _no("There is no such record.") if found is None else JSONResponse(found)


async def _engine(sources: Sources, _request: Request) -> Response:
    drawing = None if sources.engine is None else await run_in_threadpool(sources.engine)
    if drawing is None:
        return PlainTextResponse("There is no engine in this work.", 404)
    return Response(drawing, media_type="image/svg+xml")


def _no(why: str, status: int = 404) -> Response:
    return JSONResponse({"why": why}, status)


async def _live(hub: Hub, door: Door, socket: WebSocket) -> None:
    """One screen, from its coming to its going."""
    news, loop = asyncio.Event(), asyncio.get_running_loop()
    may_act = door.role(socket.scope) == "hand"
    await socket.accept()
    screen = hub.join(lambda: _soon(loop, news), may_act=may_act)
    if screen is None:
        await socket.send_text(encoded(bye(FULL)))
        await socket.close(TRY_LATER, FULL)
        return
    hearing = asyncio.create_task(_hear(hub, screen, socket))
    hearing.add_done_callback(lambda _: news.set())
    try:
        with suppress(WebSocketDisconnect, TimeoutError):
            await _tell(hub, screen, socket, news, hearing)
    finally:
        hub.leave(screen)
        hearing.cancel()
        with suppress(asyncio.CancelledError):
            await hearing


def _soon(loop: asyncio.AbstractEventLoop, news: asyncio.Event) -> None:
    loop.call_soon_threadsafe(news.set)


async def _tell(
    hub: Hub,
    screen: PageScreen,
    socket: WebSocket,
    news: asyncio.Event,
    hearing: "asyncio.Task[None]",
) -> None:
    """Send what there is, as fast as this screen takes it and no faster.

    Raises:
        TimeoutError: it takes nothing.
        WebSocketDisconnect: it has gone.
    """
    while not hearing.done():
        news.clear()
        for text in hub.texts_for(screen):
            await _within(socket.send_text(text))
        if screen.is_over:
            await _within(socket.close(GOING_AWAY, "The bench program has ended."))
            return
        with suppress(TimeoutError):
            await asyncio.wait_for(news.wait(), LOOK_S)


async def _within(sending: Awaitable[None]) -> None:
    async with asyncio.timeout(SEND_WITHIN_S):
        await sending


async def _hear(hub: Hub, screen: PageScreen, socket: WebSocket) -> None:
    """Take what the screen sends until it goes."""
    while socket.client_state is WebSocketState.CONNECTED:
        message = await socket.receive()
        if message["type"] == "websocket.disconnect":
            return
        text = message.get("text")
        hub.heard(screen, message.get("bytes") or b"" if text is None else text)

"""What the page answers behind its door: files, records, the live connection."""

import json
from contextlib import contextmanager

import pytest
from starlette.testclient import TestClient, WebSocketDenialResponse
from starlette.websockets import WebSocketDisconnect

from daq.logbook.errors import LogbookError
from daq.page.app import PAGES, Sources, app_of
from daq.page.door import Door, File, Files, Listen, Tokens
from daq.page.errors import UnfitError
from daq.page.hub import MOST_SCREENS, Hub
from daq.page.messages import State, bench_message
from tests.daq.screen.bench_views import bench_view

HAND, VIEWER = "hand-token-hand-token", "viewer-token-viewer-t"
PAGE = "http://127.0.0.1:8420"
FILES = Files({name: File(name.encode(), "text/html", f'"{name}"') for name in PAGES.values()})


@pytest.fixture
def hub():
    return Hub()


@contextmanager
def client_of(hub, token=HAND, sources=None):
    door = Door(Listen(), Tokens(HAND, VIEWER))
    app = door.guard(app_of(hub, door, FILES, sources))
    with TestClient(app, base_url=PAGE, headers={"Origin": PAGE}) as client:
        if token is not None:
            assert client.get(f"/?t={token}").status_code == 200
        yield client


@pytest.mark.parametrize(("path", "name"), [*PAGES.items(), ("/static/job.html", "job.html")])
def test_every_page_is_its_file(hub, path, name):
    with client_of(hub) as client:
        path = path.replace("{uid}", "0190-ab")
        answer = client.get(path)
        assert (answer.status_code, answer.text) == (200, name)
        again = client.get(path, headers={"If-None-Match": answer.headers["etag"]})
        assert (again.status_code, again.content) == (304, b"")


@pytest.mark.parametrize("path", ["/nothing", "/static/nothing.js", "/static/hub.py", "/record/"])
def test_what_is_no_page_is_not_there(hub, path):
    with client_of(hub) as client:
        assert client.get(path).status_code == 404


def test_without_the_token_there_is_no_page_and_no_connection(hub):
    with client_of(hub, token=None) as client:
        for path in (*PAGES, "/static/job.html", "/api/records", "/api/engine.svg"):
            assert client.get(path).status_code in (401, 404)
        with pytest.raises(WebSocketDenialResponse) as denied, _live(client):
            pass
        assert denied.value.status_code == 401
    assert hub.screens == 0


def _records(query):
    if query.get("kind") == "none":
        raise UnfitError("there is no such kind")
    if query.get("kind") == "gone":
        raise LogbookError("shop.logbook")
    return {"records": [], "asked": dict(query)}


def test_records_are_asked_for_and_what_is_wrong_is_said(hub):
    sources = Sources(_records, {"a-1": {"uid": "a-1"}}.get, lambda: "<svg/>")
    with client_of(hub, sources=sources) as client:
        found = client.get("/api/records?q=rack+height&before=12")
        assert found.json()["asked"] == {"q": "rack height", "before": "12"}
        wrong = client.get("/api/records?kind=none")
        assert (wrong.status_code, wrong.json()) == (400, {"why": "there is no such kind"})
        gone = client.get("/api/records?kind=gone")
        assert gone.status_code == 503
        assert "shop.logbook" in gone.json()["why"]
        assert client.get("/api/record/a-1").json() == {"uid": "a-1"}
        assert client.get("/api/record/a-2").status_code == 404
        drawing = client.get("/api/engine.svg")
        assert drawing.headers["content-type"].startswith("image/svg+xml")
        assert drawing.text == "<svg/>"


def test_work_without_a_logbook_or_an_engine_says_so(hub):
    with client_of(hub) as client:
        for path in ("/api/records", "/api/record/a-1", "/api/engine.svg"):
            assert client.get(path).status_code == 404


@contextmanager
def _live(client):
    with client.websocket_connect("ws://127.0.0.1:8420/live", headers={"Origin": PAGE}) as live:
        yield live


def until(live, kind):
    """The next message of a kind; states come in between."""
    for _ in range(40):
        message = json.loads(live.receive_text())
        if message["kind"] == kind:
            return message
    raise AssertionError(f"no message of kind {kind!r} came")


def test_a_screen_is_shown_the_newest_state_at_once_and_its_wish_is_heard(hub):
    hub.publish(State(work="live", view=bench_message(bench_view("0.010")), place=("here",)))
    with client_of(hub) as client, _live(client) as live:
        state = until(live, "state")
        assert (state["v"], state["may_act"]) == (1, True)
        live.send_text(json.dumps({"v": 1, "do": "capture"}))
        live.send_text("{")
        assert "refused" in until(live, "refused")["kind"]
        assert hub.next_wish(("here",)).wish.do == "capture"
        assert hub.screens == 1
        hub.close("It has ended.")
        assert until(live, "bye")["why"] == "It has ended."
        with pytest.raises(WebSocketDisconnect) as left:
            live.receive_text()
        assert left.value.code == 1001
    assert hub.screens == 0


def test_a_viewer_sees_and_may_not_ask(hub):
    with client_of(hub, VIEWER) as client, _live(client) as live:
        assert until(live, "state")["may_act"] is False
        live.send_text(json.dumps({"v": 1, "do": "capture"}))
        assert until(live, "refused")["did"] == "capture"
        assert hub.next_wish(()) is None


def test_bytes_that_are_no_text_are_refused_and_the_connection_holds(hub):
    with client_of(hub) as client, _live(client) as live:
        live.send_bytes(b"\xff\x00")
        assert until(live, "refused")["why"]
        assert until(live, "state")


def test_one_screen_too_many_is_told_so(hub):
    for _ in range(MOST_SCREENS):
        hub.join(lambda: None, may_act=False)
    with client_of(hub) as client, _live(client) as live:
        assert "as many screens" in until(live, "bye")["why"]
        with pytest.raises(WebSocketDisconnect) as left:
            live.receive_text()
        assert left.value.code == 1013

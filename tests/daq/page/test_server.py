"""The running page: nobody waits for a screen that is slow, and it ends when it is told to."""

import json
import socket
import ssl
import threading
import time
from contextlib import contextmanager
from http.client import HTTPConnection, HTTPSConnection

import pytest
import uvicorn
from websockets.sync.client import connect

from daq.page.door import Listen, Tokens
from daq.page.errors import ListenError
from daq.page.hub import Hub
from daq.page.messages import State, bench_message
from daq.page.server import PageServer, Served
from tests.daq.page.door.pairs import MISSING, OPENSSL, make_pair
from tests.daq.screen.bench_views import bench_view

HAND, VIEWER = "hand-token-hand-token", "viewer-token-viewer-t"
LIMIT_S = 10.0


@contextmanager
def served(hub=None, **more):
    with PageServer(
        hub or Hub(), Served(listen=Listen(port=0), tokens=Tokens(HAND, VIEWER), **more)
    ) as server:
        yield server


def cookie_of(server, token=HAND):
    connection = HTTPConnection("127.0.0.1", server.listen.port, timeout=LIMIT_S)
    connection.request("GET", f"/?t={token}")
    answer = connection.getresponse()
    answer.read()
    connection.close()
    return answer.getheader("set-cookie").partition(";")[0]


@contextmanager
def screen_at(server, cookie, **more):
    place = f"127.0.0.1:{server.listen.port}"
    with connect(
        f"ws://{place}/live",
        additional_headers={"Cookie": cookie},
        origin=f"http://{place}",
        **more,
    ) as live:
        yield live


@contextmanager
def stuck_at(server, cookie):
    """A screen that has come in and reads nothing any more."""
    place = f"127.0.0.1:{server.listen.port}"
    with socket.socket() as connection:
        connection.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
        connection.settimeout(LIMIT_S)
        connection.connect(("127.0.0.1", server.listen.port))
        connection.sendall(
            f"GET /live HTTP/1.1\r\nHost: {place}\r\nOrigin: http://{place}\r\n"
            f"Cookie: {cookie}\r\nUpgrade: websocket\r\nConnection: Upgrade\r\n"
            "Sec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\nSec-WebSocket-Version: 13\r\n\r\n"
            .encode()
        )  # fmt: skip
        assert connection.recv(12) == b"HTTP/1.1 101"
        yield connection


def state(number):
    view = bench_message(bench_view("0.010", captured=number))
    return State(work="live", gauge="BENCH 3", view=view)


def number_of(text):
    return json.loads(text)["view"]["captured"]


def publish(hub, numbers):
    """States at 100 Hz, as from the loop."""
    pause = threading.Event()
    for number in numbers:
        hub.publish(state(number))
        pause.wait(0.01)


def test_a_screen_that_does_not_read_delays_nobody_and_gets_hardly_anything_old():
    hub, late_s, last = Hub(), [], 199

    def look(live):
        while (number := number_of(live.recv(timeout=LIMIT_S))) < last:
            late_s.append(time.monotonic() - sent_s.get(number, float("inf")))

    sent_s = {}
    with served(hub) as server:
        cookie = cookie_of(server)
        hub.publish(state(0))
        with stuck_at(server, cookie) as stuck, screen_at(server, cookie) as quick:
            looking = threading.Thread(target=look, args=(quick,))
            looking.start()
            pause = threading.Event()
            for number in range(1, last + 1):
                sent_s[number] = time.monotonic()
                hub.publish(state(number))
                pause.wait(0.01)
            # The first screen has had its last state by now; the loop waited for nobody.
            looking.join(LIMIT_S)
            assert not looking.is_alive()
            behind = _bytes_waiting(stuck, last)
    measured = sorted(each for each in late_s if each != float("inf"))
    assert len(measured) > last / 2
    assert measured[len(measured) // 2] < 0.05
    all_s = last * len(json.dumps(state(1).view))
    assert behind < all_s / 2


def _bytes_waiting(connection, newest):
    """How much had been handed over to a screen before it read on: what is older than now."""
    found, words = b"", f'"captured":{newest},'.encode()
    while words not in found:  # what comes after it is the newest
        more = connection.recv(65536)
        assert more, "it was let go before it read on"
        found += more
    return len(found)


def test_all_screens_are_told_why_it_ends_and_then_port_and_thread_are_free():
    hub = Hub()
    with served(hub) as server:
        cookie = cookie_of(server)
        with screen_at(server, cookie) as one, screen_at(server, cookie) as two:
            one.recv(timeout=LIMIT_S)
            two.recv(timeout=LIMIT_S)
            server.stop("It is time for lunch.")
            for live in (one, two):
                words = [json.loads(text) for text in live]
                assert words[-1] == {"v": 1, "kind": "bye", "why": "It is time for lunch."}
    assert not [each for each in threading.enumerate() if each.name == "bench page"]
    with socket.create_server(("127.0.0.1", server.listen.port)):
        pass


def test_a_screen_that_does_not_read_does_not_hold_up_the_end():
    hub = Hub()
    with served(hub) as server, stuck_at(server, cookie_of(server)):
        publish(hub, range(100))
        began_s = time.monotonic()
        server.stop("It has ended.")
        assert time.monotonic() - began_s < 2
    assert not [each for each in threading.enumerate() if each.name == "bench page"]


@pytest.mark.parametrize(
    ("listen", "words"),
    [
        (lambda port: Listen(port=port), "already"),
        (lambda _: Listen("192.0.2.1", 0), "no address of this machine"),
    ],
)
def test_where_it_cannot_be_served_that_is_said(listen, words):
    with (
        socket.create_server(("127.0.0.1", 0)) as taken,
        pytest.raises(ListenError, match=words),
        PageServer(Hub(), Served(listen=listen(taken.getsockname()[1]))),
    ):
        pass


def test_a_server_that_dies_says_so_and_leaves_the_loop_alone(monkeypatch):
    def dies(_server, sockets):
        raise OSError("no more files")

    monkeypatch.setattr(uvicorn.Server, "run", dies)
    hub = Hub()
    with served(hub) as server:
        assert "no more files" in server.trouble
        assert "goes on" in server.trouble
        hub.publish(state(1))


def test_while_it_runs_there_is_no_trouble_and_its_ways_in_open_it():
    with served() as server:
        assert server.trouble == ""
        assert server.ways_in() == (f"http://127.0.0.1:{server.listen.port}/?t={HAND}",)
        assert server.ways_to_look() == (f"http://127.0.0.1:{server.listen.port}/?t={VIEWER}",)
        assert cookie_of(server)
        assert cookie_of(server, VIEWER)


def test_without_a_token_to_look_there_is_no_way_to():
    with PageServer(Hub(), Served(listen=Listen(port=0), tokens=Tokens(HAND))) as server:
        assert server.ways_to_look() == ()


@pytest.mark.skipif(OPENSSL is None, reason=MISSING)
def test_by_tls_it_is_served_encrypted_and_says_so(tmp_path):
    cert, key = make_pair(tmp_path, names="IP:127.0.0.1")
    with served(certificate=(cert, key)) as server:
        assert server.is_encrypted
        assert server.ways_in()[0].startswith("https://")
        trust = ssl.create_default_context(cafile=str(cert))
        place = ("127.0.0.1", server.listen.port)
        connection = HTTPSConnection(*place, context=trust, timeout=LIMIT_S)
        connection.request("GET", f"/?t={HAND}")
        assert "Secure" in connection.getresponse().getheader("set-cookie")
        connection.close()

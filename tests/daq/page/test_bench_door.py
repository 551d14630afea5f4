"""What strangers try at the door of the bench command itself: nothing of it is in the logbook.

``door/test_door_probes.py`` tries more of it, at the door alone; here the page behind it is real.
"""

import json
import re
import sys
from contextlib import suppress
from dataclasses import dataclass
from urllib.parse import urlsplit

import pytest

from daq.logbook import Logbook, verify
from simulated_devices import Bench
from tests.daq.page.door.served import Served
from tests.end_to_end.bench_page import Program, Screen
from tests.end_to_end.road import steady

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminals")

WANTED = ("--nominal", "12.30 mm", "--limits", "± 0.05 mm", "--source", "sheet 1", "--when", "key")
PAGES = ("/", "/job", "/calibration", "/logbook", "/record/1")
EVERYTHING = (
    "capture", "confirm", "go", "back", "anew", "again", "skip", "stand", "insist", "adjusted",
    "not adjusted", "choose",
)  # fmt: skip
CAPTURE = json.dumps({"v": 1, "do": "capture"})

POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; font-src 'self'; "
    "base-uri 'none'; form-action 'none'; frame-ancestors 'none'; connect-src 'self'"
)


@dataclass
class Running:
    """The command at work, with a gauge at rest and one capture in its logbook."""

    at: Served
    book: object
    hand: Screen
    viewer: Screen

    def live(self, who, **more):
        return self.at.live(cookie=who.cookie, **more)

    def kept(self):
        with Logbook.read(self.book) as reader:
            return reader.last().sequence


@pytest.fixture(scope="module", params=["127.0.0.1:0", "0.0.0.0:0"], ids=["here", "network"])
def running(request, tmp_path_factory):
    book = tmp_path_factory.mktemp("door") / "a.logbook"
    with Bench({"gauge": (steady("decimal-line"), None)}) as bench:
        words = (f"decimal-line@{bench.ports['gauge']}", "--logbook", book, *WANTED, "--viewers")
        with Program("live", *words, listen=request.param) as program:
            hand, viewer = ways_in(program)
            with hand.live():
                hand.until_state(lambda m: m["view"] is not None and m["view"]["at_rest"])
                hand.ask("capture")
                hand.until_state(lambda m: m["view"]["captured"] == 1)
            yield Running(Served(None, hand.parts.port), book, hand, viewer)
            program.stop()
    assert verify(book).intact


def ways_in(program):
    """A hand and a viewer, both by 127.0.0.1, whatever other addresses the program says."""
    found = []
    for line in program.process.stderr:
        found += re.findall(r"http://127\.0\.0\.1:\S+", line)
        if len(found) == 2:
            return [Screen(each) for each in found]
    raise AssertionError(f"it did not say its addresses: {found}")


@pytest.fixture
def nothing_kept(running):
    """What the test tries leaves the logbook as it was, and a hand still captures afterwards."""
    before = running.kept()
    yield
    assert running.kept() == before
    hand = running.hand
    with hand.live():
        captured = hand.until_state(lambda m: m["view"]["at_rest"])["view"]["captured"]
        hand.ask("capture")
        hand.until_state(lambda m: m["view"]["captured"] == captured + 1)
    assert running.kept() == before + 1


def said_to(live, payload, opcode=1):
    """What is refused of one message; states that come meanwhile are passed over."""
    live.send(payload, opcode)
    for _ in range(100):
        kind, text = live.receive()
        assert kind in (1, 9), (kind, text)  # 9: whether anybody is still there
        message = json.loads(text) if kind == 1 else {"kind": ""}
        if message["kind"] == "refused":
            return message
    raise AssertionError("it was not refused")


def code_of_close(live):
    for _ in range(100):
        kind, said = live.receive()
        if kind == 8:
            return int.from_bytes(said[:2], "big")
    raise AssertionError("it was not closed")


def test_every_kind_of_answer_says_what_the_browser_may_load(running):
    at, hand = running.at, running.hand.cookie
    etag = at.get("/static/job.js", cookie=hand).header("etag")
    answers = [
        *((200, at.get(page, cookie=hand)) for page in PAGES),
        *((200, at.get(f"/static/{name}", cookie=hand)) for name in ("job.js", "work.css")),
        (200, at.get("/static/icon.svg", cookie=hand)),
        (304, at.get("/static/job.js", cookie=hand, If_None_Match=etag)),
        (200, at.get("/api/records", cookie=hand)),
        (200, at.get("/api/record/1", cookie=hand)),
        (400, at.get("/api/records?kind=no-such", cookie=hand)),
        (404, at.get("/api/record/999999", cookie=hand)),
        (404, at.get("/api/engine.svg", cookie=hand)),
        (404, at.get("/static/nothing.js", cookie=hand)),
        (404, at.get("/nothing", cookie=hand)),
        (404, at.get("/live", cookie=hand)),
        (200, at.get("/", method="HEAD", cookie=hand)),
        (303, at.get(f"/?{urlsplit(running.hand.address).query}")),
        (401, at.get("/")),
        (403, at.get("/", cookie=hand, Origin="null")),
        (405, at.get("/", method="POST", cookie=hand)),
        (413, at.get("/", cookie=hand, Content_Length="1")),
        (414, at.get("/?" + "x" * 3000, cookie=hand)),
    ]
    for status, answer in answers:
        assert answer.status == status, answer.raw[:300]
        assert answer.header("content-security-policy") == f"{POLICY} ws://{at.host}"
        assert answer.header("x-content-type-options") == "nosniff"
        assert answer.header("cross-origin-resource-policy") == "same-origin"
        assert answer.header("access-control-allow-origin") is None
    foreign = at.get("/", host="evil.example", cookie=hand)
    assert (foreign.status, foreign.header("content-security-policy")) == (421, POLICY)
    with running.live(running.hand) as (answer, _):
        assert answer.status == 101
        assert answer.header("content-security-policy") == f"{POLICY} ws://{at.host}"


@pytest.mark.usefixtures("nothing_kept")
@pytest.mark.parametrize("origin", ["{own}", "http://evil.example", "null", None])
@pytest.mark.parametrize("method", ["POST", "PUT", "PATCH", "DELETE"])
def test_nothing_is_written_by_a_request_whoever_sends_it(running, method, origin):
    at = running.at
    said = {} if origin is None else {"Origin": origin.format(own=at.origin)}
    for path in ("/", "/live", "/api/records", "/api/record/1"):
        answer = at.get(path, method=method, cookie=running.hand.cookie, **said)
        assert answer.status in (403, 405)
        assert answer.header("allow") in ("GET, HEAD", None)


@pytest.mark.usefixtures("nothing_kept")
@pytest.mark.parametrize(
    "origin", [None, "null", "http://evil.example", "http://localhost:{port}", "https://{host}", "file://"]
)  # fmt: skip
def test_a_live_connection_of_a_foreign_page_or_of_none_is_refused(running, origin):
    at = running.at
    named = None if origin is None else origin.format(port=at.port, host=at.host)
    with running.live(running.hand, origin=named) as (answer, _):
        assert answer.status == 403
        assert b'"kind"' not in answer.body


@pytest.mark.usefixtures("nothing_kept")
@pytest.mark.parametrize(
    "host",
    ["evil.example:{port}", "127.0.0.1.evil.example:{port}", "127.0.0.1", "192.0.2.7:{port}"],
)
def test_under_a_foreign_host_nothing_is_answered(running, host):
    at = running.at
    named = host.format(port=at.port)
    for path in ("/", "/api/records", "/static/job.js", "/live"):
        answer = at.get(path, host=named, cookie=running.hand.cookie)
        assert answer.status == 421
    with running.live(running.hand, Host=named, origin=f"http://{named}") as (answer, _):
        assert answer.status == 421


@pytest.mark.usefixtures("nothing_kept")
def test_without_a_token_or_with_a_wrong_one_nobody_comes_in(running):
    at = running.at
    for path in (*PAGES, "/static/job.js", "/api/records", "/api/record/1", "/api/engine.svg"):
        answer = at.get(path)
        assert answer.status == 401
        assert b"decimal-line" not in answer.raw
    for cookie in (None, f"restpoint-{at.port}=hand.9999999999.{'0' * 64}"):
        with at.live(cookie=cookie) as (answer, _):
            assert answer.status == 401
    token = urlsplit(running.hand.address).query.removeprefix("t=")
    for wrong in (token[:-1], token.swapcase(), ""):
        answer = at.get(f"/?t={wrong}")
        assert (answer.status, answer.header("set-cookie")) == (401, None)
    with at.live(cookie=f"restpoint-{at.port}={token}") as (answer, _):
        assert answer.status == 401


@pytest.mark.usefixtures("nothing_kept")
def test_a_viewer_is_refused_whatever_is_asked_for(running):
    with running.live(running.viewer) as (answer, live):
        assert answer.status == 101
        for do in EVERYTHING:
            asked = {"v": 1, "do": do, "reason": "because", "by": "R. Ahlers", "figures": ["20.1"]}
            said = said_to(live, json.dumps(asked).encode())
            assert (said["did"], said["why"]) == (do, "This screen may only look on.")
        for forged in ({"may_act": True}, {"role": "hand"}):
            said_to(live, json.dumps({"v": 1, "do": "capture", **forged}).encode())
    forged = running.viewer.cookie.replace("viewer", "hand")
    with running.at.live(cookie=forged) as (answer, _):
        assert answer.status == 401


@pytest.mark.usefixtures("nothing_kept")
@pytest.mark.parametrize(
    ("payload", "opcode"),
    [
        (b"", 1),
        (b"capture", 1),
        (b"null", 1),
        (b"[" * 2000, 1),
        (b'{"v":1,"do":' + b'{"a":' * 300 + b"1" + b"}" * 301, 1),
        (b'{"v":1,"do":"capture","n":' + b"9" * 1500 + b"}", 1),
        (b'{"v":1,"do":"capture","n":-1}', 1),
        (b'{"v":1,"do":"capture","n":1e400}', 1),
        (b'{"v":true,"do":"capture"}', 1),
        (b'{"v":1,"do":"capture","gauge":7}', 1),
        (b'{"v":1,"do":"capture","reason":"\\ud800"}', 1),
        (b'{"v":1,"do":"capture","reason":"a\\u0000b"}', 1),
        (b'{"v":1,"do":"skip","reason":"' + b"x" * 2100 + b'"}', 1),
        (b'{"v":1,"do":"capture"', 1),
        (b'{"v":1,"do":"capture"}{"v":1,"do":"capture"}', 1),
        (b"\x00\x01\x02", 2),
        (b"\xff\xfe\xfd", 2),
        (b"\x00" * 2100, 2),
    ],
)
def test_a_message_that_is_none_is_refused_with_the_reason(running, payload, opcode):
    with running.live(running.hand) as (_, live):
        said = said_to(live, payload, opcode)
        assert said["why"]
        assert len(said["why"]) < 200


@pytest.mark.usefixtures("nothing_kept")
@pytest.mark.parametrize(
    ("payload", "size", "code"),
    [(CAPTURE.encode() + b" " * 6000, None, 1009), (b"x", 2**40, 1009), (b"\xff\xfe", None, 1007)],
)
def test_a_message_that_is_too_long_or_no_text_ends_the_connection(running, payload, size, code):
    with running.live(running.hand) as (_, live):
        with suppress(ConnectionError):
            live.send(payload, size=size)
        assert code_of_close(live) == code


def test_a_message_in_bytes_counts_as_the_same_message_in_text(running):
    """Nothing is gained by it: it goes by the same role and the same form."""
    before = running.kept()
    with running.live(running.viewer) as (_, live):
        assert said_to(live, CAPTURE.encode(), 2)["why"] == "This screen may only look on."
    assert running.kept() == before


@pytest.mark.parametrize(
    "target",
    [
        "/static/../server.py",
        "/static/%2e%2e/server.py",
        "/static/%2e%2e%2fserver.py",
        "/static/..%2f..%2f..%2f..%2f..%2fetc%2fpasswd",
        "/static/%252e%252e%252fserver.py",
        "/static/..%5cserver.py",
        "/static//etc/passwd",
        "/static/%2fetc%2fpasswd",
        "/record/../../etc/passwd",
        "/api/record/..%2f..%2fa.logbook",
        "/../a.logbook",
        "/%2e%2e/%2e%2e/etc/passwd",
        "//etc/passwd",
        "/etc/passwd",
        "/static/",
        "/static",
        "/api/",
    ],
)
def test_no_path_leads_to_a_file_that_is_not_the_pages(running, target):
    answer = running.at.get(target, cookie=running.hand.cookie)
    assert answer.status in (404, 405)
    for what in (b"root:", b"import", b"SQLite", b"passwd", b"server.py"):
        assert what not in answer.body


def test_the_words_of_a_search_are_words_and_no_question_to_the_store(running):
    at, cookie = running.at, running.hand.cookie
    for words in (
        "x%27%20OR%201=1--",
        "decimal%25",
        "decimal_line",
        "%27;DROP%20TABLE%20records;--",
    ):
        found = json.loads(at.get(f"/api/records?q={words}", cookie=cookie).body)
        assert found["records"] == []
    assert json.loads(at.get("/api/records", cookie=cookie).body)["records"]


@pytest.fixture(scope="module")
def guessed_at(tmp_path_factory):
    """A bench of its own: who has guessed too often waits there."""
    book = tmp_path_factory.mktemp("guessed") / "a.logbook"
    with Program(
        "live", "decimal-line@/dev/none", "--logbook", book, listen="0.0.0.0:0"
    ) as program:
        address, *_ = program.addresses(1)
        yield Served(None, urlsplit(address).port)
        program.stop()


def test_who_guesses_tokens_waits(guessed_at):
    statuses = [guessed_at.get(f"/?t={'guess' * 5}{n}").status for n in range(8)]
    assert statuses == [401] * 5 + [429] * 3

"""What strangers try at the door, byte for byte, against a real server on loopback."""

import json
import logging

import pytest

from .served import HAND, VIEWER, served
from .test_origin import FOREIGN

SCRIPT = "<script>alert(1)</script>"


@pytest.fixture(scope="module")
def at():
    with served() as running:
        yield running


@pytest.fixture(scope="module")
def hand(at):
    return at.sign_in(HAND)


@pytest.fixture(scope="module")
def viewer(at):
    return at.sign_in(VIEWER)


@pytest.fixture
def nothing_passes(at):
    """What the test asks for never reaches the page."""
    at.page.seen.clear()
    at.page.captures.clear()
    yield
    assert at.page.seen == []
    assert at.page.captures == []


def test_with_the_token_one_comes_in_and_the_address_is_free_of_it(at):
    answer = at.get(f"/?t={HAND}")
    assert (answer.status, answer.header("location"), answer.body) == (303, "/", b"")
    assert answer.header("referrer-policy") == "no-referrer"
    assert answer.header("cache-control") == "no-store"
    cookie = answer.header("set-cookie")
    assert "HttpOnly" in cookie
    assert "SameSite=Strict" in cookie
    assert HAND.encode() not in answer.raw
    at.page.seen.clear()
    assert at.get("/", cookie=cookie.partition(";")[0]).body == b"role: hand"
    assert at.page.seen == [("/", "")]


def test_the_viewers_token_brings_a_viewer(at, viewer):
    assert at.get("/", cookie=viewer).body == b"role: viewer"


@pytest.mark.usefixtures("nothing_passes")
@pytest.mark.parametrize("path", ["/", "/live", "/static/live.js", "/api/record/1", "/nothing"])
def test_without_a_token_nothing_is_answered_but_what_to_do(at, path):
    answer = at.get(path)
    assert answer.status == 401
    assert b"whole address that the program shows" in answer.body
    assert b'<a href="/">' in answer.body


@pytest.mark.usefixtures("nothing_passes")
@pytest.mark.parametrize(
    "target", [f"/api/record/1?t={HAND}", f"/static/live.js?t={HAND}", f"/;t={HAND}", f"/#t={HAND}"]
)
def test_a_token_opens_nothing_in_another_place(at, target):
    assert at.get(target).status in (400, 401)


@pytest.mark.usefixtures("nothing_passes")
def test_a_token_in_a_header_opens_nothing(at):
    assert at.get("/", Authorization=f"Bearer {HAND}").status == 401
    assert at.get("/", cookie=f"restpoint-{at.port}={HAND}").status == 401


@pytest.mark.usefixtures("nothing_passes")
@pytest.mark.parametrize(
    "host",
    [
        "evil.example",
        "evil.example:{port}",
        "localhost.evil.example:{port}",
        "127.0.0.1",
        "127.0.0.1:1",
        "127.0.0.2:{port}",
        "[::ffff:7f00:1]:{port}",
        "0.0.0.0:{port}",
    ],
)
def test_under_a_foreign_host_even_the_right_token_and_cookie_open_nothing(at, hand, host):
    """This is what stops a name that is rebound to this machine."""
    host = host.format(port=at.port)
    for target in ("/", f"/?t={HAND}"):
        answer = at.get(target, host=host, cookie=hand)
        assert answer.status == 421
        assert b"--host" in answer.body
        assert b"evil" not in answer.raw
        assert answer.header("set-cookie") is None


@pytest.mark.parametrize("host", ["LOCALHOST:{port}", "localhost.:{port}", "[::1]:{port}"])
def test_under_this_machines_own_names_it_answers(at, hand, host):
    assert at.get("/", host=host.format(port=at.port), cookie=hand).status == 200


@pytest.mark.usefixtures("nothing_passes")
@pytest.mark.parametrize(
    "host", ["127.1:{port}", "user@127.0.0.1:{port}", "127.0.0.1:{port}, evil.example", SCRIPT, ""]
)
def test_a_host_that_is_none_is_refused(at, hand, host):
    answer = at.get("/", host=host.format(port=at.port), cookie=hand)
    assert answer.status == 400
    assert SCRIPT.encode() not in answer.raw


@pytest.mark.usefixtures("nothing_passes")
@pytest.mark.parametrize(
    "hosts", [[], ["{own}", "evil.example"], ["evil.example", "{own}"], ["{own}"] * 2]
)
def test_no_host_or_two_hosts_are_refused(at, hand, hosts):
    hosts = [each.format(own=at.host) for each in hosts]
    assert at.get("/", host=hosts, cookie=hand).status == 400


@pytest.mark.usefixtures("nothing_passes")
@pytest.mark.parametrize("host", ["{own}\r\n evil.example", "\r\n {own}\r\n evil.example"])
def test_a_host_on_several_lines_is_refused(at, hand, host):
    assert at.get("/", host=host.format(own=at.host), cookie=hand).status == 400


@pytest.mark.usefixtures("nothing_passes")
def test_an_old_request_without_a_host_is_refused(at, hand):
    assert at.send(f"GET / HTTP/1.0\r\nCookie: {hand}\r\n\r\n".encode()).status == 400


@pytest.mark.usefixtures("nothing_passes")
@pytest.mark.parametrize(
    "target", ["http://evil.example/", "http://{own}/", "//evil.example/", "*", "evil.example:80"]
)
def test_a_target_that_names_a_host_of_its_own_is_refused(at, hand, target):
    answer = at.get(target.format(own=at.host), cookie=hand)
    assert answer.status in (400, 404)
    assert b"evil" not in answer.raw


@pytest.mark.usefixtures("nothing_passes")
@pytest.mark.parametrize("origin", [each for each in FOREIGN if each] + ["http://evil.example"])
def test_a_page_of_another_origin_reads_nothing(at, hand, origin):
    answer = at.get("/api/record/1", cookie=hand, Origin=origin)
    assert answer.status == 403
    assert answer.header("access-control-allow-origin") is None


def test_the_page_itself_reads_what_it_needs(at, hand):
    assert at.get("/api/record/1", cookie=hand, Origin=at.origin).status == 200
    assert at.get("/api/record/1", cookie=hand, Sec_Fetch_Site="same-origin").status == 200


@pytest.mark.usefixtures("nothing_passes")
@pytest.mark.parametrize("site", ["cross-site", "same-site"])
def test_another_sites_page_cannot_put_ours_into_itself(at, hand, site):
    for dest in ("image", "script", "iframe", "empty"):
        answer = at.get("/", cookie=hand, Sec_Fetch_Site=site, Sec_Fetch_Dest=dest)
        assert answer.status == 403


@pytest.mark.parametrize(
    "origin", [None, *(each for each in FOREIGN if each), "http://evil.example", "http://127.0.0.1"]
)
def test_a_live_connection_of_another_origin_or_of_none_is_refused(at, hand, origin):
    at.page.seen.clear()
    with at.live(cookie=hand, origin=origin) as (answer, _):
        assert answer.status == 403
    assert at.page.seen == []


def test_a_page_on_another_port_of_this_machine_gets_no_live_connection(at, hand):
    """Browsers send it the cookie: cookies know no ports."""
    with at.live(cookie=hand, origin=f"http://127.0.0.1:{at.port + 1}") as (answer, _):
        assert answer.status == 403


def test_a_live_connection_under_a_foreign_host_is_refused(at, hand):
    """Host and Origin agree with each other, as they do after a rebinding."""
    evil = f"evil.example:{at.port}"
    at.page.seen.clear()
    with at.live(cookie=hand, Host=evil, origin=f"http://{evil}") as (answer, _):
        assert answer.status == 421
    assert at.page.seen == []


def test_a_live_connection_without_a_cookie_or_with_a_token_alone_is_refused(at):
    at.page.seen.clear()
    with at.live() as (answer, _):
        assert answer.status == 401
    with at.live(cookie=f"restpoint-{at.port}={HAND}") as (answer, _):
        assert answer.status == 401
    assert at.page.seen == []


def test_the_hand_captures_and_a_viewer_does_not(at, hand, viewer):
    at.page.captures.clear()
    capture = json.dumps({"v": 1, "do": "capture"})
    with at.live(cookie=viewer) as (answer, live):
        assert answer.status == 101
        said = json.loads(live.ask(capture)[1])
        assert (said["kind"], said["did"]) == ("refused", "capture")
    assert at.page.captures == []
    with at.live(cookie=hand) as (answer, live):
        assert json.loads(live.ask(capture)[1])["kind"] == "done"
    assert at.page.captures == ["capture"]


def test_a_viewer_cannot_name_itself_a_hand(at, viewer):
    forged = viewer.replace("viewer", "hand")
    assert at.get("/", cookie=forged).status == 401
    assert at.get("/?role=hand", cookie=viewer, Role="hand").body == b"role: viewer"


@pytest.mark.parametrize(
    "text",
    [
        "",
        "capture",
        "[]",
        "null",
        '{"v":1}',
        '{"v":2,"do":"capture"}',
        '{"v":1,"do":"capture","role":"hand"}',
        '{"v":1,"do":"quit"}',
        '{"v":1,"do":"capture","n":NaN}',
        '{"v":1,"do":"capture","n":1e400}',
        '{"v":1,"do":["capture"]}',
        '{"v":1,"do":"capture"',
        "[" * 1500,
        '{"v":1,"do":"skip","reason":"' + "x" * 2100 + '"}',
    ],
)
def test_a_malformed_message_is_answered_with_what_is_wrong(at, hand, text):
    at.page.captures.clear()
    with at.live(cookie=hand) as (_, live):
        assert json.loads(live.ask(text)[1])["kind"] == "refused"
        assert json.loads(live.ask('{"v":1,"do":"capture"}')[1])["kind"] == "done"
    assert at.page.captures == ["capture"]


def code_of_close(live):
    opcode, said = live.receive()
    assert opcode == 8
    return int.from_bytes(said[:2], "big")


@pytest.mark.parametrize("size", [5000, 70_000, 2**40])
def test_a_message_that_says_it_is_long_ends_the_connection_before_it_comes(at, hand, size):
    with at.live(cookie=hand) as (_, live):
        live.send(b"x", size=size)
        assert code_of_close(live) == 1009


def test_a_long_message_in_many_short_frames_ends_the_connection_too(at, hand):
    with at.live(cookie=hand) as (_, live):
        live.send(b"x" * 1000, is_last=False)
        for _ in range(4):
            live.send(b"x" * 1000, opcode=0, is_last=False)
        assert code_of_close(live) == 1009


def test_bytes_that_are_no_text_end_the_connection(at, hand):
    with at.live(cookie=hand) as (_, live):
        live.send(b"\xff\xfe")
        assert code_of_close(live) == 1007


@pytest.mark.usefixtures("nothing_passes")
@pytest.mark.parametrize(
    "target",
    [
        "/static/../secret",
        "/static/..",
        "/static/./live.js",
        "/static//live.js",
        "/static/%2e%2e/secret",
        "/static/%2e%2e%2fsecret",
        "/static/%252e%252e%252fsecret",
        "/static/..%5csecret",
        "/static/..\\secret",
        "/static/%00live.js",
        "/static/live.js%00.css",
        "/static/..%c0%afsecret",
        "/static/%u002e%u002e/secret",
        "/static/live.js/",
        "/static/;/live.js",
        "/static/live%2ejs",
        "/%73tatic/live.js",
        "/../../etc/passwd",
        "/static/C:/secret",
        f"/{SCRIPT}",
        "/" + SCRIPT.replace("<", "%3C").replace(">", "%3E"),
    ],
)
def test_a_path_that_leads_elsewhere_leads_nowhere(at, hand, target):
    answer = at.get(target, cookie=hand)
    assert answer.status == 404
    assert b"script>alert" not in answer.body
    assert b"secret" not in answer.body


@pytest.mark.usefixtures("nothing_passes")
@pytest.mark.parametrize("raw", [b"/\x00", b"/a b", b"/\xc3\xa9", b"/\x7f", b"/a\tb"])
def test_bytes_that_no_target_has_are_refused(at, hand, raw):
    head = b"GET " + raw + b" HTTP/1.1\r\nHost: " + at.host.encode()
    answer = at.send(head + b"\r\nCookie: " + hand.encode() + b"\r\nConnection: close\r\n\r\n")
    assert answer.status in (400, 404)


@pytest.mark.usefixtures("nothing_passes")
@pytest.mark.parametrize(
    "method", ["POST", "PUT", "DELETE", "PATCH", "OPTIONS", "TRACE", "CONNECT", "get", "PROPFIND"]
)
def test_no_other_method_is_taken_and_no_other_site_is_given_leave(at, hand, method):
    answer = at.get("/", method=method, cookie=hand, Access_Control_Request_Private_Network="true")
    assert (answer.status, answer.header("allow")) == (405, "GET, HEAD")
    assert not [name for name, _ in answer.headers if name.startswith("access-control")]


@pytest.mark.usefixtures("nothing_passes")
@pytest.mark.parametrize(
    "framing",
    [
        "Content-Length: 5\r\n\r\nhello",
        "Content-Length: 9999999999\r\n\r\n",
        "Transfer-Encoding: chunked\r\n\r\n5\r\nhello\r\n0\r\n\r\n",
        "Content-Length: 5\r\nTransfer-Encoding: chunked\r\n\r\n0\r\n\r\nhello",
        "Content-Length: 5\r\nContent-Length: 6\r\n\r\nhello!",
        "Content-Length: +5\r\n\r\nhello",
        "Transfer-Encoding: xchunked\r\n\r\n",
        "Transfer-Encoding : chunked\r\n\r\n",
        "Content-Length: 0\r\nTransfer-Encoding: chunked\r\n\r\n0\r\n\r\n",
    ],
)
def test_no_body_is_taken_however_it_is_framed_and_nothing_after_it_is_read(at, hand, framing):
    smuggled = f"GET / HTTP/1.1\r\nHost: {at.host}\r\nCookie: {hand}\r\n\r\n"
    head = f"GET / HTTP/1.1\r\nHost: {at.host}\r\nCookie: {hand}\r\n"
    answer = at.send((head + framing + smuggled).encode())
    assert answer.status in (400, 413, 501)
    assert answer.raw.count(b"HTTP/1.1 ") == 1


@pytest.mark.usefixtures("nothing_passes")
def test_too_long_an_address_or_head_is_refused(at, hand):
    assert at.get("/" + "x" * 3000, cookie=hand).status == 414
    assert at.get("/?" + "x" * 3000, cookie=hand).status == 414
    for size in (9_000, 20_000):
        assert at.get("/", cookie=hand, X_Long="x" * size).status in (400, 431)
    many = {f"X_{n}": "x" for n in range(2000)}
    assert at.get("/", cookie=hand, **many).status in (400, 431)


@pytest.mark.usefixtures("nothing_passes")
@pytest.mark.parametrize("start", [b"GET /", b"GET / HTTP/1.1\r\nX: ", b"\x16\x03\x01", b"\r\n"])
def test_a_head_without_an_end_is_cut_off_and_others_are_answered(at, start):
    found = at.send_anything(start + b"x" * 1_000_000)
    assert not found or b" 400 " in found
    assert at.get("/").status == 401


def test_a_page_that_is_not_there_is_said_so_without_repeating_its_name(at, hand):
    answer = at.get("/no-such-page", cookie=hand)
    assert answer.status == 404
    assert b"no-such-page" not in answer.raw


def test_every_answer_says_what_the_browser_must_not_do(at, hand):
    answers = {
        200: at.get("/", cookie=hand),
        303: at.get(f"/?t={HAND}"),
        401: at.get("/"),
        403: at.get("/", cookie=hand, Origin="null"),
        404: at.get("/nothing", cookie=hand),
        405: at.get("/", method="POST"),
        413: at.get("/", Content_Length="1"),
        421: at.get("/", host="evil.example"),
    }
    for status, answer in answers.items():
        assert answer.status == status
        assert answer.header("x-content-type-options") == "nosniff"
        assert answer.header("referrer-policy") == "no-referrer"
        assert answer.header("cache-control") == "no-store"
        assert answer.header("cross-origin-opener-policy") == "same-origin"
        assert answer.header("cross-origin-resource-policy") == "same-origin"
        assert "camera=()" in answer.header("permissions-policy")
        assert answer.header("server") is None
        policy = dict(
            each.split(" ", 1) for each in answer.header("content-security-policy").split("; ")
        )
        live = "" if status == 421 else f" ws://{at.host}"
        assert policy == {
            "default-src": "'none'",
            "script-src": "'self'",
            "style-src": "'self'",
            "img-src": "'self'",
            "font-src": "'self'",
            "connect-src": f"'self'{live}",
            "base-uri": "'none'",
            "form-action": "'none'",
            "frame-ancestors": "'none'",
        }


def test_a_refused_live_connection_says_the_same(at):
    with at.live(origin=None) as (answer, _):
        assert answer.header("content-security-policy").startswith("default-src 'none'")
        assert b"Open it in a browser" in answer.body


def test_a_page_cannot_say_otherwise_by_mistake(at, hand):
    answer = at.get("/api/headers", cookie=hand)
    assert answer.header("content-security-policy").startswith("default-src 'none'")
    assert answer.header("cache-control") == "no-store"
    assert answer.header("access-control-allow-origin") is None
    assert answer.header("x-frame-options") == "DENY"


def test_a_static_file_may_be_kept_if_it_is_asked_for_again(at, hand):
    answer = at.get("/static/live.js", cookie=hand)
    assert (answer.status, answer.header("cache-control")) == (200, "private, no-cache")
    assert answer.header("content-type") == "text/javascript; charset=utf-8"
    again = at.get("/static/live.js", cookie=hand, If_None_Match=answer.header("etag"))
    assert (again.status, again.body) == (304, b"")


def test_head_is_answered_without_a_body(at, hand):
    assert at.get("/", method="HEAD", cookie=hand).body == b""
    refused = at.get("/", method="HEAD")
    assert (refused.status, refused.body) == (401, b"")


@pytest.mark.parametrize(
    "target", [f"/?t={HAND}", f"/?%74={HAND}", f"/?a=1&t={HAND}x", f"/live?t={HAND}"]
)
def test_no_log_has_the_token_even_where_the_server_logs_everything(caplog, target):
    caplog.set_level(logging.DEBUG)
    with served(access_log=True, log_level="trace") as running:
        running.get(target)
        with running.live() as (answer, _):
            assert answer.status == 401
    assert "GET" in caplog.text
    assert HAND not in caplog.text


def test_a_program_on_this_machine_cannot_speak_for_another(at, hand):
    forwarded = {"X_Forwarded_For": "10.0.0.1", "X_Forwarded_Proto": "https"}
    own = at.get("/", cookie=hand, Origin=at.origin, **forwarded)
    assert own.status == 200
    told = at.get(
        "/", cookie=hand, Origin=f"https://{at.host}", X_Forwarded_Host="evil.example", **forwarded
    )
    assert told.status == 403


def test_wrong_tokens_are_slowed_down_and_those_who_are_in_stay_in():
    with served() as running:
        cookie = running.sign_in()
        statuses = [running.get(f"/?t={'wrong' * 4}{n}").status for n in range(8)]
        assert statuses == [401] * 5 + [429] * 3
        late = running.get(f"/?t={HAND}")
        assert (late.status, late.header("set-cookie")) == (429, None)
        assert 1 <= int(late.header("retry-after")) <= 10
        assert running.get("/", cookie=cookie).status == 200
        assert running.get("/").status == 401


def test_the_cookie_of_another_page_on_this_machine_opens_nothing(hand):
    with served() as other:
        assert other.get("/", cookie=hand).status == 401

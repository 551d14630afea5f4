"""A page of another site in the same browser, with the cookie in it, gets nothing of the bench."""

import re
import threading
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer

import pytest

from daq.logbook import Logbook
from tests.browser.browser import until
from tests.browser.live_page import BY_KEY, at_rest
from tests.end_to_end.road import steady

TRIES = """async ([http, ws, token]) => {
  const opened = (address) => new Promise((done) => {
    const socket = new WebSocket(address);
    socket.onopen = () => {
      socket.send(JSON.stringify({ v: 1, do: "capture" }));
      done("open");
    };
    socket.onerror = () => done("refused");
  });
  const read = (path, how) => fetch(http + path, how).then((answer) => answer.text(), () => "refused");
  const framed = (path) => new Promise((done) => {
    const frame = document.createElement("iframe");
    frame.onload = () => done("loaded");
    frame.src = http + path;
    document.body.append(frame);
  });
  const taken = (kind, path) => new Promise((done) => {
    const element = document.createElement(kind);
    element.onload = () => done("loaded");
    element.onerror = () => done("refused");
    element.src = http + path;
    document.body.append(element);
  });
  return {
    live: await opened(ws + "/live"),
    withToken: await opened(`${ws}/live?${token}`),
    records: await read("/api/records", { credentials: "include" }),
    posted: await read("/", { method: "POST", credentials: "include", body: "capture" }),
    script: await taken("script", "/static/live.js"),
    picture: await taken("img", "/static/icon.svg"),
    frame: await framed("/"),
    drawing: await framed("/api/engine.svg"),
  };
}"""  # noqa: E501

NOT_SHOWN = re.compile("^chrome-error:")


class Elsewhere(BaseHTTPRequestHandler):
    """A page of another site: an empty one."""

    def do_GET(self):
        body = b"<!doctype html><title>elsewhere</title><body>"
        self.send_response(200)
        self.send_header("Content-Type", "text/html")
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        self.wfile.write(body)

    def log_message(self, *_):
        """Nothing is said of it."""


@contextmanager
def elsewhere():
    server = ThreadingHTTPServer(("127.0.0.1", 0), Elsewhere)
    serving = threading.Thread(target=server.serve_forever, args=(0.05,), daemon=True)
    serving.start()
    try:
        yield server.server_address[1]
    finally:
        server.shutdown()
        server.server_close()
        serving.join(10)


@pytest.mark.parametrize("host", ["127.0.0.1", "localhost"])
def test_it_opens_no_live_connection_reads_nothing_and_shows_nothing_in_a_frame(
    bench_live, open_page, host
):
    _, program, book = bench_live({"gauge": (steady("decimal-line"), None)}, *BY_KEY)
    (address,) = program.addresses()
    page = open_page(address)
    at_rest(page)
    own = page.watched.origin
    assert page.context.cookies(own)  # another port of this host gets it too
    with elsewhere() as port:
        foreign = page.context.new_page()
        foreign.goto(f"http://{host}:{port}/")
        ws, token = own.replace("http", "ws"), address.partition("?")[2]
        came_of = foreign.evaluate(TRIES, [own, ws, token])
        assert came_of == {
            **dict.fromkeys(came_of, "refused"),
            "frame": "loaded",
            "drawing": "loaded",
        }
        frames = foreign.frames[1:]
        assert len(frames) == 2
        for each in frames:  # of another process, so its address may come after "loaded"
            each.wait_for_url(NOT_SHOWN, timeout=10_000)
        assert not any("restpoint" in each.content() for each in frames)
        foreign.close()
    at_rest(page)
    until(page, '$("captured").textContent === "0"')
    with Logbook.read(book) as reader:
        assert reader.last().sequence == 1


def test_going_to_the_bench_by_a_link_elsewhere_needs_a_press_of_ones_own(bench_live, open_page):
    """The cookie stays at home when another site leads here, and no window is held on to."""
    _, program, _ = bench_live({"gauge": (steady("decimal-line"), None)}, *BY_KEY)
    page = open_page(*program.addresses())
    at_rest(page)
    with elsewhere() as port:
        foreign = page.context.new_page()
        foreign.goto(f"http://localhost:{port}/")
        with page.context.expect_page() as opening:
            foreign.evaluate("(to) => { globalThis.held = open(to); }", page.watched.origin)
        opened = opening.value
        opened.wait_for_load_state()
        assert opened.locator("h1").text_content() == "Not let in"
        assert foreign.evaluate("held.closed")  # cut off by Cross-Origin-Opener-Policy
        opened.click("a")
        at_rest(opened)
        opened.close()
        foreign.close()

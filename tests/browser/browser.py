"""A real browser, and a page in it that lets nothing wrong go by."""

import os
import re
import shutil
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from urllib.parse import urlsplit

WITHIN_MS = 15_000

TABLET = {"width": 1280, "height": 800}

PLACES = ("chromium", "chromium-browser", "google-chrome")

FLAGS = (
    "--no-sandbox",  # the tests may run as root, as in a container
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--autoplay-policy=user-gesture-required",
)

WATCH = """
addEventListener("securitypolicyviolation", (event) =>
  console.error(`CSP: ${event.violatedDirective} forbids ${event.blockedURI}`));
"""


def chromium_at():
    """Where Chromium is; None where there is none. ``RESTPOINT_CHROMIUM`` names another place."""
    named = os.environ.get("RESTPOINT_CHROMIUM")
    return named or next(filter(None, map(shutil.which, PLACES)), None)


def why_not():
    """Why there can be no browser here, and what to do; empty where there can be one."""
    try:
        import playwright.sync_api  # noqa: F401
    except ImportError:
        return "Playwright is not installed: install the extra dev. Nothing was tried in a browser."
    found = chromium_at()
    if found is None or not Path(found).exists():
        return (
            "There is no Chromium on this machine, so the page was tried in NO browser. "
            "Install it (Debian: apt-get install chromium), or name it in RESTPOINT_CHROMIUM."
        )
    return ""


@contextmanager
def chromium(*more_flags):
    """Chromium without a window."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=chromium_at(), args=[*FLAGS, *more_flags]
        )
        try:
            yield browser
        finally:
            browser.close()


@dataclass
class Watched:
    """What a page has done that it must not: errors, what its policy forbids, foreign hosts.

    Args:
        origin: whom alone it may ask.
        allowed: patterns of errors that belong to the test, as where the bench is gone.
    """

    origin: str
    allowed: tuple[str, ...] = ()
    asked: list[str] = field(default_factory=list)
    faults: list[str] = field(default_factory=list)

    def watch(self, page):
        """Look on from now; before the page goes anywhere."""
        page.on("console", self._console)
        page.on("pageerror", lambda error: self._fault(f"error of a script: {error}"))
        page.on("request", lambda request: self._ask(request.url))
        page.on("websocket", lambda socket: self._ask(socket.url))
        page.add_init_script(WATCH)

    def _console(self, message):
        if message.type in ("error", "warning", "assert"):
            self._fault(f"{message.type} on the console: {message.text}")

    def _fault(self, words):
        if not any(re.search(each, words) for each in self.allowed):
            self.faults.append(words)

    def _ask(self, url):
        self.asked.append(url)
        parts = urlsplit(url)
        if parts.scheme in ("data", "blob"):
            return
        scheme = {"ws": "http", "wss": "https"}.get(parts.scheme, parts.scheme)
        if f"{scheme}://{parts.netloc}" != self.origin:
            self.faults.append(f"asked a foreign host: {url}")


def origin_of(address):
    """The origin of an address."""
    parts = urlsplit(address)
    return f"{parts.scheme}://{parts.netloc}"


def until(page, condition, within_ms=WITHIN_MS):
    """Waits in the page until a condition holds; the page's time of it, ms of performance.now().

    Playwright's own ``wait_for_function`` does not do here: it looks again by evaluating a text,
    and the page's policy forbids that. ``expect`` of Playwright does, and this: all of it goes in
    once, from outside of the page.

    Args:
        page: the page, or a frame.
        condition: an expression of JavaScript; ``$`` in it is ``document.getElementById``.
        within_ms: no longer than this.
    """
    came_ms = page.evaluate(
        f"""(withinMs) => new Promise((done) => {{
          const $ = (id) => document.getElementById(id);
          const end = performance.now() + withinMs;
          const look = () => {{
            const now = performance.now();
            if ({condition}) done(now);
            else if (now > end) done(null);
            else setTimeout(look, 5);
          }};
          look();
        }})""",
        within_ms,
    )
    assert came_ms is not None, f"it did not come: {condition}; the page: {text_of(page)}"
    return came_ms


def watch_for(page, condition):
    """Watches for a condition from now on, at every frame; ``watched`` tells when it came."""
    page.evaluate(
        f"""() => new Promise((begun) => {{
          const $ = (id) => document.getElementById(id);
          globalThis.watchedFor = new Promise((done) => {{
            const look = () => {{
              if ({condition}) done(performance.timeOrigin + performance.now());
              else requestAnimationFrame(look);
            }};
            requestAnimationFrame(() => {{ begun(); look(); }});
          }});
        }})"""
    )


def watched(page, within_ms=WITHIN_MS):
    """When it came, s of ``time.time()``: the page's clock and ours are that of one machine."""
    came_ms = page.evaluate(
        """(withinMs) => Promise.race([
          globalThis.watchedFor, new Promise((done) => setTimeout(() => done(null), withinMs)),
        ])""",
        within_ms,
    )
    assert came_ms is not None, f"it did not come; the page: {text_of(page)}"
    return came_ms / 1000


def text_of(page):
    """What stands on the page, in one line."""
    return " | ".join(page.locator("body").inner_text().split("\n"))[:600]

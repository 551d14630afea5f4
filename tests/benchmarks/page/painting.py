"""How long it takes from the wire to the painted number, in a real browser.

Times are of the last byte of a reading on the wire, by this process's clock, and of the number on
the page, by the page's; the two are of one machine, and are held against each other before.
Three moments of a page, of which each includes the one before:

- changed: the page has changed the number, in the frame that will show it;
- painted: that frame is laid out and painted, and handed to the machine's own composing;
- shown: the next frame begins, which is the latest that the one before may be on the screen.
"""

import threading
import time
from contextlib import ExitStack

from websockets.sync.client import connect

from tests.browser.browser import TABLET
from tests.end_to_end.bench_page import Program, Screen

from .measuring import RATE_HZ, look, wire, write

MOMENTS = ("changed", "painted", "shown")

JITTER = 0.3
"""A gauge's clock is not the display's: 20 readings a second in step with 60 frames would all wait
equally long for theirs, and each measurement another time."""

AT_ONCE = ("--disable-frame-rate-limit", "--disable-gpu-vsync")
"""A browser that makes a frame as soon as there is something new: what is left is our own."""

WATCH = """() => {
  const now = () => performance.timeOrigin + performance.now();
  const digits = document.getElementById("digits");
  globalThis.paintedNumbers = [];
  // A message to itself comes after the frame in which it was sent, and before the next.
  const after = new MessageChannel();
  let last = null;
  after.port1.onmessage = () => { last[2] = now(); };
  new MutationObserver(() => {
    const one = [digits.textContent, now(), null, null];
    last = one;
    globalThis.paintedNumbers.push(one);
    after.port2.postMessage(null);
    requestAnimationFrame(() => { one[3] = now(); });
  }).observe(digits, { childList: true, characterData: true, subtree: true });
}"""

# At each step of the clock of days that has whole milliseconds, how far the finer one is from it.
APART = """() => {
  const found = [];
  for (let last = Date.now(); found.length < 40; ) {
    const now = Date.now();
    if (now !== last) found.push(performance.timeOrigin + performance.now() - now);
    last = now;
  }
  return found.sort((one, other) => one - other)[20];
}"""


def painted_ms(folder, browser, *, pages=8, sockets=0, readings=200, rate_hz=RATE_HZ):
    """By moment, the times from the wire to the numbers of all pages, milliseconds.

    Args:
        folder: for the logbook.
        browser: a Chromium.
        pages: screens that paint, all in one browser.
        sockets: screens besides that take every message and paint nothing.
        readings: how many.
        rate_hz: how many a second, on the average.
    """
    written_s = {}
    with ExitStack() as stack:
        port, master = stack.enter_context(wire())
        words = (f"decimal-line@{port}", "--logbook", folder / "a.logbook", "--when", "key")
        program = stack.enter_context(Program("live", *words))
        (address,) = program.addresses()
        looking = [_page(browser, address) for _ in range(pages)]
        apart_ms = [watched_from_now(page) for page in looking]
        with _taking(address, sockets):
            write(master, written_s, readings, rate_hz, time.time, JITTER)
        found = [numbers_of(*each) for each in zip(looking, apart_ms, strict=True)]
        for page in looking:
            page.context.close()
        program.stop()
    usual_s = sorted(written_s.values())[round(rate_hz)]
    return {
        name: [
            1000 * (times_s[at] - written_s[digits])
            for numbers in found
            for digits, *times_s in numbers
            if times_s[at] is not None and written_s.get(digits, 0) >= usual_s
        ]
        for at, name in enumerate(MOMENTS)
    }


def watched_from_now(page):
    """Let a page note its numbers from now on; how far its clock is from that of days, ms."""
    apart_ms = page.evaluate(APART)
    page.evaluate(WATCH)
    return apart_ms


def numbers_of(page, apart_ms):
    """The numbers that a page has noted: digits, and the three moments, s of ``time.time()``."""
    return [
        (digits, *(None if each is None else (each - apart_ms) / 1000 for each in times_ms))
        for digits, *times_ms in page.evaluate("globalThis.paintedNumbers")
    ]


def _page(browser, address):
    page = browser.new_context(viewport=TABLET).new_page()
    page.goto(address)
    page.locator("#headline span").first.wait_for()
    return page


class _taking:
    """Screens that take what comes, each in a thread."""

    def __init__(self, address, count):
        self._over = threading.Event()
        self._stack = ExitStack()
        screen = Screen(address)
        place = screen.parts.netloc
        self._threads = []
        for _ in range(count):
            live = self._stack.enter_context(
                connect(
                    f"ws://{place}/live",
                    additional_headers={"Cookie": screen.cookie},
                    origin=f"http://{place}",
                )
            )
            self._threads.append(threading.Thread(target=look, args=(live, [], self._over)))

    def __enter__(self):
        for thread in self._threads:
            thread.start()

    def __exit__(self, *_):
        self._over.set()
        for thread in self._threads:
            thread.join()
        self._stack.close()

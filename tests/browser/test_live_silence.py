"""An old number is a wrong number: it goes from the page in time, and comes back by itself."""

import os
import signal
import threading
import time

import pytest

from tests.benchmarks.page.measuring import wire
from tests.browser.browser import until, watch_for, watched
from tests.browser.live_page import BY_KEY, IS_BLANK, at_rest, painted, said
from tests.end_to_end.bench_page import Program
from tests.end_to_end.road import steady

NO_BENCH = ("ERR_CONNECTION_REFUSED", "ERR_CONNECTION_RESET", "WebSocket connection to .* failed")
"""What a browser says on its console while there is nobody to connect to."""

PROMISED_S = 0.5
TRIES = 3


def is_kept(took_s):
    """Whether a promise is kept; once in three the machine may have stood still meanwhile."""
    return sorted(took_s)[len(took_s) // 2] < PROMISED_S and max(took_s) < 2 * PROMISED_S


@pytest.fixture
def shown(open_page, bench_live):
    """A bench with a gauge at rest, its program, and a page that shows it."""
    bench, program, book = bench_live({"gauge": (steady("decimal-line"), None)}, *BY_KEY)
    page = open_page(*program.addresses(), allowed=NO_BENCH)
    at_rest(page, "+0.040")
    return bench, program, page, book


def blank_after_s(page, act):
    """How long after ``act`` there is nothing left that could be taken for a number, s."""
    until(page, f"!({IS_BLANK})")
    watch_for(page, IS_BLANK)
    begun_s = time.time()
    act()
    return watched(page) - begun_s


def test_when_the_cable_is_pulled_the_number_goes_and_comes_back_with_the_cable(shown):
    bench, _, page, _ = shown
    took_s = []
    for _ in range(TRIES):
        took_s.append(blank_after_s(page, lambda: bench.pull("gauge")))
        until(page, '$("headline").textContent === "CABLE OUT"')
        assert (said(page, "link"), said(page, "length")) == ("cable out", "–")
        assert "Plug the cable in" in said(page, "loud")
        assert painted(page) is None
        bench.plug_in("gauge")
        at_rest(page, "+0.040")
        assert painted(page) == "+0.040"
        assert page.locator("#capture").is_enabled()
    assert is_kept(took_s)


def test_when_the_gauge_falls_silent_the_number_goes_before_it_is_half_a_second_old(
    open_page, tmp_path
):
    last_s, took_s = 0.0, []

    def write(readings):
        nonlocal last_s
        pause = threading.Event()
        for _ in range(readings):
            last_s = time.time()
            os.write(near, b"+0012.340 mm\r\n")
            pause.wait(0.1)

    with wire() as (port, near):
        words = (f"decimal-line@{port}", "--logbook", tmp_path / "a.logbook", *BY_KEY)
        with Program("live", *words) as program:
            page = open_page(*program.addresses(), allowed=NO_BENCH)
            for _ in range(TRIES):
                writing = threading.Thread(target=write, args=(15,))
                writing.start()
                until(page, f"!({IS_BLANK})")
                watch_for(page, IS_BLANK)
                blank_s = watched(page)
                writing.join()
                took_s.append(blank_s - last_s)
                assert said(page, "headline") == "NO SIGNAL"
                assert "is the gauge on" in said(page, "loud")
            program.stop()
            until(page, '$("headline").textContent === "ENDED"')
    assert is_kept(took_s)


def test_when_the_bench_hangs_without_a_word_the_number_goes_and_comes_back(shown):
    _, program, page, _ = shown
    took_s = []
    for _ in range(TRIES):
        took_s.append(blank_after_s(page, lambda: program.process.send_signal(signal.SIGSTOP)))
        program.process.send_signal(signal.SIGCONT)
        at_rest(page, "+0.040")
    assert is_kept(took_s)


def test_when_the_bench_is_killed_the_number_goes_and_a_new_bench_lets_the_page_in_again(shown):
    bench, program, page, book = shown
    port = page.watched.origin.rpartition(":")[2]
    assert blank_after_s(page, program.process.kill) < 2 * PROMISED_S
    assert said(page, "headline") == "NO LINK"
    assert "does not answer" in said(page, "loud")
    page.keyboard.press("Space")
    until(page, '$("loud").textContent.includes("does not answer")')

    words = (f"decimal-line@{bench.ports['gauge']}", "--logbook", book, *BY_KEY)
    with Program("live", *words, listen=f"127.0.0.1:{port}") as again:
        (address,) = again.addresses()
        # Another start, another token: the page says what to do, and does it.
        until(page, '$("loud").textContent.includes("open the address")')
        assert painted(page) is None
        page.goto(address)
        at_rest(page, "+0.040")
        page.close()

"""One browser for all tests of this folder, pages that fail a test, and a bench to look at."""

import os
import sys
from contextlib import ExitStack

import pytest

from simulated_devices import Bench
from tests.browser.browser import TABLET, WITHIN_MS, Watched, chromium, origin_of, why_not
from tests.end_to_end.bench_page import Program


def pytest_collection_modifyitems(items):
    here = os.path.dirname(__file__)
    for item in items:
        if str(item.path).startswith(here):
            item.add_marker("browser")


def pytest_terminal_summary(terminalreporter):
    """A skip is one letter among hundreds; that no browser was there must be read."""
    why = why_not()
    if why:
        terminalreporter.section("NO BROWSER", red=True, bold=True)
        terminalreporter.write_line(why)


# Of this folder alone: while it is there, no other test can have an event loop of its own.
@pytest.fixture(scope="package")
def browser():
    """Chromium."""
    if sys.platform == "win32":
        pytest.skip("no pseudo-terminals")
    why = why_not()
    if why:
        pytest.skip(why)
    with chromium() as found:
        yield found


@pytest.fixture
def bench_live(tmp_path):
    """Starts ``restpoint bench live`` on simulated gauges: the bench, the program, the logbook.

    ``bench_live({"gauge": (gauge, None)}, *words, listen=…)``; the gauges' profiles and ports are
    put before the words.
    """
    with ExitStack() as stack:

        def start(gauges, *words, listen="127.0.0.1:0"):
            bench = stack.enter_context(Bench(gauges))
            named = [
                f"{gauge.profile.name}@{bench.ports[name]}" for name, (gauge, _) in gauges.items()
            ]
            book = tmp_path / "a.logbook"
            asked = ("live", *named, "--logbook", book, *words)
            return bench, stack.enter_context(Program(*asked, listen=listen)), book

        yield start


@pytest.fixture
def open_page(browser, bench_live):
    """Opens an address in a context of its own; whatever the page does wrong fails the test.

    ``open_page(address, allowed=(pattern, …), **context)``: ``allowed`` are errors that belong to
    the test; the rest goes to the context, as ``viewport`` or ``color_scheme``. The pages are gone
    before the benches of ``bench_live`` are; of a bench that ends sooner, close the page first.
    """
    contexts, watchers = [], []

    def open_at(address, *, allowed=(), **more):
        context = browser.new_context(**{"viewport": TABLET, **more})
        contexts.append(context)
        context.set_default_timeout(WITHIN_MS)
        page = context.new_page()
        page.watched = Watched(origin_of(address), tuple(allowed))
        watchers.append(page.watched)
        page.watched.watch(page)
        page.goto(address)
        return page

    yield open_at
    for context in contexts:
        context.close()
    faults = [fault for each in watchers for fault in each.faults]
    assert not faults

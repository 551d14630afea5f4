"""Script in every text that people can type, or write into a file: it is shown, and never runs."""

import json
from contextlib import suppress
from pathlib import Path
from urllib.parse import quote

import pytest

from daq.logbook import Logbook, LogbookError
from daq.logbook.records import UnknownRecord, record_from
from simulated_devices import Bench
from tests.browser.browser import until
from tests.browser.live_page import BY_KEY, at_rest
from tests.browser.work.pressing import answered, go_on, lift, press
from tests.browser.work.sheets import SHEET
from tests.end_to_end.bench_page import Program
from tests.end_to_end.road import steady

DATA = Path(__file__).parents[2] / "data"
SHORT = "<img src=x onerror=ran=1>"
"""Short enough for a gauge's label."""
LONG = f"\"'></title></textarea><script>ran=1</script><svg onload=ran=1>{SHORT} javascript:ran=1"

NOTHING_RAN = """() => ({
  ran: globalThis.ran ?? null,
  foreign: [...document.querySelectorAll("img, iframe, object, embed, base, link, script, a")]
    .map((each) => each.getAttribute("src") ?? each.getAttribute("href") ?? each.outerHTML)
    .filter((each) => !/^\\/(?!\\/)|^#/.test(each)),
  handlers: [...document.querySelectorAll("*")]
    .filter((each) => [...each.attributes].some(({ name }) => name.startsWith("on"))).length,
  text: document.body.textContent,
  title: document.title,
})"""


def nothing_ran(page, *shown):
    """No script of a text ran, none became an element, and each of ``shown`` stands there."""
    found = page.evaluate(NOTHING_RAN)
    assert (found["ran"], found["foreign"], found["handlers"]) == (None, [], 0)
    for each in shown:
        assert each in found["text"] + found["title"], each


def gauges_file(path, ports):
    path.write_text(
        "".join(
            f"[[gauges]]\nlabel = {json.dumps(label)}\nprofile = 'decimal-line'\nport = '{port}'\n"
            for label, port in ports.items()
        )
    )
    return ("--gauges", path)


def test_on_the_live_page(benches, tmp_path, open_page):
    gauges = {SHORT: (steady("decimal-line"), None), f"{SHORT} 2": (steady("decimal-line"), None)}
    folder = tmp_path / "ports"
    named = {"one": gauges[SHORT], "two": gauges[f"{SHORT} 2"]}
    bench = benches.enter_context(Bench(named, folder=folder))
    ports = dict(zip(gauges, bench.ports.values(), strict=True))
    words = (
        "live", *gauges, "--logbook", tmp_path / "a.logbook", "--operator", LONG,
        *gauges_file(tmp_path / "gauges.toml", ports), *BY_KEY, "--source", LONG,
    )  # fmt: skip
    program = benches.enter_context(Program(*words))
    page = open_page(*program.addresses())
    at_rest(page, "+0.040")
    page.click("#capture")
    until(page, '$("captured").textContent === "1"')
    nothing_ran(page, SHORT, f"{SHORT} 2")
    page.goto(f"{page.watched.origin}/record/2")
    until(page, '!$("all").hidden')
    nothing_ran(page, SHORT, LONG)


def nasty_sheet():
    """The small sheet with script in whatever may be any text."""
    names = ("Small pump, two cylinders", "only one", "pinned")
    words = (
        "Rack reference length", "1500 1/min", "Figures invented for a test",
        "figures invented for a test", "Keep your hands off the rack.",
    )  # fmt: skip
    sheet = SHEET.replace('"test, p. 1"', json.dumps(f"test, {LONG}"))
    for texts, script in ((names, SHORT), (words, LONG)):
        for each in texts:
            assert f'"{each}"' in sheet
            sheet = sheet.replace(f'"{each}"', json.dumps(f"{each} {script}"))
    return sheet


def test_on_the_job_page(bench_job, tmp_path, open_page):
    plunger, program, book = bench_job(sheet=nasty_sheet(), engine=LONG, operator=LONG)
    page = open_page(*program.addresses())
    page.goto(f"{page.watched.origin}/job")
    until(page, '$("headline").textContent === "READ PLATE"')
    nothing_ran(page, LONG, f"1500 1/min {LONG}", f"Small pump, two cylinders {SHORT}")
    go_on(page, "Before you begin")
    nothing_ran(page, LONG)
    go_on(page, "Rack reference length")
    nothing_ran(page, f"Keep your hands off the rack. {LONG}")
    press(page, "go")
    for _ in range(2):
        lift(page, plunger, 0.02)
        press(page, "go")
    until(page, '$("title").textContent.includes("cylinder 1")')
    answered(page, "skip", reason=LONG, by=f"{SHORT} by")
    until(page, '$("history").textContent.includes("skipped")')
    nothing_ran(page, LONG, f"({SHORT} by)")
    for number in range(1, last_of(book) + 1):
        page.goto(f"{page.watched.origin}/record/{number}")
        until(page, '!$("all").hidden')
        nothing_ran(page)
    nothing_ran(page, LONG, f"{SHORT} by")


def last_of(book):
    with Logbook.read(book) as reader:
        return reader.last().sequence


def test_on_the_calibration_page(bench_calibrate, open_page):
    def change(standard, gauge):
        limits = gauge.limits.model_copy(update={"source": LONG})
        texts = {"what": LONG, "certificate": LONG, "issuer": LONG}
        return standard.model_copy(update=texts), gauge.model_copy(update={"limits": limits})

    _, program, _ = bench_calibrate(operator=LONG, change=change)
    page = open_page(*program.addresses())
    page.goto(f"{page.watched.origin}/calibration")
    until(page, '$("figure") !== null')
    nothing_ran(page)
    page.fill("#figure", LONG[:14])
    page.click("#go")
    until(page, '$("notice").textContent.includes("type a number")')
    nothing_ran(page)
    for number in range(1, 4):
        page.goto(f"{page.watched.origin}/record/{number}")
        until(page, '!$("all").hidden')
        nothing_ran(page)


def records_with_script():
    """A record of every kind, from the kept samples, with script wherever any text may stand."""
    seen = set()
    for sample in sorted(DATA.glob("logbook_format_*.sqlite")):
        with Logbook.read(sample) as reader:
            for entry in reader.entries():
                said = json.loads(entry.body)
                if said["kind"] == "logbook" or shape_of(said) in seen:
                    continue
                seen.add(shape_of(said))
                yield changed(said)


def shape_of(said):
    return said["kind"], tuple(sorted(key for key, value in said.items() if value))


def changed(said):
    """The record with script in each text in turn, wherever its form lets that through."""
    for holder, key in list(places_of(said)):
        before = holder[key]
        for script in (f"{before} {LONG}", SHORT):
            holder[key] = script
            if is_a_record(said):
                break
            holder[key] = before
    return record_from(json.dumps(said))


def is_a_record(said):
    with suppress(ValueError, LogbookError):
        return not isinstance(record_from(json.dumps(said)), UnknownRecord)
    return False


def places_of(said):
    """Where its texts stand: what holds each, and under which key."""
    pairs = said.items() if isinstance(said, dict) else enumerate(said)
    for key, value in pairs:
        if isinstance(value, dict | list):
            yield from places_of(value)
        elif isinstance(value, str):
            yield said, key


@pytest.fixture
def book_with_script(tmp_path):
    path = tmp_path / "a.logbook"
    records = list(records_with_script())
    with Logbook.open(path) as book:
        book.append_many(records)
    return path, records


def test_on_the_logbook_page_and_on_the_page_of_a_record_of_every_kind(
    benches, book_with_script, open_page
):
    path, records = book_with_script
    bench = benches.enter_context(Bench({"gauge": (steady("decimal-line"), None)}))
    gauge = f"decimal-line@{bench.ports['gauge']}"
    program = benches.enter_context(Program("live", gauge, "--logbook", path, *BY_KEY))
    page = open_page(*program.addresses())
    page.goto(f"{page.watched.origin}/logbook")
    until(page, '$("list").children.length > 0')
    nothing_ran(page, SHORT)
    page.fill("#q", LONG[:200])
    page.click("#find")
    until(page, '$("foot").textContent.includes("found") || $("list").children.length > 0')
    nothing_ran(page)
    page.goto(f"{page.watched.origin}/logbook?q={quote(SHORT)}")
    until(page, '$("list").children.length > 0')
    nothing_ran(page, SHORT)
    kinds = set()
    for number, record in enumerate(records, start=2):
        page.goto(f"{page.watched.origin}/record/{number}")
        until(page, '!$("all").hidden')
        kinds.add(record.kind)
        nothing_ran(page, SHORT)
    print(sorted(kinds), len(records))

"""From the wire to the screens: how long a reading takes to every one of them. Prints the table."""

import argparse
import tempfile
from pathlib import Path

from .measuring import RATE_HZ, latencies_ms, share


def main():
    parser = argparse.ArgumentParser(description=__doc__, prog="python -m tests.benchmarks.page")
    parser.add_argument("--screens", type=int, default=8)
    parser.add_argument("--readings", type=int, default=1200)
    parser.add_argument("--rate", type=float, default=RATE_HZ, help="readings a second")
    parser.add_argument(
        "--painted",
        type=int,
        metavar="PAGES",
        help="to the painted number, of so many pages in a Chromium; other screens only listen",
    )
    parser.add_argument(
        "--at-once", action="store_true", help="with --painted: wait for no frame of a display"
    )
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        (messages if asked.painted is None else painted)(Path(folder), asked)


def messages(folder, asked):
    found = latencies_ms(folder, screens=asked.screens, readings=asked.readings, rate_hz=asked.rate)
    print(f"{asked.screens} screens, {asked.rate:g} readings a second, milliseconds")
    print("screen  heard   p50    p99    most")
    for number, each in enumerate([*found, [ms for some in found for ms in some]], start=1):
        row(f"{number}" if number <= asked.screens else "all", each)


def painted(folder, asked):
    from tests.browser.browser import chromium

    from .painting import AT_ONCE, painted_ms

    with chromium(*AT_ONCE if asked.at_once else ()) as browser:
        found = painted_ms(
            folder,
            browser,
            pages=asked.painted,
            sockets=asked.screens - asked.painted,
            readings=asked.readings,
            rate_hz=asked.rate,
        )
    print(
        f"{asked.painted} pages that paint among {asked.screens} screens, "
        f"{asked.rate:g} readings a second, milliseconds"
    )
    print("moment   seen   p50    p99    most")
    for name, each in found.items():
        row(name, each)


def row(name, values):
    p50, p99 = share(values, 50), share(values, 99)
    print(f"{name:>7} {len(values):>5} {p50:>6.2f} {p99:>6.2f} {max(values):>7.2f}")


main()

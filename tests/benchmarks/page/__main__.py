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
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        found = latencies_ms(
            Path(folder), screens=asked.screens, readings=asked.readings, rate_hz=asked.rate
        )
    print(f"{asked.screens} screens, {asked.rate:g} readings a second, milliseconds")
    print("screen  heard   p50    p99    most")
    for number, each in enumerate([*found, [ms for some in found for ms in some]], start=1):
        name = f"{number}" if number <= asked.screens else "all"
        p50, p99 = share(each, 50), share(each, 99)
        print(f"{name:>6} {len(each):>6} {p50:>6.2f} {p99:>6.2f} {max(each):>7.2f}")


main()

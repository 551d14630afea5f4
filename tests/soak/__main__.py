"""Long runs: does anything grow, is anything lost between what was sent and what was received?

    python -m tests.soak [--hours 8] [--minutes 20] [--gauges 32]

First a gauge of each profile works for ``--hours`` of simulated time, as fast as the machine can.
Then ``--gauges`` gauges on pseudo-terminals work for ``--minutes`` in real time, and each new rest
is captured into a logbook.
"""

import argparse
import tempfile
from pathlib import Path

from tests.faults.campaign import PROFILES
from tests.soak import at_speed, in_real_time
from tests.soak.measured import growth

HELD = "memory after each quarter (MB) | handles | threads"


def main():
    asked = argparse.ArgumentParser(prog="python -m tests.soak")
    asked.add_argument("--hours", type=float, default=8.0, help="0 leaves this part out")
    asked.add_argument("--minutes", type=float, default=20.0, help="0 leaves this part out")
    asked.add_argument("--gauges", type=int, default=32)
    given = asked.parse_args()
    if given.hours:
        print(
            f"| gauge, {given.hours:g} h | frames sent | received | bad | captured | off | {HELD} |"
        )
        print("|---|---|---|---|---|---|---|---|---|")
        for profile in PROFILES:
            found = at_speed.run(profile, given.hours)
            row = (found.sent, found.received, found.bad, found.captured, len(found.off))
            _say(profile.name, row, found.held)
    if given.minutes:
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder, "soak.logbook")
            found = in_real_time.run(given.minutes, given.gauges, path)
        print(f"| gauges, {given.minutes:g} min | bytes sent | received | frames | bad | captured "
              f"| refused | in the logbook | {HELD} |")  # fmt: skip
        print("|---|---|---|---|---|---|---|---|---|---|---|")
        row = (found.sent.total(), found.received.total(), found.frames, found.bad)
        row += (found.captured, found.refused.total(), found.kept)
        _say(given.gauges, row, found.held)
        for reason, times in found.refused.most_common(5):
            print(f"    refused {times} times: {reason}")
        for problem in found.problems:
            print(f"    not intact: {problem}")


def _say(what, row, held):
    figures = " | ".join(f"{each:,}" for each in row)
    quarters = (held[min(len(held) * part // 4, len(held) - 1)] for part in (1, 2, 3, 4))
    memory = ", ".join(f"{each.memory_mb:.1f}" for each in quarters)
    _, handles, threads = growth(held)
    print(f"| {what} | {figures} | {memory} | {handles:+d} | {threads:+d} |", flush=True)


if __name__ == "__main__":
    main()

"""How long it takes from the wire to the screens: a byte is written, a message comes.

The gauge is a pseudo-terminal that this process writes to; the bench is the program as its user
runs it, in a process of its own; the screens are in this process. All clocks are one.
"""

import json
import os
import random
import threading
import time
from contextlib import ExitStack, contextmanager

from websockets.sync.client import connect

from tests.end_to_end.bench_page import Program, Screen

RATE_HZ = 20.0


@contextmanager
def wire():
    """A port with nothing behind it but whoever writes: its name, and where to write."""
    import tty  # there is none on Windows

    master, slave = os.openpty()
    try:
        tty.setraw(slave)
        yield os.ttyname(slave), master
    finally:
        os.close(master)
        os.close(slave)


def latencies_ms(folder, *, screens=8, readings=200, rate_hz=RATE_HZ):
    """By screen, the times from the last byte of each reading to its message, milliseconds.

    Each reading is another number, so that each message says whose it is. The first second is left
    out: the program is still getting up.
    """
    written_s, heard = {}, [[] for _ in range(screens)]
    with ExitStack() as stack:
        port, master = stack.enter_context(wire())
        words = (f"decimal-line@{port}", "--logbook", folder / "a.logbook", "--when", "key")
        program = stack.enter_context(Program("live", *words))
        (address,) = program.addresses()
        screen = Screen(address)
        place = screen.parts.netloc
        lives = [
            stack.enter_context(
                connect(
                    f"ws://{place}/live",
                    additional_headers={"Cookie": screen.cookie},
                    origin=f"http://{place}",
                )
            )
            for _ in range(screens)
        ]
        over = threading.Event()
        threads = [
            threading.Thread(target=look, args=each)
            for each in zip(lives, heard, [over] * screens, strict=True)
        ]
        for thread in threads:
            thread.start()
        write(master, written_s, readings, rate_hz)
        over.set()
        for thread in threads:
            thread.join()
        program.stop()
    usual = sorted(written_s.values())[round(rate_hz)]
    return [
        [
            1000 * (came_s - written_s[digits])
            for digits, came_s in each
            if digits in written_s and written_s[digits] >= usual
        ]
        for each in heard
    ]


def write(master, written_s, readings, rate_hz, clock=time.monotonic, jitter=0.0):
    """Write readings, each another number; ``written_s`` gets when, by its digits.

    ``jitter`` is by how much of it a time between two may be longer or shorter.
    """
    chance = random.Random(20)
    pause, next_s = threading.Event(), time.monotonic() + 0.5
    for number in range(1, readings + 1):
        pause.wait(max(0.0, next_s - time.monotonic()))
        next_s += (1 + jitter * chance.uniform(-1, 1)) / rate_hz
        text = f"{number // 1000:04}.{number % 1000:03}"
        written_s[f"{number / 1000:+.3f}"] = clock()
        os.write(master, f"+{text} mm\r\n".encode())
    pause.wait(0.3)


def look(live, heard, over):
    """Take messages until it is over; ``heard`` gets the digits of each and when it came, s."""
    last = None
    while not over.is_set():
        message = json.loads(live.recv(timeout=5))
        came_s = time.monotonic()
        digits = (message.get("view") or {}).get("digits")
        if digits is not None and digits != last:
            heard.append((digits.strip(), came_s))
            last = digits


def share(values, percent):
    """The value that ``percent`` of all are no larger than."""
    ordered = sorted(values)
    return ordered[min(len(ordered) - 1, int(len(ordered) * percent / 100))]

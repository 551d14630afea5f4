"""A screen as a browser is one, and the bench command as a program, for the tests of its page."""

import http.client
import json
import os
import select
import signal
import struct
import subprocess
import sys
import threading
import time
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from urllib.parse import urlsplit

from websockets.exceptions import ConnectionClosed
from websockets.sync.client import connect

ROOT = Path(__file__).parents[2]
WITHIN_S = 15.0


@dataclass
class Screen:
    """A screen that has come in by an address with a token."""

    address: str
    cookie: str = ""
    last: dict = field(default_factory=dict)
    came_s: float = 0.0

    def __post_init__(self):
        self.parts = urlsplit(self.address)
        status, headers, _ = self.get(f"/?{self.parts.query}")
        assert status == 303
        self.cookie = headers["set-cookie"].partition(";")[0]

    def get(self, path):
        """Status, headers and body of a page."""
        connection = http.client.HTTPConnection(self.parts.netloc, timeout=WITHIN_S)
        connection.request("GET", path, headers={"Cookie": self.cookie} if self.cookie else {})
        answer = connection.getresponse()
        found = answer.status, {k.lower(): v for k, v in answer.getheaders()}, answer.read()
        connection.close()
        return found

    @contextmanager
    def live(self):
        """The live connection, open."""
        place = self.parts.netloc
        headers = {"Cookie": self.cookie}
        with connect(
            f"ws://{place}/live", additional_headers=headers, origin=f"http://{place}"
        ) as self.socket:
            yield self

    def receive(self):
        """The next message."""
        message = json.loads(self.socket.recv(timeout=WITHIN_S))
        self.came_s = time.monotonic()
        if message["kind"] == "state":
            self.last = message
        return message

    def until(self, is_it):
        """The first message of which ``is_it`` is true; fails if none comes in time."""
        end_s = time.monotonic() + WITHIN_S
        while time.monotonic() < end_s:
            message = self.receive()
            if is_it(message):
                return message
        raise AssertionError(f"it did not come; the last state: {self.last}")

    def until_state(self, is_it):
        """The first state of which ``is_it`` is true."""
        return self.until(lambda m: m["kind"] == "state" and is_it(m))

    def ask(self, do, **fields):
        """Ask for something, of the state that was seen last."""
        self.socket.send(json.dumps({"v": 1, "do": do, "n": self.last["n"], **fields}))

    def refusal(self):
        """Why it was refused."""
        return self.until(lambda m: m["kind"] == "refused")["why"]

    def closed(self):
        """The code that the connection closes with, once it does; and the last word before."""
        last = {}
        try:
            while True:
                last = self.receive()
        except ConnectionClosed as error:
            return error.rcvd.code if error.rcvd else None, last


class Program:
    """``restpoint bench …`` as its user runs it, without a terminal."""

    def __init__(self, *words, listen="127.0.0.1:0"):
        self.process = subprocess.Popen(
            [sys.executable, "-m", "daq.cli", "bench", *map(str, words), "--listen", listen],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            cwd=ROOT,
            env={**os.environ, "NO_COLOR": "1"},
        )

    def __enter__(self):
        return self

    def __exit__(self, *_):
        if self.process.poll() is None:
            self.process.kill()
        self.process.communicate(timeout=WITHIN_S)

    def addresses(self, count=1):
        """The addresses that it says, in its order."""
        found = []
        for line in self.process.stderr:
            found += [word for word in line.split() if word.startswith("http://")]
            if len(found) >= count:
                return found
        raise AssertionError(f"it said no address, and ended: {self.process.wait(WITHIN_S)}")

    def stop(self):
        """End it as Ctrl-C does; its exit status and what it said last."""
        self.process.send_signal(signal.SIGINT)
        out, err = self.process.communicate(timeout=WITHIN_S)
        return self.process.returncode, out, err


DRAWN = b"\x1b[?1049h"
"""What a terminal is sent when the screen takes it over."""


class Terminal:
    """A terminal with ``restpoint bench …`` in it, seen as bytes."""

    def __enter__(self):
        import fcntl
        import termios

        self.near, self.far = os.openpty()
        fcntl.ioctl(self.far, termios.TIOCSWINSZ, struct.pack("HHHH", 50, 120, 0, 0))
        self.process, self._seen, self._is_over = None, b"", threading.Event()
        self._reading = threading.Thread(target=self._read)
        self._reading.start()
        return self

    def __exit__(self, *_):
        self._is_over.set()
        self._reading.join(WITHIN_S)
        if self.process is not None and self.process.poll() is None:
            self.process.kill()
            self.process.wait(WITHIN_S)
        os.close(self.near)
        os.close(self.far)

    def run(self, *words):
        """Type the command."""
        self.process = subprocess.Popen(
            [sys.executable, "-m", "daq.cli", "bench", *map(str, words)],
            stdin=self.far,
            stdout=self.far,
            stderr=self.far,
            cwd=ROOT,
            env={**os.environ, "TERM": "xterm-256color"},
        )

    def _read(self):
        """A terminal takes what comes, whether anybody looks or not."""
        while not self._is_over.is_set():
            if select.select([self.near], [], [], 0.05)[0]:
                self._seen += os.read(self.near, 65536)

    def until(self, words):
        """What it has shown so far, once ``words`` are there."""
        end_s, pause = time.monotonic() + WITHIN_S, threading.Event()
        while words not in self._seen and time.monotonic() < end_s:
            pause.wait(0.02)
        assert words in self._seen, self._seen[-2000:]
        return self._seen

    def press(self, keys):
        """Press keys."""
        os.write(self.near, keys)

    def ended(self):
        """The exit status, once it has ended."""
        return self.process.wait(WITHIN_S)

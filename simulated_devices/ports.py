"""Simulated gauges behind real ports: pseudo-terminals, or TCP for ``socket://``.

The only room of the simulator that knows real time. One thread runs all gauges of a bench; with
nobody reading, bytes are lost, as on a real wire. A pseudo-terminal gets a new name each time it is
plugged in, so each gauge has a name of its own, a link in the bench's folder, that stays.
"""

import os
import socket
import tempfile
import threading
import time
from contextlib import suppress
from pathlib import Path
from typing import Literal, Protocol, Self

from simulated_devices.faults import WireFaults
from simulated_devices.gauge import SimulatedGauge

TICK_S = 0.005
"""How often the gauges move on, seconds."""

Transport = Literal["pty", "tcp"]


class Port(Protocol):
    """One way of putting a gauge within reach of a program."""

    address: str
    """What a program opens."""

    def plug_in(self) -> None:
        """Make the port appear."""

    def pull(self) -> None:
        """Make the port go away, as a pulled cable does."""

    def write(self, data: bytes) -> None:
        """Send ``data``; what nobody reads is lost."""

    def read(self) -> bytes:
        """What the program has sent; empty if nothing."""


class PtyPort:
    """A pseudo-terminal under a name that stays. POSIX only.

    Args:
        link: the name: a link that points to the terminal while it is plugged in.
    """

    def __init__(self, link: Path) -> None:
        self.address = str(link)
        self._link = link
        self._end = -1
        self._other = -1

    def plug_in(self) -> None:
        """See ``Port.plug_in``."""
        import tty

        if self._end >= 0:
            return
        self._end, self._other = os.openpty()
        tty.setraw(self._other)  # a cooked terminal would echo the gauge's own frames back at it
        os.set_blocking(self._end, False)
        self._link.unlink(missing_ok=True)
        self._link.symlink_to(os.ttyname(self._other))

    def pull(self) -> None:
        """See ``Port.pull``."""
        if self._end < 0:
            return
        self._link.unlink(missing_ok=True)
        # Our own hold on the terminal goes last: the program must see a hang-up, not an end.
        os.close(self._end)
        os.close(self._other)
        self._end = self._other = -1

    def write(self, data: bytes) -> None:
        """See ``Port.write``."""
        if self._end >= 0 and data:
            with suppress(BlockingIOError, OSError):
                os.write(self._end, data)

    def read(self) -> bytes:
        """See ``Port.read``."""
        if self._end < 0:
            return b""
        try:
            return os.read(self._end, 4096)
        except (BlockingIOError, OSError):
            return b""


class TcpPort:
    """A TCP port on loopback for one program at a time; a second one is turned away.

    Args:
        number: the port's number; 0 for any that is free. It stays the same when the gauge is
            plugged in again.
    """

    def __init__(self, number: int = 0) -> None:
        self._number = number
        self._server: socket.socket | None = None
        self._client: socket.socket | None = None
        self.address = ""
        self.plug_in()

    def plug_in(self) -> None:
        """See ``Port.plug_in``."""
        if self._server is not None:
            return
        self._server = socket.create_server(("127.0.0.1", self._number))
        self._server.setblocking(False)
        self._number = self._server.getsockname()[1]
        self.address = f"socket://127.0.0.1:{self._number}"

    def pull(self) -> None:
        """See ``Port.pull``."""
        for end in (self._client, self._server):
            if end is not None:
                end.close()
        self._client = self._server = None

    def _accept(self) -> None:
        if self._server is None:
            return
        with suppress(BlockingIOError):
            client, _ = self._server.accept()
            if self._client is not None:
                client.close()
                return
            client.setblocking(False)
            self._client = client

    def write(self, data: bytes) -> None:
        """See ``Port.write``."""
        self._accept()
        if self._client is not None and data:
            try:
                self._client.send(data)
            except BlockingIOError:
                pass
            except OSError:
                self._hang_up()

    def read(self) -> bytes:
        """See ``Port.read``."""
        if self._client is None:
            return b""
        try:
            data = self._client.recv(4096)
        except BlockingIOError:
            return b""
        except OSError:
            data = b""
        if not data:
            self._hang_up()
        return data

    def _hang_up(self) -> None:
        if self._client is not None:
            self._client.close()
            self._client = None


class Bench:
    """Simulated gauges running in real time. Use it in a ``with`` statement.

    Args:
        gauges: the gauges by name, each with the faults of its wire or None.
        transport: ``"pty"`` or ``"tcp"``.
        folder: where the ports' names lie (pty); None for a private temporary folder.
        speed: seconds of the gauges' time in a second of real time.

    Attributes:
        ports: what a program opens, by the gauges' names.
    """

    def __init__(
        self,
        gauges: dict[str, tuple[SimulatedGauge, WireFaults | None]],
        transport: Transport = "pty",
        folder: Path | None = None,
        speed: float = 1.0,
    ) -> None:
        self._gauges = gauges
        self._transport: Transport = transport
        self._temporary = (
            tempfile.TemporaryDirectory(prefix="restpoint-", ignore_cleanup_errors=True)
            if folder is None and transport == "pty"
            else None
        )
        self._folder = Path(self._temporary.name) if self._temporary else folder
        self._speed = speed
        self._turn = threading.RLock()
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, name="simulated gauges", daemon=True)
        self._ports: dict[str, Port] = {}
        self.ports: dict[str, str] = {}

    @classmethod
    def single(
        cls, gauge: SimulatedGauge, faults: WireFaults | None = None, transport: Transport = "pty"
    ) -> Self:
        """A bench with one gauge, called ``gauge``."""
        return cls({"gauge": (gauge, faults)}, transport)

    def __enter__(self) -> Self:
        for name in self._gauges:
            port = self._new_port(name)
            port.plug_in()
            self._ports[name], self.ports[name] = port, port.address
        self._thread.start()
        return self

    def _new_port(self, name: str) -> Port:
        if self._transport == "tcp":
            return TcpPort()
        assert self._folder is not None
        self._folder.mkdir(parents=True, exist_ok=True)
        return PtyPort(self._folder / name)

    def __exit__(self, *_: object) -> None:
        self._stop.set()
        self._thread.join()
        for port in self._ports.values():
            port.pull()
        if self._temporary:
            self._temporary.cleanup()

    def pull(self, name: str) -> None:
        """Pull the cable of the gauge called ``name``."""
        with self._turn:
            self._ports[name].pull()

    def plug_in(self, name: str) -> None:
        """Plug it in again, under the same name."""
        with self._turn:
            self._ports[name].plug_in()

    def gauge(self, name: str) -> SimulatedGauge:
        """The gauge called ``name``; press its keys inside ``still``."""
        return self._gauges[name][0]

    def still(self) -> threading.RLock:
        """A lock: inside it no gauge moves on, and its keys may be pressed."""
        return self._turn

    def send(self, name: str, data: bytes) -> None:
        """Put bytes on the wire as they are: what a key press sent, or noise."""
        with self._turn:
            self._ports[name].write(data)

    def _run(self) -> None:
        before_s = time.monotonic()
        while not self._stop.wait(TICK_S):
            now_s = time.monotonic()
            self._advance((now_s - before_s) * self._speed)
            before_s = now_s

    def _advance(self, dt_s: float) -> None:
        with self._turn:
            for name, (gauge, faults) in self._gauges.items():
                port = self._ports[name]
                heard = port.read()
                if heard:
                    gauge.receive(heard)
                sent = gauge.advance(dt_s)
                port.write(faults.through(sent) if faults else sent)

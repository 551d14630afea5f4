"""A bench of simulated gauges in real time: the only module of the simulator that has a clock.

One thread runs all gauges of a bench, and never waits for a program that reads them.
"""

import tempfile
import threading
import time
from pathlib import Path
from typing import Literal, Self

from simulated_devices.faults import WireFaults
from simulated_devices.gauge import SimulatedGauge
from simulated_devices.ports import BenchError, Port, PtyPort, TcpPort

TICK_S = 0.005
"""How often the gauges move on, seconds."""

Transport = Literal["pty", "tcp"]


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
        self._folder = folder
        self._temporary: tempfile.TemporaryDirectory[str] | None = None
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
        try:
            if self._transport == "pty":
                self._make_folder()
            for name in self._gauges:
                self._ports[name] = port = self._new_port(name)
                port.plug_in()
                self.ports[name] = port.address
        except BaseException:
            self._take_away()
            raise
        self._thread.start()
        return self

    def _make_folder(self) -> None:
        if self._folder is None:
            self._temporary = tempfile.TemporaryDirectory(
                prefix="restpoint-", ignore_cleanup_errors=True
            )
            self._folder = Path(self._temporary.name)
        try:
            self._folder.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise BenchError(
                f"The folder {self._folder} cannot be made: {error.strerror}. Choose another one."
            ) from error

    def _new_port(self, name: str) -> Port:
        if self._transport == "tcp":
            return TcpPort()
        assert self._folder is not None
        return PtyPort(self._folder / name)

    def __exit__(self, *_: object) -> None:
        self._stop.set()
        self._thread.join()
        self._take_away()

    def _take_away(self) -> None:
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

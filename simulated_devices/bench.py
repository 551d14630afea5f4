"""A bench of simulated gauges in real time: the only module of the simulator that has a clock.

One thread runs all gauges of a bench, and never waits for a program that reads them.
"""

import math
import tempfile
import threading
import time
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Literal, Self

from drivers.profile import GaugeProfile
from drivers.profiles import load_profile
from simulated_devices.faults import Wire
from simulated_devices.gauge import Key, SimulatedGauge
from simulated_devices.ports import BenchError, Port, PtyPort, TcpPort

if TYPE_CHECKING:
    from simulated_devices.scenario import Scenario

TICK_S = 0.005
"""How often the gauges move on, seconds."""

MOST_TICK_S = 1.0
"""Longest time made up for at once: after the computer slept, the gauges do not send it all."""

Transport = Literal["pty", "tcp"]


class Bench:
    """Simulated gauges running in real time. Use it in a ``with`` statement, or start and stop it.

    Args:
        gauges: the gauges by name, each with the wire it is on, or None for a good one.
        transport: ``"pty"`` or ``"tcp"``.
        folder: where the ports' names lie (pty); None for a private temporary folder.
        speed: seconds of the gauges' time in a second of real time.
        run_s: seconds of real time after which it stops by itself; None for never.

    Attributes:
        ports: what a program opens, by the gauges' names.

    Raises:
        BenchError: ``speed`` or ``run_s`` is not above zero.
    """

    def __init__(
        self,
        gauges: Mapping[str, tuple[SimulatedGauge, Wire | None]],
        transport: Transport = "pty",
        folder: Path | None = None,
        speed: float = 1.0,
        run_s: float | None = None,
    ) -> None:
        for what, number in (("speed", speed), ("run_s", run_s)):
            if number is not None and not 0 < number < math.inf:
                raise BenchError(f"A {what} of {number} will not do. Give a number above zero.")
        self._gauges = gauges
        self._transport: Transport = transport
        self._folder = folder
        self._temporary: tempfile.TemporaryDirectory[str] | None = None
        self._speed, self._run_s = speed, run_s
        self._failure: Exception | None = None
        self._turn = threading.RLock()
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, name="simulated gauges", daemon=True)
        self._ports: dict[str, Port] = {}
        self.ports: dict[str, str] = {}

    @classmethod
    def single(
        cls,
        gauge: SimulatedGauge | GaugeProfile | str,
        wire: Wire | None = None,
        transport: Transport = "pty",
        *,
        name: str = "gauge",
        folder: Path | None = None,
    ) -> Self:
        """A bench with one gauge.

        Args:
            gauge: the gauge; or a profile, or a profile's name, for one that rests at zero.
            wire: what its bytes go through.
            transport: see the class.
            name: the gauge's, and its port's.
            folder: see the class.
        """
        if isinstance(gauge, str):
            gauge = load_profile(gauge)
        if isinstance(gauge, GaugeProfile):
            gauge = SimulatedGauge(gauge)
        return cls({name: (gauge, wire)}, transport, folder)

    @staticmethod
    def from_scenario(
        scenario: "Scenario",
        transport: Transport = "pty",
        folder: Path | None = None,
        speed: float = 1.0,
        run_s: float | None = None,
    ) -> "Bench":
        """A bench with the gauges of a scenario: ``simulated_devices.scenario.bench_of``."""
        from simulated_devices.scenario import bench_of  # which itself needs this module

        return bench_of(scenario, transport, folder, speed, run_s)

    def __enter__(self) -> Self:
        self.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.stop()

    @property
    def running(self) -> bool:
        """Whether the gauges move on."""
        return self._thread.is_alive()

    def start(self) -> None:
        """Plug all gauges in and let them run.

        Raises:
            BenchError: a port cannot be made, or the bench was started before.
        """
        if self._thread.ident is not None or self._stop.is_set():
            raise BenchError("This bench was started before. Make a new one.")
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

    def stop(self) -> None:
        """Stop the gauges and pull all cables. To stop twice does no harm.

        Raises:
            Exception: whatever ended the gauges' thread before its time.
        """
        self._stop.set()
        if self._thread.ident is not None:
            self._thread.join()
        self._take_away()
        failure, self._failure = self._failure, None
        if failure is not None:
            raise failure

    def wait(self, within_s: float | None = None) -> bool:
        """Wait until the bench has stopped; False if it has not ``within_s`` seconds."""
        if self._thread.ident is not None:
            self._thread.join(within_s)
        return not self.running

    def _take_away(self) -> None:
        with self._turn:
            for port in self._ports.values():
                port.pull()
            if self._temporary:
                self._temporary.cleanup()

    def pull(self, name: str) -> None:
        """Pull the cable of the gauge called ``name``. It goes on, unheard."""
        with self._turn:
            self._port(name).pull()

    def plug_in(self, name: str) -> None:
        """Plug it in again, under the same name.

        Raises:
            BenchError: the port cannot be made, or the bench does not run.
        """
        with self._turn:
            port = self._port(name)
            if self._stop.is_set():
                raise BenchError("This bench has stopped. Make a new one.")
            port.plug_in()

    def gauge(self, name: str) -> SimulatedGauge:
        """The gauge called ``name``; touch it inside ``still``.

        Raises:
            BenchError: there is none.
        """
        if name not in self._gauges:
            raise BenchError(
                f"There is no gauge {name!r} on this bench. Known: {', '.join(self._gauges)}."
            )
        return self._gauges[name][0]

    def _port(self, name: str) -> Port:
        self.gauge(name)
        if name not in self._ports:
            raise BenchError("This bench was not started.")
        return self._ports[name]

    def still(self) -> threading.RLock:
        """A lock: inside it no gauge moves on, and its keys may be pressed."""
        return self._turn

    def send(self, name: str, data: bytes) -> None:
        """Put bytes on the wire as they are: what a key press sent, or noise."""
        with self._turn:
            self._port(name).write(data)

    def press(self, name: str, key: Key, shows_mm: float = 0.0) -> None:
        """Press a key of the gauge called ``name``; what that sends goes through its wire."""
        with self._turn:
            port, wire = self._port(name), self._gauges[name][1]
            sent = self.gauge(name).press(key, shows_mm)
            port.write(wire.through(sent) if wire else sent)

    def _run(self) -> None:
        begun_s = before_s = time.monotonic()
        try:
            while not self._stop.wait(TICK_S):
                now_s = time.monotonic()
                if self._run_s is not None and now_s - begun_s >= self._run_s:
                    break
                self._advance(min(now_s - before_s, MOST_TICK_S) * self._speed)
                before_s = now_s
        except Exception as failure:
            self._failure = failure  # stop raises it, where somebody sees it
        finally:
            self._stop.set()
            self._take_away()

    def _advance(self, dt_s: float) -> None:
        with self._turn:
            for name, (gauge, wire) in self._gauges.items():
                port = self._ports[name]
                heard = port.read()
                if heard:
                    gauge.receive(heard)
                sent = gauge.advance(dt_s)
                port.write(wire.through(sent) if wire else sent)

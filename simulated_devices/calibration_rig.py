"""A gauge with known errors over a standard whose true lengths are known.

The plunger stands on a stack of blocks, or on what a bench is set to. Whatever is moved is moved
without reversing unless somebody says otherwise, and the plunger takes its time to follow, as an
``engine_plunger.Plunger`` does. Nothing here has a clock. Lengths are millimetres, travel is from
where the gauge has its zero.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import pairwise
from typing import NamedTuple

from drivers.profile import GaugeProfile
from drivers.reading import MM_PER_INCH, Status
from simulated_devices.engine_plunger import Plunger
from simulated_devices.gauge import Key, SimulatedGauge

Pieces = Sequence[Decimal]
"""The nominal lengths of the blocks of a stack, or the one setting of a bench."""

REFERENCE_C = 20.0
"""The temperature that lengths are stated at (ISO 1)."""

FREE_MM = -1.0
"""Where the plunger is before anything is put under it: out by this much."""


@dataclass(frozen=True, slots=True)
class GaugeTruth:
    """How a gauge truly errs.

    ``error_mm`` gives the error over the travel, as it is on the way up. On the way down it
    indicates ``hysteresis_mm`` more: within the gauge there is so much play, and a reversal has to
    take it up first. ``noise_mm`` is the standard deviation of a reading. ``drift_mm_h`` is how far
    its zero wanders in an hour. ``expansion`` is of its scale, µm/(m·K).
    """

    error_mm: Callable[[float], float] = lambda _: 0.0
    hysteresis_mm: float = 0.0
    noise_mm: float = 0.0003
    drift_mm_h: float = 0.0
    expansion: float = 11.5


def errors_of(table: Mapping[float, float]) -> Callable[[float], float]:
    """An error curve through the points of a table of travel and error, straight between them.

    Beyond its ends the error stays what it is there.
    """
    rows = sorted(table.items())

    def error_mm(travel_mm: float) -> float:
        for (low_mm, at_low_mm), (high_mm, at_high_mm) in pairwise(rows):
            if low_mm <= travel_mm <= high_mm:
                share = (travel_mm - low_mm) / (high_mm - low_mm)
                return at_low_mm + share * (at_high_mm - at_low_mm)
        return rows[0][1] if travel_mm < rows[0][0] else rows[-1][1]

    return error_mm


@dataclass(frozen=True, slots=True)
class TrueStandard:
    """A standard as it truly is at 20 °C, whatever its certificate says.

    ``lengths_mm`` are by nominal length. A bench deviates from what it is set to in straight lines
    between them. ``expansion`` is in µm/(m·K).
    """

    lengths_mm: Mapping[Decimal, float]
    is_bench: bool = False
    expansion: float = 11.5

    def length_mm(self, pieces: Pieces) -> float:
        """How long a stack, or a setting, truly is; nothing is the bare plate.

        Raises:
            KeyError: there is no such block.
        """
        if not self.is_bench:
            return sum(self.lengths_mm[each] for each in pieces)
        deviation_mm = errors_of({float(n): true - float(n) for n, true in self.lengths_mm.items()})
        return sum(float(each) + deviation_mm(float(each)) for each in pieces)


class _Course(NamedTuple):
    """One movement without reversing: the plunger, where it began, and the play it began with."""

    plunger: Plunger
    from_mm: float
    play_mm: float


class _Works:
    """The works of a gauge between its plunger and its display; a motion for a simulated gauge."""

    def __init__(self, truth: GaugeTruth) -> None:
        self.truth = truth
        self._course = _Course(Plunger(FREE_MM), FREE_MM, -truth.hysteresis_mm / 2)

    def at(self, t_s: float) -> float:
        """What is indicated, from the place of switching on; see ``motion.Motion.at``."""
        course, truth = self._course, self.truth
        at_mm = course.plunger.at(t_s)
        drift_mm = truth.drift_mm_h * t_s / 3600
        return at_mm + truth.error_mm(at_mm) + self._play_mm(course, at_mm) + drift_mm

    def _play_mm(self, course: _Course, at_mm: float) -> float:
        half_mm = self.truth.hysteresis_mm / 2
        return max(-half_mm, min(half_mm, course.play_mm - (at_mm - course.from_mm)))

    def go_to(self, rests_mm: float, t_s: float) -> None:
        """Come to rest at a travel, from ``t_s`` (seconds) on."""
        course = self._course
        at_mm = course.plunger.at(t_s)
        plunger = Plunger(at_mm)
        plunger.come_to(rests_mm, t_s)
        # In one piece: another thread may be reading.
        self._course = _Course(plunger, at_mm, self._play_mm(course, at_mm))

    @property
    def rests_mm(self) -> float:
        """Where the plunger will be in the end."""
        return self._course.plunger.rests_mm


class RigGauge(SimulatedGauge):
    """A simulated gauge with a battery that can be changed, and a unit key whatever it tells.

    Args:
        profile: how it sends.
        truth: how it errs.
        clock: seconds; it then goes by it, however far it is told to go on. None: as told.
        seed: of the noise.
    """

    def __init__(
        self,
        profile: GaugeProfile,
        truth: GaugeTruth,
        clock: Callable[[], float] | None = None,
        seed: int = 0,
    ) -> None:
        self.works = _Works(truth)
        self._is_in_inches = False
        super().__init__(profile, self.works, noise_mm=truth.noise_mm, seed=seed)
        self._clock, self._begun_s = clock, clock() if clock else 0.0

    def advance(self, dt_s: float) -> bytes:
        """See ``SimulatedGauge.advance``; with a clock ``dt_s`` is not looked at."""
        if self._clock is not None:
            dt_s = max(0.0, self._clock() - self._begun_s - self.t_s)
        return super().advance(dt_s)

    def change_battery(self) -> None:
        """Put in a new battery."""
        self._status.discard(Status.BATTERY_LOW)

    def change_unit(self) -> None:
        """Press the unit key; the frames of a gauge with one unit do not tell that it was."""
        if len(self.profile.resolution) > 1:
            self.press("unit")
        else:
            self._is_in_inches = not self._is_in_inches

    def _shown_mm(self) -> float:
        shown_mm = super()._shown_mm()
        return shown_mm / float(MM_PER_INCH) if self._is_in_inches else shown_mm


class CalibrationRig:
    """A gauge over a standard, with nothing under its plunger yet.

    Give ``gauge`` to a ``Bench``. The bench's thread may read it while another one works here.

    Args:
        profile: how the gauge sends.
        truth: how it errs.
        standard: as it truly is.
        base: what the gauge stands on at its zero.
        temperature_c: of gauge and standard.
        clock: see ``RigGauge``.
        seed: of the noise.
    """

    def __init__(
        self,
        profile: GaugeProfile,
        truth: GaugeTruth,
        standard: TrueStandard,
        *,
        base: Pieces = (),
        temperature_c: float = REFERENCE_C,
        clock: Callable[[], float] | None = None,
        seed: int = 0,
    ) -> None:
        self.gauge = RigGauge(profile, truth, clock, seed)
        self.standard, self.temperature_c = standard, temperature_c
        self._base = tuple(base)

    def time_s(self) -> float:
        """Seconds since the gauge was switched on."""
        return self.gauge.t_s

    def travel_mm(self, pieces: Pieces) -> float:
        """How far the plunger truly travels from the base to a stack, at 20 °C."""
        return self.standard.length_mm(pieces) - self.standard.length_mm(self._base)

    def error_mm(self, pieces: Pieces, *, is_down: bool = False) -> float:
        """The true error at a stack, the zero set on the way up, at 20 °C."""
        truth, travel_mm = self.gauge.works.truth, self.travel_mm(pieces)
        back_mm = truth.hysteresis_mm if is_down else 0.0
        return truth.error_mm(travel_mm) - truth.error_mm(0.0) + back_mm

    def put(self, pieces: Pieces) -> None:
        """Bring the plunger onto a stack from where it is, without reversing."""
        self.go_to(self.travel_mm(pieces))

    def go_to(self, travel_mm: float) -> None:
        """Bring the plunger to a travel (at 20 °C) from where it is, without reversing."""
        works = self.gauge.works
        apart = (self.standard.expansion - works.truth.expansion) * 1e-6
        warm = 1 + apart * (self.temperature_c - REFERENCE_C)
        works.go_to(travel_mm * warm, self.gauge.t_s)

    def rests_mm(self) -> float:
        """The travel at which the plunger will be in the end."""
        return self.gauge.works.rests_mm

    def press(self, key: Key) -> None:
        """Press a key of the gauge."""
        self.gauge.press(key)

    def change_unit(self) -> None:
        """See ``RigGauge.change_unit``."""
        self.gauge.change_unit()

    def change_battery(self) -> None:
        """See ``RigGauge.change_battery``."""
        self.gauge.change_battery()

    def adjust(self, truth: GaugeTruth) -> None:
        """The gauge is adjusted: from now on it errs like this. Its noise stays what it was."""
        self.gauge.works.truth = truth

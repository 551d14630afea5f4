"""An engine on the bench as gauges feel it: places with a true length, screws, lock nuts, stops.

A gauge on a stand reads how far the place under its plunger is from where the stand holds it. What
is done to the engine or to a gauge changes the truth at once; the plunger takes its time to follow,
as an ``engine_plunger.Plunger`` does. Nothing here has a clock: time passes with ``advance``, or
with the bench that runs the gauges. Nothing but the gauges' noise is left to chance: what a hand
does badly is told to the engine by the hand (``engine_hand``).
"""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from drivers.profile import GaugeProfile
from simulated_devices.engine_plunger import Plunger
from simulated_devices.gauge import SimulatedGauge
from simulated_devices.motion import Motion

LIFTED_MM = 2.5
"""How far a lifted plunger stands above what it last lay on."""

TURNS_S = 0.6
"""Turns a second of a hand at a screw."""

NUT_S = 0.5
"""How long it takes to tighten a nut, or to loosen it."""


WORKED_MM, WORKED_S = 1.0, 1.0
"""How far a part swings under a plunger when it is worked, and how long."""

BUMPED_S = 2.0
"""How long a stand swings that was bumped into."""


@dataclass(slots=True)
class Place:
    """Somewhere a plunger can be put.

    ``spots_mm`` are the true lengths there, by the name of the spot: one named ``""``, four points
    of a liner, or the two stops of a part that can be rocked. A screw moves the last of them by
    ``mm_per_turn``, which is below zero if clockwise lowers it and zero without a screw; a nut
    holds the screw while it ``is_tight``. ``wave_mm`` is the height of a once-round wave over a
    turn of the crank, highest at ``high_deg``: a shaft out of true, a bent crankshaft's web.
    """

    spots_mm: dict[str, float]
    mm_per_turn: float = 0.0
    is_tight: bool = False
    wave_mm: float = 0.0
    high_deg: float = 0.0
    nut_mm: float = field(default=0.0, init=False)
    """By how much the nut moves the length while it is tight."""

    @property
    def moved(self) -> str:
        """The spot that the screw moves."""
        return [*self.spots_mm][-1]

    def length_mm(self, spot: str, crank_deg: float) -> float:
        """The true length at a spot, with the crank at ``crank_deg``."""
        around = math.radians(crank_deg - self.high_deg)
        return self.spots_mm[spot] + self.wave_mm * math.cos(around)


class GaugeByClock(SimulatedGauge):
    """A gauge that goes by a clock: however far it is told to go on, it goes to what that says."""

    def __init__(
        self,
        profile: GaugeProfile,
        motion: Motion,
        clock: Callable[[], float],
        noise_mm: float,
        seed: int,
    ) -> None:
        super().__init__(profile, motion, noise_mm=noise_mm, seed=seed)
        self._clock, self._begun_s = clock, clock()

    def advance(self, dt_s: float) -> bytes:  # noqa: ARG002
        """See ``SimulatedGauge.advance``; ``dt_s`` is not looked at."""
        return super().advance(max(0.0, self._clock() - self._begun_s - self.t_s))


class Engine:
    """An engine with the gauges that are put on it.

    Give ``gauges`` to a ``Bench``, or call ``advance``. The bench's thread may read the gauges
    while another one works here: whatever is done moves each plunger in one piece.

    Args:
        places: by name; setting masters are places too.
        profiles: by its name, how each gauge sends.
        noise_mm: standard deviation of every gauge's reading.
        seed: of the noise.
        clock: seconds; the gauges then go by it. Without one they go as far as they are told to.

    Attributes:
        gauges: the simulated gauges, by name.
    """

    def __init__(
        self,
        places: Mapping[str, Place],
        profiles: Mapping[str, GaugeProfile],
        noise_mm: float = 0.0003,
        seed: int = 0,
        clock: Callable[[], float] | None = None,
    ) -> None:
        self._places = dict(places)
        self._plungers = {name: Plunger() for name in profiles}
        self.gauges: dict[str, SimulatedGauge] = {}
        for number, (name, profile) in enumerate(profiles.items(), start=seed):
            plunger = self._plungers[name]
            self.gauges[name] = (
                SimulatedGauge(profile, plunger, noise_mm=noise_mm, seed=number)
                if clock is None
                else GaugeByClock(profile, plunger, clock, noise_mm, number)
            )
        self._stands_mm = dict.fromkeys(profiles, 0.0)
        self._under: dict[str, tuple[str, str] | None] = dict.fromkeys(profiles)
        self._is_lifted = dict.fromkeys(profiles, True)
        self._crank_deg = 0.0

    def time_s(self) -> float:
        """Seconds since all was switched on, by the gauge that is furthest behind."""
        return min(gauge.t_s for gauge in self.gauges.values())

    def advance(self, dt_s: float) -> dict[str, bytes]:
        """Let ``dt_s`` seconds pass for every gauge; what each sent, by its name."""
        return {name: gauge.advance(dt_s) for name, gauge in self.gauges.items()}

    def spots_mm(self, place: str) -> dict[str, float]:
        """The true lengths at a place, by spot, without the wave of the crank."""
        return dict(self._places[place].spots_mm)

    def wave_mm(self, place: str) -> float:
        """The height of the wave that the crank makes there."""
        return self._places[place].wave_mm

    def under(self, gauge: str) -> tuple[str, str] | None:
        """The place and the spot that a gauge's plunger is at; None before it was put anywhere."""
        return self._under[gauge]

    def is_lifted(self, gauge: str) -> bool:
        """Whether a gauge's plunger is lifted off what is under it."""
        return self._is_lifted[gauge]

    def mount(self, gauge: str, at_mm: float) -> None:
        """Put up a gauge's stand so that it reads zero on a length of ``at_mm``; plunger lifted."""
        self._stands_mm[gauge] = at_mm
        self._under[gauge], self._is_lifted[gauge] = None, True
        self._plungers[gauge].come_to(LIFTED_MM, self.gauges[gauge].t_s)

    def lift(self, gauge: str) -> None:
        """Lift the plunger off what it lies on."""
        if not self._is_lifted[gauge]:
            self._is_lifted[gauge] = True
            rests_mm = self._rests_mm(gauge) + LIFTED_MM
            self._plungers[gauge].come_to(rests_mm, self.gauges[gauge].t_s)

    def put(self, gauge: str, place: str, spot: str = "") -> None:
        """Move the gauge to a spot; a plunger that is not lifted is dragged there.

        Raises:
            KeyError: there is no such place, or no such spot there.
        """
        self._places[place].spots_mm[spot]
        self._under[gauge] = place, spot
        self._follow(gauge)

    def let_down(self, gauge: str) -> None:
        """Let the plunger down on what is under it."""
        self._is_lifted[gauge] = False
        self._follow(gauge)

    def turn(self, place: str, turns: float) -> None:
        """Turn the screw, clockwise above zero. Behind a tight nut it does not move."""
        there = self._places[place]
        if there.is_tight or not turns:
            return
        by_mm = turns * there.mm_per_turn
        there.spots_mm[there.moved] += by_mm
        for gauge in self._lying_on(place, there.moved):
            self._plungers[gauge].be_turned(by_mm, abs(turns) / TURNS_S, self.gauges[gauge].t_s)

    def loosen(self, place: str) -> None:
        """Loosen the nut: what it had moved goes back."""
        there = self._places[place]
        if there.is_tight:
            there.is_tight = False
            self._shift(place, -there.nut_mm)
            there.nut_mm = 0.0

    def tighten(self, place: str, shifts_mm: float = 0.0) -> None:
        """Tighten the nut, which moves the length by ``shifts_mm``. A tight one stays as it is."""
        there = self._places[place]
        if not there.is_tight:
            there.is_tight, there.nut_mm = True, shifts_mm
            self._shift(place, shifts_mm)

    def _shift(self, place: str, by_mm: float) -> None:
        there = self._places[place]
        there.spots_mm[there.moved] += by_mm
        for gauge in self._lying_on(place, there.moved):
            self._plungers[gauge].be_shifted(by_mm, NUT_S, self.gauges[gauge].t_s)

    def work(self, place: str) -> None:
        """Work the part through its travel: it swings under a plunger, and comes back."""
        for gauge in self._lying_on(place):
            self._plungers[gauge].swing(WORKED_MM, WORKED_S, self.gauges[gauge].t_s)

    def bar_to(self, crank_deg: float) -> None:
        """Turn the crank to an angle; every plunger on what it moves follows."""
        self._crank_deg = crank_deg
        for gauge, under in self._under.items():
            if under is not None and self._places[under[0]].wave_mm:
                self._follow(gauge)

    def bump(self, gauge: str, by_mm: float = 0.3) -> None:
        """Bump into a stand: the reading swings, and comes back to where it was."""
        self._plungers[gauge].swing(by_mm, BUMPED_S, self.gauges[gauge].t_s)

    def knock(self, gauge: str, by_mm: float) -> None:
        """Knock a stand out of place: the gauge reads higher by ``by_mm`` from now on."""
        self._stands_mm[gauge] -= by_mm
        if self._under[gauge] is not None:
            self._follow(gauge)

    def press(self, gauge: str, spot: str) -> None:
        """Rock the part under a gauge to another of its stops; the plunger stays on it.

        Raises:
            KeyError: the gauge is on no place yet, or the place has no such stop.
        """
        under = self._under[gauge]
        if under is None:
            raise KeyError(spot)
        self.put(gauge, under[0], spot)

    def _rests_mm(self, gauge: str) -> float:
        """What the gauge reads in the end on what is under it; its stand's own zero on nothing."""
        under = self._under[gauge]
        if under is None:
            return 0.0
        place, spot = under
        return self._places[place].length_mm(spot, self._crank_deg) - self._stands_mm[gauge]

    def _follow(self, gauge: str) -> None:
        rests_mm = self._rests_mm(gauge) + (LIFTED_MM if self._is_lifted[gauge] else 0.0)
        self._plungers[gauge].come_to(rests_mm, self.gauges[gauge].t_s)

    def _lying_on(self, place: str, spot: str | None = None) -> list[str]:
        """The gauges whose plungers lie on a spot of a place, or on any of it."""
        return [
            gauge
            for gauge, under in self._under.items()
            if not self._is_lifted[gauge]
            and under is not None
            and under[0] == place
            and spot in (None, under[1])
        ]

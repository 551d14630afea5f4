"""What goes wrong in a session of the campaign: one kind of fault each, drawn by the seed."""

from dataclasses import dataclass, field

from drivers.link import READ_BYTES
from simulated_devices import WireFaults
from simulated_devices.faults import WrongBaud

HELD_BYTES = 4095
"""What a terminal of Linux holds while nobody reads it."""

OTHER_BAUDS = (1200, 2400, 4800, 9600, 19200, 38400, 57600, 115200)

WIRE = ("drop", "flip", "double", "garbage", "cut", "stutter")
KEYS = ("unit", "zero", "direction", "incremental", "hold", "sleep", "battery", "error")
OTHERS = ("none", "wrong baud", "cable pulled", "overspeed", "machine asleep", "reader slow")
FAULTS = (*OTHERS, *WIRE, *KEYS)


@dataclass
class Accident:
    """A fault, when it begins and how long it lasts (seconds)."""

    fault: str
    begin_s: float
    for_s: float
    chance: float = 0.0
    seed: int = 0
    baud: int = 0
    _held: bytearray = field(default_factory=bytearray)
    _wire: object = None
    _pressed: int = 0

    def is_on(self, t_s):
        return self.begin_s <= t_s < self.begin_s + self.for_s

    def press(self, gauge, t_s):
        """Press the key when its time has come, and what takes it back when that has."""
        if self.fault not in KEYS:
            return
        back = {"sleep": "wake", "error": "clear"}.get(self.fault, self.fault)
        if self._pressed == 0 and t_s >= self.begin_s:
            gauge.press(self.fault)
            self._pressed = 1
        elif self._pressed == 1 and t_s >= self.begin_s + self.for_s and self.fault != "battery":
            gauge.press(back)
            self._pressed = 2

    def through(self, data, t_s, settings):
        """What arrives of ``data`` at ``t_s``."""
        if self.fault in WIRE:
            if self._wire is None:
                bits = settings.data_bits
                self._wire = WireFaults(**{self.fault: self.chance}, data_bits=bits, seed=self.seed)
            return self._wire.through(data) if self.is_on(t_s) else self._wire.through(b"") + data
        if self.fault == "wrong baud" and self.is_on(t_s):
            return WrongBaud(settings, self.baud).through(data) if data else data
        if self.fault == "cable pulled" and self.is_on(t_s):
            return b""
        if self.fault in ("machine asleep", "reader slow"):
            return self._held_back(data, t_s)
        return data

    def _held_back(self, data, t_s):
        """Nobody reads: the system holds what it can, and the rest is lost."""
        if self.is_on(t_s):
            self._held += data[: HELD_BYTES - len(self._held)]
            return b""
        data, self._held = bytes(self._held) + data, bytearray()
        return data


def drawn(dice, fault, settings):
    """One accident of the kind, from a source of randomness."""
    longest_s = {"reader slow": 0.4, "machine asleep": 30.0}.get(fault, 4.0)
    others = [baud for baud in OTHER_BAUDS if baud != settings.baud]
    return Accident(
        fault,
        begin_s=dice.uniform(0.0, 6.0),
        for_s=dice.uniform(0.05, longest_s),
        chance=10 ** dice.uniform(-3.0, -1.0),
        seed=dice.randrange(10**9),
        baud=dice.choice(others),
    )


assert READ_BYTES >= HELD_BYTES  # all that is held comes in one piece

"""Holds a far-off reading aside until the next ones say whether it was a wrong frame or a move."""

import math

from daq.settle.statistics import median

FAR = 3.0  # tolerances from the reading before
REMEMBERED = 21


class Gate:
    """One wrong frame is dropped; two or three agreeing ones are a new level.

    `check` wants lengths in tolerances from the present origin and answers "pass", "hold" or
    "move"; after "move" the readings that made it are in `held`.
    """

    def __init__(self) -> None:
        self.clear()

    def clear(self) -> None:
        """Forget all readings."""
        self._recent: list[float] = []
        self.held: list[tuple[float, float]] = []
        self._sides: list[bool] = []

    def check(
        self,
        t_s: float,
        y: float,
        value_mm: float,
        gap_s: float,
        at_rest: tuple[float, float] | None,
    ) -> str:
        """``at_rest``: the resting level and how far from it a single reading may lie, or None."""
        recent = self._recent
        if recent:
            before = recent[-1]
            far = abs(y - before) > FAR and self._is_suspect(y)
            if far or (at_rest is not None and abs(y - at_rest[0]) > at_rest[1]):
                level = before if at_rest is None else at_rest[0]
                self.held.append((t_s, value_mm))
                self._sides.append(y > level)
                return "move" if self._is_move(gap_s) else "hold"
        self.held, self._sides = [], []
        self.note(y)
        return "pass"

    def note(self, y: float) -> None:
        """Remember a reading that counts."""
        self._recent.append(y)
        if len(self._recent) > REMEMBERED:
            del self._recent[0]

    def _is_suspect(self, y: float) -> bool:
        """Second differences are blind to a steady run, so a fast move is no suspect for long."""
        r = self._recent
        far = FAR
        if len(r) >= 3:
            bends = [abs(a - 2 * b + c) for a, b, c in zip(r, r[1:], r[2:], strict=False)]
            far = max(FAR, 3.6 * median(bends))
        if abs(y - r[-1]) <= far:
            return False
        if len(r) < 8:
            return True
        # A vibration swings far from reading to reading and stays where it was on the whole.
        mean = sum(r) / len(r)
        sd = math.sqrt(sum((a - mean) ** 2 for a in r) / len(r))
        return abs(y - mean) > max(far, 5 * sd)

    def _is_move(self, gap_s: float) -> bool:
        enough = 2 if gap_s >= 1 / 16 else 3
        sides = self._sides[-enough:]
        return len(self.held) >= 5 or (len(sides) == enough and len(set(sides)) == 1)

"""Finds room for labels in a plot: near what they name, and over nothing else."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from daq.screen.trace_scale import Array, Frame

Box = tuple[float, float, float, float]
"""Left, upper, right and lower edge, pixels."""

FARTHEST = 110.0
"""A label stands no more pixels over or under its box."""

ON_A_LINE, ASIDE = 15.0, 0.1
"""How many pixels further away is as good as on a line across the plot, and as a pixel aside."""

LEAD_FROM = 24.0
"""A label this many pixels from its box, or more, is led to it by a line."""

AIR = 5.0


@dataclass(frozen=True, slots=True)
class Spot:
    """The place of a label: the middle of its text's width, and its base line.

    ``lead``: the line to what it names, as x, from y, to y; None where it stands close by.
    """

    middle: float
    base: float
    lead: tuple[float, float, float] | None


class Shelf:
    """Gives labels their places in a frame, one after the other.

    Args:
        frame: the plot.
        xs, ys: the line of the readings as it is drawn, in pixels.
        lines: heights of lines across the plot, in pixels.
    """

    def __init__(self, frame: Frame, xs: Array, ys: Array, lines: Sequence[float]) -> None:
        self._frame, self._xs, self._ys = frame, xs, ys
        self._lines = [(frame.left, y - 2, frame.right, y + 2) for y in lines]
        self._taken: list[Box] = []

    def place(self, box: Box, width: float, height: float) -> Spot | None:
        """The place beside ``box`` for a label of ``width`` by ``height`` pixels, or None.

        As near as can be over or under the box, clear of the readings and of other labels; rather
        a little further away than on a line across the plot, or aside.
        """
        best: tuple[float, float, Box] | None = None
        for middle in self._middles(box, width):
            for label, away in self._candidates(box, middle, width, height):
                if away > FARTHEST or not self._is_free(label):
                    continue
                away += ON_A_LINE * any(_meet(label, line) for line in self._lines)
                away += ASIDE * abs(middle - (box[0] + box[2]) / 2)
                if best is None or away < best[0]:
                    best = away, middle, label
        if best is None:
            return None
        _, middle, label = best
        self._taken.append(label)
        x = min(max(middle, box[0]), box[2])
        near, at = (label[3], box[1]) if label[3] < box[1] else (label[1], box[3])
        lead = (x, near, at) if abs(at - near) >= LEAD_FROM else None
        return Spot(middle, label[3] - 0.25 * height, lead)

    def _middles(self, box: Box, width: float) -> list[float]:
        left, _, right, _ = box
        least = self._frame.left + width / 2 + AIR
        most = max(self._frame.right - width / 2 - AIR, least)
        tries = ((left + right) / 2, left + width / 2, right - width / 2)
        return list(dict.fromkeys(min(max(each, least), most) for each in tries))

    def _candidates(
        self, box: Box, middle: float, width: float, height: float
    ) -> Iterator[tuple[Box, float]]:
        """A label over the box and one under it, each with its distance from the box."""
        left, right = middle - width / 2, middle + width / 2
        top, bottom = self._hull(box, left, right)
        yield (left, top - AIR - height, right, top - AIR), box[1] - top
        yield (left, bottom + AIR, right, bottom + AIR + height), bottom - box[3]

    def _hull(self, box: Box, left: float, right: float) -> tuple[float, float]:
        """The highest and the lowest point of box and readings between two columns."""
        ys = self._ys[(self._xs >= left) & (self._xs <= right)]
        if len(self._xs):
            edges = np.interp([left, right], self._xs, self._ys)
            ys = np.concatenate((ys, edges))
        ys = np.append(ys, [box[1], box[3]])
        return float(ys.min()), float(ys.max())

    def _is_free(self, label: Box) -> bool:
        frame = self._frame
        if label[1] < frame.top + 2 or label[3] > frame.bottom - 2:
            return False
        return not any(_meet(label, other) for other in self._taken)


def _meet(a: Box, b: Box) -> bool:
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]


def apart(heights: Sequence[float], distance: float, low: float, high: float) -> list[float]:
    """``heights``, moved as little as needed so that they lie ``distance`` apart.

    They stay in their order and, if there is room, between ``low`` and ``high``.
    """
    order = sorted(range(len(heights)), key=lambda k: heights[k])
    moved = list(heights)
    least = low
    for k in order:
        moved[k] = least = max(moved[k], least)
        least += distance
    most = high
    for k in reversed(order):
        moved[k] = most = min(moved[k], most)
        most -= distance
    return moved

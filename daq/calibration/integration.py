"""Integrals of smooth functions over a finite stretch, to about 1e-12 of the whole."""

import math
from collections.abc import Callable, Sequence
from functools import lru_cache
from itertools import pairwise

_POINTS = 15
_DEEPEST = 40


def integral(
    function: Callable[[float], float],
    low: float,
    high: float,
    breaks: Sequence[float] = (),
    *,
    relative: float = 1e-12,
) -> float:
    """The integral of ``function`` from ``low`` to ``high``, not below ``low``.

    Each piece is integrated whole and in halves; where the two differ, the halves are split
    again. ``breaks`` are places to cut at: corners, steps, and both sides of a narrow peak, which
    might otherwise be stepped over. Those outside are left aside.

    Source: the rule of Gauss and Legendre with 15 points.
    """
    if not low < high:
        return 0.0
    cuts = [low, *sorted({cut for cut in breaks if low < cut < high}), high]
    pieces = [(a, b, _gauss(function, a, b)) for a, b in pairwise(cuts)]
    size = math.fsum(abs(rough) for _, _, rough in pieces)
    found: list[float] = []
    waiting = [(a, b, rough, 0) for a, b, rough in pieces]
    while waiting:
        a, b, rough, depth = waiting.pop()
        middle = (a + b) / 2
        left, right = _gauss(function, a, middle), _gauss(function, middle, b)
        # A piece may be off by its own share of the digits, or by next to nothing of the whole.
        near = max(relative * abs(left + right), 1e-3 * relative * size)
        if abs(left + right - rough) <= near or depth >= _DEEPEST:
            found += [left, right]
        else:
            waiting += [(a, middle, left, depth + 1), (middle, b, right, depth + 1)]
    return math.fsum(found)


def _gauss(function: Callable[[float], float], a: float, b: float) -> float:
    middle, half = (a + b) / 2, (b - a) / 2
    return half * math.fsum(w * function(middle + half * x) for x, w in _nodes())


@lru_cache(maxsize=1)
def _nodes() -> tuple[tuple[float, float], ...]:
    """Nodes and weights on -1 to 1: the zeros of the Legendre polynomial, by Newton's method.

    Source: DLMF 3.5(v); the weights are 2 / ((1 - x²) P'(x)²).
    """
    found: list[tuple[float, float]] = []
    for i in range(_POINTS):
        x = math.cos(math.pi * (i + 0.75) / (_POINTS + 0.5))
        for _ in range(50):
            value, slope = _legendre(x)
            x -= value / slope
            if abs(value / slope) < 1e-16:
                break
        slope = _legendre(x)[1]
        found.append((x, 2 / ((1 - x * x) * slope * slope)))
    return tuple(found)


def _legendre(x: float) -> tuple[float, float]:
    """The Legendre polynomial of degree ``_POINTS`` at ``x``, and its derivative."""
    before, value = 1.0, x
    for n in range(2, _POINTS + 1):
        before, value = value, ((2 * n - 1) * x * value - (n - 1) * before) / n
    return value, _POINTS * (x * value - before) / (x * x - 1)

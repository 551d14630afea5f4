"""What a gauge would show of a motion: times, readings, and the truth behind them."""

import zlib
from dataclasses import dataclass

import numpy as np

from .families import FAMILIES, NEVER_RESTING, log_uniform
from .motion import Stretch


@dataclass
class Trace:
    """Times in s, readings in mm; `wrong` marks wrong frames. Stretches are in tolerances."""

    family: str
    hz: int
    coarse: bool
    seed: int
    t_s: np.ndarray
    value_mm: np.ndarray
    step_mm: float
    tolerance_mm: float
    stretches: list[Stretch]
    wrong: np.ndarray

    @property
    def never_rests(self) -> bool:
        return self.family in NEVER_RESTING

    def x(self, t_s):
        """The motion without noise, in tolerances, at times of any stretch."""
        begins = [s.begin_s for s in self.stretches]
        which = np.maximum(np.searchsorted(begins, t_s, side="right") - 1, 0)
        out = np.empty(len(t_s))
        for k, stretch in enumerate(self.stretches):
            mine = which == k
            out[mine] = stretch.x(t_s[mine])
        return out


def make_trace(family: str, hz: int, coarse: bool, seed: int) -> Trace:
    """The same motion and noise for a coarse display (step = tolerance) and a fine one (1/100)."""
    rng = np.random.default_rng([zlib.crc32(family.encode()), hz, seed])
    motion, how = FAMILIES[family](rng, hz)
    tolerance_mm = float(rng.choice([0.001, 0.01]))
    t = _times(rng, motion.end_s, hz, how.get("irregular", False))
    if "lost" in how:
        t = _without_runs(rng, t, how["lost"])
    trace = Trace(
        family, hz, coarse, seed, t, t, tolerance_mm * (1 if coarse else 0.01), tolerance_mm,
        motion.stretches, np.zeros(len(t), bool),
    )  # fmt: skip
    sd = how["sd"] if "sd" in how else log_uniform(rng, 0.05, 1.0)
    y = trace.x(t) + sd * _noise(rng, len(t), hz, how.get("correlation_s"))
    if "extra" in how:
        y = y + how["extra"](t)
    step = trace.step_mm / tolerance_mm
    y = np.round(y / step) * step
    if "wrong" in how:
        y = _with_wrong_frames(rng, y, how["wrong"], trace.wrong)
    trace.value_mm = y * tolerance_mm
    return trace


def _times(rng, end_s, hz, irregular):
    n = int(end_s * hz)
    jitter = 0.3 if irregular else 0.03
    t = (np.arange(n) + rng.random() + rng.uniform(-0.5, 0.5, n) * jitter) / hz
    if not irregular:
        return t
    keep = rng.random(n) > 0.2
    for _ in range(2):
        gap = rng.uniform(1.0, end_s - 2)
        keep &= (t < gap) | (t > gap + rng.uniform(0.3, 1.0))
    return t[keep]


def _without_runs(rng, t, share):
    keep = np.ones(len(t), bool)
    while keep.mean() > 1 - share:
        begin = rng.uniform(t[0], t[-1])
        keep &= (t < begin) | (t > begin + rng.uniform(0.05, 0.4))
    return t[keep]


def _noise(rng, n, hz, correlation_s):
    shocks = rng.standard_normal(n)
    if correlation_s is None:
        return shocks
    rho = np.exp(-1 / (hz * correlation_s))
    out, last = [], float(shocks[0])
    for shock in shocks.tolist():
        last = rho * last + np.sqrt(1 - rho * rho) * shock
        out.append(last)
    return np.array(out)


def _with_wrong_frames(rng, y, share, wrong):
    """Zeros, slipped decimal points, lost signs and jumps; marked in `wrong`."""
    kind = rng.integers(0, 4, len(y))
    jump = y + np.sign(rng.standard_normal(len(y))) * np.exp(rng.uniform(1.6, 7, len(y)))
    bad = np.choose(kind, [np.zeros_like(y), y * 10, -y, jump])
    wrong |= (rng.random(len(y)) < share) & (np.abs(bad - y) >= 2)
    return np.where(wrong, bad, y)

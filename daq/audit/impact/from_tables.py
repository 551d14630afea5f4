"""Impact from the tables of the open log format, as arrays of integers.

A table is a mapping from the names of columns to arrays, as ``daq.audit.layout`` has them. Names
are numbers, the same in all tables, and words are their places among those that are allowed, −1 for
none: as ``daq.audit.intake`` gives them. A table has whole gauges, sorted by gauge and number.
"""

import math
from collections.abc import Callable, Iterator, Mapping

import numpy as np
import numpy.typing as npt

from daq.audit.impact.curve import ErrorCurve, Floats, Ints, curve_of
from daq.audit.impact.periods import Period, Run, periods_of
from daq.audit.impact.touched import Bools, Captures, Texts
from daq.audit.layout import ENDS, FOUND, NULL, WAYS, WORDS

Rows = Mapping[str, Ints]
Names = Callable[[str, Ints], list[str]]
"""The texts that the numbers of a column stand for."""

NEEDED = {
    "points": ("gauge", "run", "at_us", "nominal_nm", "reference_nm", "indicated_nm"),
    "captures": ("gauge", "seq", "at_us", "value_nm"),
}
"""The columns without which there is no impact. It needs a permissible error (``limit_nm`` of
``gauges``) or a decision (``found_word`` of ``calibrations``) too."""

NAMED = ("job", "feature", "operator")
"""The columns of names of captures that an impact tells of."""

WANTED = {
    "points": (*NEEDED["points"], "seq", "found", "way", "u_reference_nm"),
    "captures": (*NEEDED["captures"], "u_nm", "lower_nm", "upper_nm", *NAMED),
}
"""All columns that it makes use of."""

_NM_PER_MM = 1e6
"""Divided by, not multiplied with its inverse: so a length is the nearest float to its decimals."""

_BROKEN = -2
_OUT_OF = {
    **dict.fromkeys((WORDS.index("fail"), WORDS.index("conditional fail")), 1),
    **dict.fromkeys((WORDS.index("pass"), WORDS.index("conditional pass")), 0),
    **dict.fromkeys((-1, WORDS.index("not judged"), WORDS.index("")), -1),
}
"""What a decision says: out of limits, within, or nothing."""

_LEFT = FOUND.index("as left")
_BROKEN_OFF = ENDS.index("broken off")
_WAYS = np.array([*WAYS, ""], dtype=object)


class Judges:
    """What says that a calibration is out of limits: its own decision, or the permissible error.

    Args:
        gauges: the table of that name; may be empty.
        calibrations: the table of that name; may be empty.
    """

    def __init__(self, gauges: Rows, calibrations: Rows) -> None:
        self._limit = _by_gauge(gauges, "limit_nm")
        self._step = _by_gauge(gauges, "step_nm")
        self._said: dict[tuple[int, int], tuple[int, int]] = {}
        if "run" not in calibrations:
            return
        n = calibrations["run"].size
        columns = [_column(calibrations, name, n).tolist() for name in _DECISIONS]
        for gauge, run, ended, found, left in zip(*columns, strict=True):
            words = (_OUT_OF[found], _OUT_OF[left])
            self._said[gauge, run] = (_BROKEN, _BROKEN) if ended == _BROKEN_OFF else words

    def are_out(self, gauge: Ints, run: Ints, found_nm: Ints, left_nm: Ints) -> tuple[Ints, Ints]:
        """Whether runs were out of limits, as found and as left: 1, 0, or −1 where nothing tells.

        Args:
            gauge: of each run; shape (n,), as all of these.
            run: its number.
            found_nm: the largest error of either sign as found; −1 for none.
            left_nm: the same as left; −1 where the gauge was left as it was found.
        """
        limit = _looked_up(self._limit, gauge)
        keys = zip(gauge.tolist(), run.tolist(), strict=True)
        said = [self._said.get(key, (-1, -1)) for key in keys] if self._said else []
        found = _by(limit, found_nm, [word for word, _ in said])
        as_left = _by(limit, left_nm, [word for _, word in said])
        unsaid = (left_nm < 0) & (as_left == -1)
        left = np.where(unsaid, found, as_left)
        return np.maximum(found, -1), np.maximum(left, -1)  # broken off tells nothing

    def step_nm(self, gauge: int) -> int:
        """The step of a gauge; `NULL` if it is not known."""
        return self._step.get(gauge, NULL)


def _by(limit: Ints, worst_nm: Ints, words: list[int]) -> Ints:
    """By the word, where there is one; else by the largest error and the permissible one."""
    by_figures = np.where((limit == NULL) | (worst_nm < 0), -1, worst_nm > limit)
    said = np.array(words or [-1] * limit.size, dtype=np.int64)
    return np.where(said == -1, by_figures, said)


_DECISIONS = ("gauge", "run", "ended", "found_word", "left_word")


class _Runs:
    """The runs of a table of points: where they begin, whose they are, whether they are out."""

    def __init__(self, points: Rows, judges: Judges) -> None:
        gauge, run = points["gauge"], points["run"]
        n = gauge.size
        self.starts = _starts(gauge, run)
        self.ends = np.append(self.starts[1:], n)
        self.gauge, self.run = gauge[self.starts], run[self.starts]
        self.is_left = _column(points, "found", n) == _LEFT
        error = np.abs(points["indicated_nm"] - points["reference_nm"])
        found = np.maximum.reduceat(np.where(self.is_left, -1, error), self.starts)
        left = np.maximum.reduceat(np.where(self.is_left, error, -1), self.starts)
        self.found_out, self.left_out = judges.are_out(self.gauge, self.run, found, left)

    def bad_gauges(self) -> Ints:
        """The gauges of which any run was out of limits, in order."""
        return np.unique(self.gauge[(self.found_out == 1) | (self.left_out == 1)])

    def outs(self, i: int) -> tuple[bool | None, bool | None]:
        """Whether one run was out, as found and as left; None where nothing tells."""
        found, left = (
            None if out < 0 else bool(out) for out in (self.found_out[i], self.left_out[i])
        )
        return found, left


def bad_gauges_in(points: Rows, judges: Judges) -> Ints:
    """The gauges that a calibration found or left out of limits, in order."""
    return _Runs(points, judges).bad_gauges() if points["gauge"].size else np.zeros(0, np.int64)


def periods_in(points: Rows, judges: Judges, names: Names) -> Iterator[tuple[int, Period]]:
    """When gauges were used out of their limits, a gauge at a time, each by its number.

    Args:
        points: the table of that name.
        judges: what says that a gauge is out.
        names: asked once a column, for the gauges that were.
    """
    if not points["gauge"].size:
        return
    runs = _Runs(points, judges)
    bad = runs.bad_gauges()
    theirs = np.flatnonzero(np.isin(runs.gauge, bad))
    gauge_names = dict(zip(bad.tolist(), names("gauge", bad), strict=True))
    run_codes = np.unique(runs.run[theirs])
    run_names = dict(zip(run_codes.tolist(), names("run", run_codes), strict=True))
    for group in np.split(theirs, np.flatnonzero(np.diff(runs.gauge[theirs])) + 1):
        built = []
        for i in group.tolist():
            gauge, run = int(runs.gauge[i]), int(runs.run[i])
            rows = slice(int(runs.starts[i]), int(runs.ends[i]))
            step = judges.step_nm(gauge)
            names_ = (gauge_names[gauge], run_names[run])
            built.append(_run(points, rows, runs.is_left, names_, runs.outs(i), step))
        for period in periods_of(built):
            yield int(runs.gauge[group[0]]), period


def _run(
    points: Rows,
    rows: slice,
    left: Bools,
    names: tuple[str, str],
    outs: tuple[bool | None, bool | None],
    step_nm: int,
) -> Run:
    at, is_left = points["at_us"][rows], left[rows]
    found = _curve(points, rows, ~is_left, step_nm)
    return Run(
        *names,
        first_us=int(at.min()),
        last_us=int(at.max()),
        found=found,
        left=_curve(points, rows, is_left, step_nm) or found,
        found_out=outs[0],
        left_out=outs[1],
    )


def _curve(points: Rows, rows: slice, which: Bools, step_nm: int) -> ErrorCurve | None:
    def mm(name: str) -> Floats:
        return points[name][rows][which] / _NM_PER_MM

    u = None
    if "u_reference_nm" in points:
        u_reference = _mm(points["u_reference_nm"][rows][which], math.nan)
        # A reading is off by half a step either way, evenly spread: step/√12.
        rounding = 0.0 if step_nm == NULL else step_nm / _NM_PER_MM / math.sqrt(12)
        u = np.hypot(u_reference, rounding)
    way = _WAYS[_column(points, "way", points["gauge"].size)[rows][which]]
    return curve_of(mm("nominal_nm"), mm("reference_nm"), mm("indicated_nm"), way, u)


def captures_in(captures: Rows, texts: Mapping[str, Texts]) -> Captures:
    """The captures of a table.

    Args:
        captures: the table of that name.
        texts: its columns of names as text, those of ``NAMED``; any may be missing.
    """
    size = captures["seq"].size

    def lengths(name: str, missing: float) -> Floats:
        return _mm(_column(captures, name, size, NULL), missing)

    nothing = np.full(size, "", dtype=object)
    job, feature, operator = (texts.get(name, nothing) for name in NAMED)
    return Captures(
        seq=captures["seq"],
        at_us=captures["at_us"],
        value_mm=lengths("value_nm", math.nan),
        u_mm=lengths("u_nm", math.nan),
        lower_mm=lengths("lower_nm", -math.inf),
        upper_mm=lengths("upper_nm", math.inf),
        job=job,
        feature=feature,
        document=nothing,
        operator=operator,
    )


def slices_of(gauge: Ints) -> dict[int, slice]:
    """Where the rows of each gauge are, in a column sorted by gauge."""
    if gauge.size == 0:
        return {}
    starts = _starts(gauge)
    ends = np.append(starts[1:], gauge.size)
    return {
        int(gauge[start]): slice(int(start), int(end))
        for start, end in zip(starts, ends, strict=True)
    }


def _starts(*columns: Ints) -> npt.NDArray[np.intp]:
    """Where any of the columns changes, and the first row."""
    changes = np.zeros(columns[0].size, dtype=bool)
    changes[0] = True
    for column in columns:
        changes[1:] |= column[1:] != column[:-1]
    return np.flatnonzero(changes)


def _by_gauge(gauges: Rows, column: str) -> dict[int, int]:
    """A figure of each gauge; of several rows of a gauge the last counts."""
    if "gauge" not in gauges or column not in gauges:
        return {}
    return dict(zip(gauges["gauge"].tolist(), gauges[column].tolist(), strict=True))


def _looked_up(figures: dict[int, int], gauge: Ints) -> Ints:
    """The figure of each gauge; `NULL` where there is none."""
    codes, place = np.unique(gauge, return_inverse=True)
    known = np.array([figures.get(code, NULL) for code in codes.tolist()], dtype=np.int64)
    return known[place]


def _column(table: Rows, name: str, size: int, missing: int = -1) -> Ints:
    """A column; ``missing`` all along where the table lacks it."""
    return table[name] if name in table else np.full(size, missing, dtype=np.int64)


def _mm(nm: Ints, missing: float) -> Floats:
    return np.where(nm == NULL, missing, nm / _NM_PER_MM)

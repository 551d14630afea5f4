"""Scatter at three levels: within minutes, from day to day, from run to run; and a check standard.

A run is a stretch of days that began anew: the gauge set up again, weeks or months later. Values,
standard deviations and limits are in one unit.

Source: NIST/SEMATECH e-Handbook of Statistical Methods, 2.4 (gauge studies: levels, pooling,
uncertainty) and 2.2.2, 2.2.3 (check standards: control of bias and of short-term precision).
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from daq.calibration.study.errors import StudyError
from daq.calibration.study.numerics import f_quantile
from daq.settle.statistics import mean_and_sd


@dataclass(frozen=True, slots=True)
class Occasion:
    """Values of one part that were taken one after the other: their mean and scatter."""

    part: str
    run: str
    day: str
    mean: float
    sd: float
    """Standard deviation of a single value."""
    dof: int
    """Degrees of freedom of ``sd``: values less one."""


@dataclass(frozen=True, slots=True)
class Pooled:
    """A standard deviation pooled from several. ``part`` and ``run`` are empty where all are in."""

    sd: float
    dof: int
    part: str = ""
    run: str = ""


@dataclass(frozen=True, slots=True)
class LevelsStudy:
    """Standard deviations of a study of three levels, pooled over all and by run or part.

    ``repeatability`` is the scatter of single values, ``day_to_day`` that of the daily means,
    ``run_to_run`` that of the means of runs; each but the first holds its share of the ones below.
    ``run_to_run`` is None where there is one run only.
    """

    repeatability: Pooled
    repeatability_by_run: tuple[Pooled, ...]
    day_to_day: Pooled
    day_to_day_by_run: tuple[Pooled, ...]
    day_to_day_by_part: tuple[Pooled, ...]
    run_to_run: Pooled | None
    run_to_run_by_part: tuple[Pooled, ...]
    run_means: tuple[tuple[str, str, float], ...]
    """Part, run, mean of its daily means."""
    s_day: float
    """Standard deviation of the days alone, freed of repeatability; 0 if nothing is left."""
    s_run: float | None
    """Standard deviation of the runs alone, freed of the days."""
    u_single: float
    """Standard uncertainty of one value on one day of one run, from all levels."""
    remarks: tuple[str, ...]


def levels_study(occasions: Sequence[Occasion]) -> LevelsStudy:
    """The study of three levels. Parts are not compared: their own values may differ at will.

    Raises:
        StudyError: an occasion is there twice; an occasion has one value only; a part has one day
            only in a run; parts have different runs.
    """
    _refuse(occasions)
    runs = tuple(dict.fromkeys(each.run for each in occasions))
    parts = tuple(dict.fromkeys(each.part for each in occasions))
    days: dict[tuple[str, str], list[float]] = {}
    for each in occasions:
        days.setdefault((each.part, each.run), []).append(each.mean)
    means = {key: math.fsum(values) / len(values) for key, values in days.items()}
    level_1 = pooled((each.sd, each.dof) for each in occasions)
    by_part = tuple(
        Pooled(mean_and_sd(values)[1], len(values) - 1, part, run)
        for (part, run), values in days.items()
    )
    level_2 = pooled((each.sd, each.dof) for each in by_part)
    runs_by_part: tuple[Pooled, ...] = ()
    level_3 = None
    remarks = []
    if len(runs) > 1:
        runs_by_part = tuple(
            Pooled(mean_and_sd([means[part, run] for run in runs])[1], len(runs) - 1, part)
            for part in parts
        )
        level_3 = pooled((each.sd, each.dof) for each in runs_by_part)
    else:
        remarks.append("one run only: nothing is known of the scatter from run to run")
    day = level_2.sd**2 - level_1.sd**2 / _harmonic_mean([e.dof + 1 for e in occasions])
    in_a_run = _harmonic_mean([len(values) for values in days.values()])
    run = None if level_3 is None else level_3.sd**2 - level_2.sd**2 / in_a_run
    for name, variance in (("days", day), ("runs", run)):
        if variance is not None and variance < 0:
            remarks.append(f"the variance of the {name} came out below zero and is given as 0")
    s_day = math.sqrt(max(day, 0.0))
    s_run = None if run is None else math.sqrt(max(run, 0.0))
    return LevelsStudy(
        level_1,
        tuple(_of_run(run, ((e.sd, e.dof) for e in occasions if e.run == run)) for run in runs),
        level_2,
        tuple(_of_run(run, ((e.sd, e.dof) for e in by_part if e.run == run)) for run in runs),
        by_part,
        level_3,
        runs_by_part,
        tuple((part, run, mean) for (part, run), mean in means.items()),
        s_day,
        s_run,
        math.hypot(level_1.sd, s_day, s_run or 0.0),
        tuple(remarks),
    )


def pooled(deviations: Iterable[tuple[float, int]]) -> Pooled:
    """Standard deviations with their degrees of freedom, pooled: √(Σ ν·s² / Σ ν)."""
    each = list(deviations)
    dof = sum(nu for _, nu in each)
    if dof < 1:
        raise StudyError("no standard deviation to pool: nothing was repeated")
    return Pooled(math.sqrt(math.fsum(nu * s * s for s, nu in each) / dof), dof)


def occasion_of(part: str, run: str, day: str, values: Sequence[float]) -> Occasion:
    """The occasion that these values were taken on; at least 2 of them.

    Raises:
        StudyError: fewer than 2 values.
    """
    if len(values) < 2:
        raise StudyError(
            f"part {part}, run {run}, day {day}: 1 value says nothing of repeatability; take 2 or "
            "more one after the other"
        )
    mean, sd = mean_and_sd(values)
    return Occasion(part, run, day, mean, sd, len(values) - 1)


@dataclass(frozen=True, slots=True)
class CheckStandard:
    """Limits from a check standard's history, against which later values of it are held.

    ``lower`` and ``upper`` are for the mean of one occasion, ``upper_sd`` for its standard
    deviation (one-sided).
    """

    n: int
    repeatability: Pooled
    centre: float
    sd: float
    """Standard deviation of the means of the occasions."""
    dof: int
    lower: float
    upper: float
    f: float
    upper_sd: float
    multiple: float
    confidence: float


def check_standard(
    occasions: Sequence[Occasion], *, multiple: float = 2.0, confidence: float = 0.95
) -> CheckStandard:
    """The limits that the history of one check standard gives.

    The standard deviation of an occasion with ν degrees of freedom stays below s1·√F with
    ``confidence``, F with ν and the pooled degrees of freedom.

    Args:
        occasions: of one part, at least 3; with equal degrees of freedom.
        multiple: so many standard deviations from the mean to a limit.
        confidence: for ``upper_sd``.

    Raises:
        StudyError: more than one part, too few occasions, or unequal degrees of freedom.
    """
    names = dict.fromkeys(each.part for each in occasions)
    if len(names) != 1:
        raise StudyError(f"{len(names)} parts ({', '.join(names)}): a check standard is one part")
    if len(occasions) < 3:
        raise StudyError(f"{len(occasions)} occasions: limits of a check standard need 3 at least")
    counts = sorted({each.dof for each in occasions})
    if len(counts) > 1 or counts[0] < 1:
        raise StudyError(
            f"the occasions have {', '.join(str(nu + 1) for nu in counts)} values; a check "
            "standard needs the same number each time, 2 at least"
        )
    s1 = pooled((each.sd, each.dof) for each in occasions)
    centre, sd = mean_and_sd([each.mean for each in occasions])
    f = f_quantile(confidence, counts[0], s1.dof)
    return CheckStandard(
        len(occasions),
        s1,
        centre,
        sd,
        len(occasions) - 1,
        centre - multiple * sd,
        centre + multiple * sd,
        f,
        s1.sd * math.sqrt(f),
        multiple,
        confidence,
    )


def _harmonic_mean(counts: Sequence[int]) -> float:
    """How many values go into a mean, where their number is not always the same."""
    return len(counts) / math.fsum(1 / count for count in counts)


def _of_run(run: str, deviations: Iterable[tuple[float, int]]) -> Pooled:
    of = pooled(deviations)
    return Pooled(of.sd, of.dof, run=run)


def _refuse(occasions: Sequence[Occasion]) -> None:
    problems = []
    seen: dict[tuple[str, str, str], None] = {}
    for each in occasions:
        key = (each.part, each.run, each.day)
        if key in seen:
            problems.append(
                f"part {each.part}, run {each.run}: day {each.day} is there twice; give each "
                "occasion its own name"
            )
        seen[key] = None
        if each.dof < 1:
            problems.append(f"part {each.part}, run {each.run}, day {each.day}: 1 value only")
    if not occasions:
        problems.append("no values: a study of levels needs 2 days of 2 values at least")
    for part in dict.fromkeys(key[0] for key in seen):
        for run in dict.fromkeys(key[1] for key in seen):
            count = sum(key[:2] == (part, run) for key in seen)
            if count < 2:
                problems.append(
                    f"part {part}, run {run}: {count} day{'' if count == 1 else 's'}; the scatter "
                    "from day to day needs 2 at least, of every part in every run"
                )
    if problems:
        raise StudyError(*problems)

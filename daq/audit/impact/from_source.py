"""Impact from a log of any size: what is not of a bad gauge is let go at once.

The points are read through for the gauges that were out of limits, then only the captures of these
gauges are read. So memory goes with what bad gauges did, not with the log.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from daq.audit.errors import IntakeError
from daq.audit.impact.curve import Ints
from daq.audit.impact.from_tables import (
    NAMED,
    NEEDED,
    WANTED,
    Judges,
    Rows,
    bad_gauges_in,
    captures_in,
    periods_in,
)
from daq.audit.impact.impact import Impact, impact_within
from daq.audit.impact.periods import Period
from daq.audit.impact.touched import Captures
from daq.audit.intake import LogSource, load_mapping, open_source
from daq.audit.intake.windows import Windows


def impact_in_files(
    paths: Sequence[Path],
    mapping: Path | None = None,
    gauge: str | None = None,
    *,
    in_time: bool = False,
) -> Impact:
    """What gauges out of their limits touched, from the files of a log.

    Args:
        paths: files or folders.
        mapping: what the columns of a foreign log are; None if it is in the open format.
        gauge: only the one of this name.
        in_time: as for ``daq.audit.impact.touched.touched``.

    Raises:
        MappingError: the mapping has mistakes.
        IntakeError: the log cannot be read, lacks what is needed, or has no such gauge.
    """
    given = None if mapping is None else load_mapping(mapping)
    with open_source(list(paths), given) as source:
        impact = impact_from(source, gauge, in_time=in_time)
        remarks = (*source.notes, *source.rejects.words())
        return replace(impact, remarks=remarks, is_whole=not source.rejects)


def impact_from(source: LogSource, gauge: str | None = None, *, in_time: bool = False) -> Impact:
    """As ``impact_in_files``, from a log that is open.

    Raises:
        IntakeError: it lacks what is needed, or has no such gauge.
    """
    periods = periods_from(source, gauge)
    taken, counts = captures_within(source, periods)
    return impact_within(periods, taken, counts, in_time=in_time)


def periods_from(source: LogSource, gauge: str | None = None) -> list[Period]:
    """When gauges were used out of their limits, by the calibrations of a log.

    Raises:
        IntakeError: as for ``impact_from``.
    """
    _require(source)
    judges = Judges(*(_small(source, name) for name in ("gauges", "calibrations")))
    points = _joined(_of_bad_gauges(source, judges), _there(source, "points"))
    if gauge is not None:
        points = _of_one(source, points, gauge)
    return [period for _, period in periods_in(points, judges, source.names)]


def _require(source: LogSource) -> None:
    for table, needed in NEEDED.items():
        lacks = [name for name in needed if name not in source.columns(table)]
        if lacks:
            raise IntakeError(
                f"Impact needs {', '.join(lacks)} of the {table}, and the log has none. Give all "
                "files of the log, and a mapping that names these columns."
            )
    if "limit_nm" not in source.columns("gauges") and "found_word" not in source.columns(
        "calibrations"
    ):
        raise IntakeError(
            "Nothing in the log says when a gauge is out of limits. Give the gauges with their "
            "limit_nm, or the calibrations with their found_word."
        )


def _there(source: LogSource, table: str) -> tuple[str, ...]:
    return tuple(name for name in WANTED[table] if name in source.columns(table))


def _small(source: LogSource, table: str) -> Rows:
    return source.small(table) if source.columns(table) else {}


def _of_bad_gauges(source: LogSource, judges: Judges) -> Iterator[Rows]:
    """The points of the gauges that were out of limits, a block at a time."""
    for block in source.blocks("points", _there(source, "points")):
        bad = bad_gauges_in(block, judges)
        if bad.size:
            yield _where(block, np.isin(block["gauge"], bad))


def _of_one(source: LogSource, points: Rows, gauge: str) -> Rows:
    """The points of one gauge; none if it was never out of limits."""
    codes = np.unique(points["gauge"])
    wanted = [
        code
        for code, name in zip(codes, source.names("gauge", codes), strict=True)
        if name == gauge
    ]
    if not wanted and not _is_known(source, gauge):
        raise IntakeError(
            f"There is no gauge {gauge!r} in the log. Write its name as the log does."
        )
    return _where(points, np.isin(points["gauge"], wanted))


def _is_known(source: LogSource, gauge: str) -> bool:
    codes = [np.unique(block["gauge"]) for block in source.blocks("points", ("gauge",))]
    return bool(codes) and gauge in source.names("gauge", np.unique(np.concatenate(codes)))


def captures_within(source: LogSource, periods: Sequence[Period]) -> tuple[Captures, list[int]]:
    """The captures taken within periods, those of the first first, and how many each has.

    They are asked for by gauge and time: so other rows are passed over where they lie.
    """
    windows = Windows(
        [each.gauge for each in periods],
        np.array([_or(each.after_us, _EARLIEST) for each in periods], dtype=np.int64),
        np.array([_or(each.until_us, _LATEST) for each in periods], dtype=np.int64),
    )
    columns = [name for name in _there(source, "captures") if name != "gauge"]
    rows = source.within("captures", columns, windows)
    texts = {name: rows[name] for name in NAMED if name in rows}
    counts = np.bincount(rows["place"], minlength=len(periods)).tolist()
    return captures_in(rows, texts), counts


_EARLIEST, _LATEST = -(2**63), 2**63 - 1
"""Before and after all times there are."""


def _or(at_us: int | None, none: int) -> int:
    return none if at_us is None else at_us


def _where(block: Rows, which: np.ndarray[tuple[int], np.dtype[np.generic]]) -> dict[str, Ints]:
    return {name: column[which] for name, column in block.items()}


def _joined(blocks: Iterable[Rows], columns: Sequence[str]) -> Rows:
    """Blocks one after the other; no rows if there are no blocks."""
    parts = list(blocks)
    none = np.zeros(0, dtype=np.int64)
    return {name: np.concatenate([none, *(part[name] for part in parts)]) for name in columns}

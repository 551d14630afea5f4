"""A record's own fields for a page: single ones, tables, long texts, and the readings' trace.

Works from the stored JSON, so that a record of a kind nobody knows yet can be shown as well.
"""

from collections.abc import Iterator
from decimal import Decimal
from typing import Any

from daq.logbook.capture import Capture
from daq.spec.units import digits_in

Message = dict[str, Any]

LONG = 300
"""A text of so many characters stands by itself, as a sheet or a plan that a record keeps."""

DEEPEST = 12
"""Records are not nested deeper; what is, is shown as text."""

_UNITS = {"_mm": "mm", "_s": "s", "_deg": "°", "_c": "°C", "_turns": "turns"}
_HEAD = ("kind", "format", "uid", "at")
_BULK = ("readings", "frames")


def strings_in(said: Any, depth: int = 0) -> Iterator[str]:
    """Every text of a record, the readings and frames behind a capture left out."""
    if isinstance(said, str):
        yield said
    elif depth > DEEPEST:
        return
    elif isinstance(said, dict):
        for name, value in said.items():
            if not (depth == 0 and name in _BULK):
                yield from strings_in(value, depth + 1)
    elif isinstance(said, list):
        for each in said:
            yield from strings_in(each, depth + 1)


def fields_of(said: dict[str, Any]) -> Message:
    """``fields`` (name and value), ``tables`` and ``texts`` (the long ones) of a record."""
    sorted_out: Message = {"fields": [], "tables": [], "texts": []}
    for name, value in said.items():
        if name not in (*_HEAD, "frames"):
            _sort(sorted_out, name, value)
    frames = said.get("frames")
    if isinstance(frames, list) and frames:
        rows = [[str(each)] for each in frames]
        sorted_out["tables"].append({"name": "frames", "columns": ["bytes"], "rows": rows})
    return sorted_out


def _sort(into: Message, name: str, value: Any, depth: int = 0) -> None:
    """Put one field where it belongs."""
    if isinstance(value, dict) and depth < DEEPEST:
        for inner, each in value.items():
            _sort(into, f"{name}: {inner}", each, depth + 1)
    elif isinstance(value, list) and value and all(isinstance(each, dict) for each in value):
        _table(into, name, value, depth)
    elif isinstance(value, str) and (len(value) > LONG or "\n" in value):
        into["texts"].append({"name": _name(name), "text": value})
    else:
        into["fields"].append({"name": _name(name), "value": _value(name, value)})


def _table(into: Message, name: str, rows: list[dict[str, Any]], depth: int) -> None:
    """Rows with the same fields; a list within a row becomes a table of its own."""
    every = list(dict.fromkeys(each for row in rows for each in row))
    inner = [each for each in every if any(_is_table(row.get(each)) for row in rows)]
    columns = [each for each in every if each not in inner]
    into["tables"].append(
        {
            "name": _name(name),
            "columns": [_column(each) for each in columns],
            "rows": [[_plain(row.get(each)) for each in columns] for row in rows],
        }
    )
    for number, row in enumerate(rows, start=1):
        for each in inner:
            _sort(into, f"{name} {number}: {each}", row.get(each), depth + 1)


def _is_table(value: Any) -> bool:
    return isinstance(value, list) and any(isinstance(each, dict) for each in value)


def _name(name: str) -> str:
    """``value_mm`` as ``value``: the unit stands with the value."""
    parts = [part.removesuffix(_suffix(part)).replace("_", " ") for part in name.split(": ")]
    return ": ".join(parts)


def _column(name: str) -> str:
    unit = _UNITS.get(_suffix(name), "")
    return f"{_name(name)}, {unit}" if unit else _name(name)


def _suffix(name: str) -> str:
    return next((each for each in _UNITS if name.endswith(each) and len(name) > len(each)), "")


def _value(name: str, value: Any) -> str:
    plain, unit = _plain(value), _UNITS.get(_suffix(name), "")
    if not plain or not unit or value is None:
        return plain or "–"
    return f"{plain}{unit}" if unit == "°" else f"{plain} {unit}"


def _plain(value: Any) -> str:
    if value is None:
        return "–"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list):
        return ", ".join(_plain(each) for each in value)
    return str(value)


def trace_of(capture: Capture) -> Message:
    """The readings behind a capture over time, with its value and its limits, for a plot.

    Times are seconds from the first reading; lengths millimetres, as plain numbers. ``upper_mm``
    and ``lower_mm`` are lengths, not deviations. ``marks`` are the same in digits. ``gate`` is the
    value against its limits as the live scale wants it, in deviations; None without a spec.
    """
    start_s = capture.readings[0].t_s
    spec = capture.spec
    ends: dict[str, Decimal | None] = {"nominal": None, "lower": None, "upper": None}
    if spec is not None:
        off = {"nominal": Decimal(0), "lower": spec.lower_mm, "upper": spec.upper_mm}
        ends = {name: None if by is None else spec.nominal_mm + by for name, by in off.items()}
    tenth_mm = capture.resolution_mm / 10
    return {
        "points": [
            [round(each.t_s - start_s, 6), float(each.value_mm)] for each in capture.readings
        ],
        "value_mm": float(capture.value_mm),
        "U_mm": 2 * float(capture.u_mm),
        "step_mm": float(capture.resolution_mm),
        **{f"{name}_mm": None if mm is None else float(mm) for name, mm in ends.items()},
        "marks": {
            "value": digits_in(capture.value_mm, "mm", tenth_mm, sign=False),
            "U": digits_in(2 * capture.u_mm, "mm", tenth_mm, sign=False),
            **{
                name: digits_in(mm, "mm", tenth_mm, sign=False)
                for name, mm in ends.items()
                if mm is not None
            },
        },
        "gate": _gate(capture, tenth_mm),
    }


def _gate(capture: Capture, tenth_mm: Decimal) -> Message | None:
    spec, off_mm = capture.spec, capture.deviation_mm
    if spec is None or off_mm is None:
        return None
    ends = [
        f"{digits_in(end, 'mm', capture.resolution_mm)} mm"
        for end in (spec.lower_mm, spec.upper_mm)
        if end is not None
    ]
    return {
        "fresh": True,
        "at_rest": True,
        "unit": "mm",
        "step": f"{capture.resolution_mm:f}",
        "deviation_mm": float(off_mm),
        "lower_mm": None if spec.lower_mm is None else float(spec.lower_mm),
        "upper_mm": None if spec.upper_mm is None else float(spec.upper_mm),
        "aim_mm": 0.0,
        "limits": " to ".join(ends),
        "settled": f"{digits_in(off_mm, 'mm', tenth_mm)} mm",
        "U": f"{digits_in(2 * capture.u_mm, 'mm', tenth_mm, sign=False)} mm",
        "outcome": capture.verdict.outcome if capture.verdict else None,
    }

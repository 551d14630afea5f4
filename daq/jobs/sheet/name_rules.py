"""Rules over names: each once, none unknown, and no steps that wait for each other."""

import difflib
from collections.abc import Iterator, Sequence

from daq.jobs.sheet.order import circles
from daq.jobs.sheet.problem import Path, Problems, meant
from daq.jobs.sheet.sheet import SheetFile

_KEYS = {"sources": "id", "variants": "name", "gauges": "role", "steps": "name"}
"""By list of the sheet: the key that names its elements."""


def name_problems(sheet: SheetFile) -> Problems:
    """What is wrong with the names of a sheet, whole or drafted."""
    names = {table: _names(getattr(sheet, table) or (), key) for table, key in _KEYS.items()}
    for table, given in names.items():
        yield from _twice(table, given)
    for number, step in enumerate(sheet.steps or ()):
        at: Path = ("steps", number)
        yield from _unknown((*at, "gauge"), step.gauge, names["gauges"], "gauge role")
        yield from _unknown_source((*at, "source"), step.source, names["sources"])
        for place, waits_for in enumerate(step.after or ()):
            yield from _unknown((*at, "after", place), waits_for, names["steps"], "step")
        for variant, figures in (step.by_variant or {}).items():
            here = (*at, "by_variant", variant)
            yield from _unknown(here, variant, names["variants"], "variant")
            yield from _unknown_source((*here, "source"), figures.source, names["sources"])
    yield from _circles(sheet)


def _names(parts: Sequence[object], key: str) -> list[str | None]:
    return [getattr(part, key) for part in parts]


def _twice(table: str, names: Sequence[str | None]) -> Problems:
    for number, name in enumerate(names):
        first = names.index(name)
        if name is not None and first != number:
            yield (
                (table, number, _KEYS[table]),
                f'"{name}" is the name of number {first + 1} too; give each its own',
            )


def _unknown(at: Path, name: str | None, known: Sequence[str | None], thing: str) -> Problems:
    if _is_unknown(name, known):
        yield at, f'there is no {thing} "{name}"; {meant(str(name), _given(known))}'


def _unknown_source(at: Path, source: str | None, known: Sequence[str | None]) -> Problems:
    name = None if source is None else source.partition(",")[0].strip()
    if _is_unknown(name, known):
        yield (
            at,
            f'it begins with "{name}", which is no source of this sheet; '
            f"{meant(str(name), _given(known))}",
        )


def _is_unknown(name: str | None, known: Sequence[str | None]) -> bool:
    """Whether a name is surely wrong.

    Where a name is missing or stands twice, it may be the one that is meant, and one slip is told
    once; what is nearly another name is a slip all the same.
    """
    if name is None or name in known:
        return False
    given = list(_given(known))
    complete = None not in known and len(set(given)) == len(given)
    return complete or bool(difflib.get_close_matches(name, given, n=1))


def _given(names: Sequence[str | None]) -> Iterator[str]:
    return (name for name in names if name is not None)


def _circles(sheet: SheetFile) -> Problems:
    steps = {step.name: step for step in sheet.steps or () if step.name is not None}
    numbers = [step.name for step in sheet.steps or ()]
    for chain in circles({name: step.after or () for name, step in steps.items()}):
        words = " after ".join(f'"{name}"' for name in chain)
        what = "a step cannot wait for itself" if len(chain) == 2 else "these wait for each other"
        # The last of equal names is the one that was looked at.
        number = len(numbers) - 1 - numbers[::-1].index(chain[0])
        yield (
            ("steps", number, "after"),
            f"{what}: {words}; take out the one that need not come first",
        )

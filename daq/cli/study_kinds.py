"""Each kind of study for the command: its result as facts for JSON, and as lines for a reader."""

import dataclasses
import math
from typing import Any

from daq.calibration.study.outcomes import (
    BiasResult,
    CheckResult,
    CrossedResult,
    LevelsResult,
    Result,
    StabilityResult,
)
from daq.calibration.study.table import Table
from daq.cli import study_words as words


def facts_of(result: Result) -> list[dict[str, Any]]:
    """Everything there is, unrounded, one object for each result."""
    table = result.table
    match result:
        case CrossedResult():
            return [_facts(each, table) for each in result.studies]
        case BiasResult():
            facts = _facts(result.study, table)
            del facts["values"]
            return [facts]
        case StabilityResult():
            return [_stability_facts(result)]
        case LevelsResult():
            return [_facts(result.study, table)]
        case CheckResult():
            return [{**_facts(result.study, table), "beyond": result.beyond}]
    seen = result.seen
    return [{"kind": table.kind, **_plain(seen), "observed": seen.observed}]


def words_of(result: Result) -> list[str]:
    """The lines that the command prints."""
    unit = result.table.unit
    match result:
        case CrossedResult():
            return [line for study in result.studies for line in words.crossed(study, unit)]
        case BiasResult():
            return list(words.bias(result.study, unit))
        case StabilityResult():
            return list(words.stability(result.study, result.names, result.outlier, unit))
        case LevelsResult():
            return list(words.levels(result.study, unit))
        case CheckResult():
            return list(words.check(result.study, result.beyond, unit))
    return list(words.reliability(result.seen))


def _stability_facts(result: StabilityResult) -> dict[str, Any]:
    facts = _facts(result.study, result.table)
    facts["labels"] = list(result.names)
    facts["is_stable"] = result.study.is_stable
    odd = result.outlier
    facts["outlier_test"] = None
    if odd is not None:
        facts["outlier_test"] = {
            **_plain(odd),
            "at": result.names[odd.index],
            "found": odd.is_outlier,
        }
    return facts


def _facts(study: Any, table: Table) -> dict[str, Any]:
    return {"kind": table.kind, "unit": table.unit or None, **_plain(study)}


def _plain(study: Any) -> dict[str, Any]:
    """A study as JSON can hold it: what is infinite becomes None."""

    def plain(value: Any) -> Any:
        if isinstance(value, dict):
            return {name: plain(each) for name, each in value.items()}
        if isinstance(value, list | tuple):
            return [plain(each) for each in value]
        return None if isinstance(value, float) and not math.isfinite(value) else value

    made: dict[str, Any] = plain(dataclasses.asdict(study))
    return made

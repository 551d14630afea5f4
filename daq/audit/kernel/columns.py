"""What the kernel reads of the large tables, and how it goes on where a column is not there."""

from typing import Final

import numpy as np

from daq.audit.layout import NULL, TABLES
from daq.audit.source import Block, Ints

POINTS: Final = (
    "site",
    "gauge",
    "run",
    "seq",
    "at_us",
    "found",
    "way",
    "nominal_nm",
    "reference_nm",
    "indicated_nm",
    "u_reference_nm",
    "temperature_mc",
    "operator",
    "standard",
    "certified_nm",
)
CAPTURES: Final = (
    "gauge",
    "seq",
    "at_us",
    "job",
    "feature",
    "value_nm",
    "lower_nm",
    "upper_nm",
    "asked_kind",
    "asked_step_nm",
    "asked_range_nm",
)

EXTRAS: Final[dict[str, tuple[str, ...]]] = {"pieces": (), "stays": ("site", "operator")}
"""Tables that are made only where a rule asks for them, since they cost as much as many others
together; and the columns of the captures that are read for them alone."""

NAMES: Final = frozenset(
    column.name
    for table in TABLES.values()
    for column in table.columns
    if column.kind == "text" and not column.words
)
"""Columns of names: a number stands for a text, -1 for none."""

WORDS: Final = frozenset({"found", "way", "outcome", "asked_kind"})

_MISSING = {"found": 0, "way": 0}
"""Without these columns every point counts as taken as found, and rising."""


def column(block: Block, name: str) -> Ints:
    """A column of a block; where it is missing, as many missing values, which take no room."""
    if name in block:
        return block[name]
    missing = _MISSING.get(name, -1 if name in NAMES or name in WORDS else NULL)
    return np.broadcast_to(np.int64(missing), block["gauge"].shape)


def known(values: Ints) -> bool:
    """Whether no value of a column is missing."""
    return bool(values.size) and (
        (values.strides == (0,) and values[0] != NULL) or int(values.min()) != NULL
    )

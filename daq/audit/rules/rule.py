"""What an audit rule's file holds: who says so, what it asks of the log, and what an auditor reads.

A rule is data: a query in portable SQL over the tables of ``docs/auditing.md``, and words. The same
file serves every engine. ``$name`` in the query stands for a parameter of the rule.
"""

import re
from typing import Annotated, Literal

from pydantic import AfterValidator, Field

from daq.audit.layout import TABLES
from drivers.form import Form

FORMAT = 1

Filled = Annotated[str, Field(min_length=1, pattern=r"\S")]
Id = Annotated[str, Field(pattern=r"^[a-z][a-z0-9-]{1,40}$")]
Severity = Literal["high", "medium", "low"]
Number = Annotated[int, Field(strict=True)] | Annotated[float, Field(strict=True)]


CHAIN = "chain"
"""What a rule needs besides tables and columns: a log whose links are described."""


def _needs(given: tuple[str, ...]) -> tuple[str, ...]:
    for each in given:
        if each == CHAIN:
            continue
        table, _, column = each.partition(".")
        if table not in TABLES or (column and column not in TABLES[table].names):
            raise ValueError(
                f'"{each}" is nothing that a log can have; write a table of the open log format, '
                'or a column of one such as "points.operator"'
            )
    return given


class Heading(Form):
    """``[rule]``: the rule in words.

    ``sentence`` is filled in with the columns of a finding: ``{error_nm:mm}``, ``{due_us:day}``.
    ``innocent`` says what would explain it, ``action`` what to do. ``default`` is false for a rule
    that is run only where it is named, since it costs more than the others.
    """

    format: Literal[1]
    id: Id
    title: Filled
    sentence: Filled
    innocent: Filled
    action: Filled
    rests_on: Filled
    severity: Severity
    about: Literal["points", "captures", "gauges"] = "points"
    needs: Annotated[tuple[Filled, ...], AfterValidator(_needs)] = ()
    default: Annotated[bool, Field(strict=True)] = True


class Parameter(Form):
    """``[parameters.NAME]``: a number that a laboratory may set."""

    default: Number
    meaning: Filled
    unit: str = ""


class Chance(Form):
    """``[chance]``: a finding has a chance of coming about by itself, and is told by that.

    ``from``: the query's column ``p`` itself; or ``statistic``, to be held against the normal
    distribution or against Student's with the column ``dof``, on both sides. A column ``looks``
    says how many were looked at for the largest. ``tests``: SQL for how many tests were made.
    """

    of: Literal["p", "normal", "student"]
    tests: Filled


class Rule(Form):
    """A rule, sound as far as a file can be told to be."""

    rule: Heading
    parameters: dict[str, Parameter] = Field(default_factory=dict)
    chance: Chance | None = None
    query: Filled

    @property
    def id(self) -> str:
        """Its name, as findings and the command line have it."""
        return self.rule.id

    def asks(self, table: str) -> bool:
        """Whether its query, or that of its tests, names a table."""
        texts = [self.query] if self.chance is None else [self.query, self.chance.tests]
        return any(re.search(rf"\b{re.escape(table)}\b", text) for text in texts)

    @property
    def strength(self) -> Literal["exact", "p"]:
        """Whether a finding is a fact, or something that chance seldom does."""
        return "exact" if self.chance is None else "p"


PLACE = re.compile(r"\$([a-z_][a-z0-9_]*)")
"""Where a query has a parameter."""

SHARED = {"rate": 0.01}
"""Parameters of all rules that tell by chance: the share of false findings that is allowed."""

"""``[gauges.interval]``: the rule by which the next calibration becomes due."""

from collections.abc import Iterator
from decimal import Decimal
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from daq.calibration.fields import Count, Months, Number
from drivers.form import Form


def _between(least: int, months: int, most: int) -> Iterator[str]:
    if least > most:
        yield f"least: {least} months is more than most, {most}; check both"
    elif not least <= months <= most:
        yield f"months: {months} is not from least, {least}, to most, {most}; check them"


class FixedInterval(Form):
    """Every so many ``months``, whatever is found."""

    kind: Literal["fixed"]
    months: Months


class ReactiveInterval(Form):
    """A staircase: longer after good results, shorter after a bad one.

    It begins with ``months``. After ``good_results`` calibrations in a row at which the gauge was
    found within its limits it grows by ``longer_by`` months; after one at which it was not, it
    shrinks by ``shorter_by``. It stays from ``least`` to ``most``.
    """

    kind: Literal["reactive"]
    months: Months
    least: Months
    most: Months
    longer_by: Months
    shorter_by: Months
    good_results: Count = 2

    @model_validator(mode="after")
    def _is_consistent(self) -> Self:
        if problems := "\n".join(_between(self.least, self.months, self.most)):
            raise ValueError(problems)
        return self


class ReliabilityTarget(Form):
    """As long as the fleet's own history keeps so many gauges within their limits.

    ``reliability`` is the share, in per cent, that must still be within its limits when it is due;
    ``confidence`` how sure the history must make that. Until then every gauge has ``months``.
    """

    kind: Literal["reliability"]
    months: Months
    least: Months
    most: Months
    reliability: Number
    confidence: Number = Decimal(95)

    @model_validator(mode="after")
    def _is_consistent(self) -> Self:
        problems = list(_between(self.least, self.months, self.most))
        problems += [
            f"{key}: {getattr(self, key)} is no per cent from 50 to 99.9; 90 is usual"
            for key in ("reliability", "confidence")
            if not 50 <= getattr(self, key) <= Decimal("99.9")
        ]
        if problems:
            raise ValueError("\n".join(problems))
        return self


Interval = Annotated[
    FixedInterval | ReactiveInterval | ReliabilityTarget, Field(discriminator="kind")
]
"""One of the three rules, chosen by its ``kind``."""

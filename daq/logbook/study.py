"""The records of a guided study, format 1 each: begun, point, ended.

A study is its records and nothing else: which value comes next is worked out from them, so it goes
on at the same place after any interruption. A value taken again is a further point; a note takes
the former back, and both stay. Lengths are exact decimals in millimetres, written as text.
"""

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from daq.logbook.capture import Filled
from daq.logbook.fields import ExactDecimal, StrictModel, Uid, UtcTime, Words

Design = Literal["crossed", "bias", "stability"]
"""``crossed``: every appraiser measures every part; ``bias``: parts of known length;
``stability``: one check standard, again and again, without an end that is known beforehand."""

Number = Annotated[int, Field(ge=1)]


class StudyTurn(StrictModel):
    """One value that is to be taken."""

    part: Filled
    appraiser: Words
    """Who is to measure; empty where the study does not care."""
    trial: Number


class StudyBegun(StrictModel):
    """A study with one gauge, by one plan."""

    kind: Literal["study"] = "study"
    format: Literal[1] = 1
    uid: Uid
    at: UtcTime
    station: Words
    operator: Filled
    title: Filled
    design: Design
    gauge_label: Filled
    identity: Words
    """The identity of the adapter that was plugged in, or empty if it has none."""
    profile: Filled
    resolution_mm: ExactDecimal
    parts: Annotated[tuple[Filled, ...], Field(min_length=1)]
    appraisers: tuple[Filled, ...]
    trials: Number
    """How often each appraiser measures each part; in ``stability``, how many values a session
    has."""
    references_mm: tuple[ExactDecimal, ...]
    """For ``bias``: the known length of each part, in their order; else empty."""
    tolerance_mm: ExactDecimal | None
    """Width between the limits of what is measured, or null."""
    blind: bool
    """Whether earlier values are kept from whoever measures."""
    seed: Annotated[int, Field(ge=0)]
    order: tuple[StudyTurn, ...]
    """Every value in the order in which it is to be taken, drawn by ``seed``; empty for
    ``stability``."""
    plan_name: Filled
    plan_sha256: Annotated[str, Field(pattern="^[0-9a-f]{64}$")]
    plan_toml: Filled
    """The plan itself, so that the study can be read without any file of the day."""

    @model_validator(mode="after")
    def _fits_together(self) -> Self:
        mistakes = []
        if self.design == "bias" and len(self.references_mm) != len(self.parts):
            mistakes.append(f"{len(self.references_mm)} references for {len(self.parts)} parts")
        if self.design != "bias" and self.references_mm:
            mistakes.append("references are for a study of bias")
        if self.tolerance_mm is not None and self.tolerance_mm <= 0:
            mistakes.append(f"tolerance_mm is {self.tolerance_mm}; a tolerance is above 0")
        wanted = 0 if self.design == "stability" else self.trials * len(self.parts)
        wanted *= max(len(self.appraisers), 1)
        turns = {(each.part, each.appraiser, each.trial) for each in self.order}
        if len(self.order) != wanted or len(turns) != wanted:
            mistakes.append(f"the order has {len(turns)} different turns; it must have {wanted}")
        if mistakes:
            raise ValueError("; ".join(mistakes))
        return self


class _OfStudy(StrictModel):
    """What every later record of a study says."""

    uid: Uid
    at: UtcTime
    operator: Filled
    study: Uid
    """The uid of the study's first record."""


class StudyPoint(_OfStudy):
    """A capture, and which value of the study it is."""

    kind: Literal["study point"] = "study point"
    format: Literal[1] = 1
    place: Number
    """Which of the order it is; in ``stability``, which value since the beginning."""
    part: Filled
    appraiser: Words
    trial: Number
    capture: Uid
    value_mm: ExactDecimal
    u_mm: ExactDecimal
    words: Words
    """What was asked for, as it stood on the screen."""


class StudyEnded(_OfStudy):
    """The study is over."""

    kind: Literal["study end"] = "study end"
    format: Literal[1] = 1
    how: Literal["complete", "broken off"]
    reason: Words


StudyRecord = StudyBegun | StudyPoint | StudyEnded
"""Any record of a study."""

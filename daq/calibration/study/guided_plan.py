"""A plan of a guided study from a TOML file, and the order in which its values are taken.

The order is drawn by a seed and can be worked out again by anybody: within each trial the
appraisers, and within each appraiser the parts, stand in the order of the SHA-256 of
``seed|trial|appraiser`` and ``seed|trial|appraiser|part``.
"""

import hashlib
from dataclasses import dataclass
from decimal import Decimal
from typing import Annotated, Self

from pydantic import Field, model_validator

from daq.calibration.errors import PlanError
from daq.calibration.fields import Name, SignedMm, SizeMm, Words
from daq.calibration.toml_file import Problems, form_from
from daq.logbook.study import Design, StudyTurn
from drivers.form import Form

MOST_VALUES = 2000
"""More than a study ever has."""


class StudyHeading(Form):
    """What is studied."""

    title: Words
    design: Design
    parts: Annotated[tuple[Name, ...], Field(max_length=200)] = ()
    appraisers: Annotated[tuple[Name, ...], Field(max_length=20)] = ()
    trials: Annotated[int, Field(strict=True, ge=1, le=100)] = 1
    tolerance: SizeMm | None = None
    seed: Annotated[int, Field(strict=True, ge=0, lt=2**53)] | None = None
    blind: bool = True

    @model_validator(mode="after")
    def _suits_its_design(self) -> Self:
        problems = []
        if self.design == "crossed":
            problems += [
                f"{name}: a crossed study needs 2 at least; write them all"
                for name, each in (("parts", self.parts), ("appraisers", self.appraisers))
                if len(each) < 2
            ]
            if self.trials < 2:
                problems.append("trials: repeatability needs 2 at least; 3 are usual")
        elif self.tolerance is not None:
            problems.append("tolerance: it is for a crossed study; leave it out")
        if self.design == "bias" and self.parts:
            problems.append("parts: a study of bias has [[references]] instead")
        if self.design == "stability" and len(self.parts) != 1:
            problems.append("parts: stability is studied on one check standard; name it")
        if self.design == "stability" and self.appraisers:
            problems.append("appraisers: whoever measures is named at each session; leave them out")
        if problems:
            raise ValueError("\n".join(problems))
        return self


class Reference(Form):
    """A part of known length."""

    part: Name
    value: SignedMm


class StudyFile(Form):
    """A plan as the file has it."""

    study: StudyHeading
    references: Annotated[tuple[Reference, ...], Field(max_length=200)] = ()


@dataclass(frozen=True, slots=True)
class StudyPlan:
    """A plan that is sound. ``seed`` is the file's, or taken from its bytes.

    ``name`` is the file's name, ``fingerprint`` the SHA-256 of its bytes in hex, ``text`` all of
    it, so that a record can hold what it was.
    """

    name: str
    fingerprint: str
    text: str
    title: str
    design: Design
    parts: tuple[str, ...]
    appraisers: tuple[str, ...]
    trials: int
    references_mm: tuple[Decimal, ...]
    tolerance_mm: Decimal | None
    blind: bool
    seed: int

    @property
    def order(self) -> tuple[StudyTurn, ...]:
        """Every value in the order in which it is taken; empty for stability."""
        if self.design == "stability":
            return ()
        turns = []
        for trial in range(1, self.trials + 1):
            for appraiser in _drawn(self.appraisers or ("",), self.seed, trial):
                for part in _drawn(self.parts, self.seed, trial, appraiser):
                    turns.append(StudyTurn(part=part, appraiser=appraiser, trial=trial))
        return tuple(turns)


def study_plan_from_bytes(raw: bytes, name: str) -> StudyPlan:
    """The plan in a file's bytes.

    Args:
        raw: the file's content; UTF-8.
        name: the file's name, for the messages.

    Raises:
        PlanError: with every mistake at once, each as ``file:line: field: what is wrong; what
            would be right``.
    """
    file = form_from(raw, name, StudyFile, _problems_between, PlanError)
    heading, fingerprint = file.study, hashlib.sha256(raw).hexdigest()
    parts = heading.parts or tuple(each.part for each in file.references)
    return StudyPlan(
        name=name,
        fingerprint=fingerprint,
        text=raw.decode("utf-8-sig"),
        title=heading.title,
        design=heading.design,
        parts=parts,
        appraisers=heading.appraisers,
        trials=heading.trials,
        references_mm=tuple(each.value for each in file.references),
        tolerance_mm=heading.tolerance,
        blind=heading.blind,
        seed=heading.seed if heading.seed is not None else int(fingerprint[:8], 16),
    )


def _drawn(names: tuple[str, ...], *key: object) -> list[str]:
    """The names in the order of their hashes with ``key``."""

    def digest(name: str) -> bytes:
        return hashlib.sha256("|".join(map(str, (*key, name))).encode()).digest()

    return sorted(names, key=digest)


def _problems_between(file: StudyFile) -> Problems:
    heading: StudyHeading | None = file.study
    known = [each.part for each in file.references if each is not None]
    for place, each in enumerate(file.references):
        if each is not None and each.part in known[:place]:
            yield ("references", place, "part"), f'"{each.part}" stands twice; take one out'
    if heading is None:
        return
    for field, names in (("parts", heading.parts), ("appraisers", heading.appraisers)):
        for place, name in enumerate(names):
            if name in names[:place]:
                yield ("study", field, place), f'"{name}" stands twice; take one out'
    if heading.design == "bias" and not file.references:
        yield ("study", "design"), "a study of bias needs [[references]], each with part and value"
    if heading.design != "bias" and file.references:
        yield ("references", 0), f"they are for a study of bias, and this is {heading.design}"
    parts = len(heading.parts) or len(file.references)
    if parts * heading.trials * max(len(heading.appraisers), 1) > MOST_VALUES:
        yield (
            ("study", "trials"),
            f"the study would have more than {MOST_VALUES} values; take fewer",
        )

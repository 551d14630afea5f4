"""The sentences of a certificate that are the same for every gauge, and those of its verdict."""

from collections.abc import Iterator, Sequence

from daq.calibration.kept import KeptCalibration
from daq.logbook.calibration import CalibrationEnded
from daq.report.certificate import figures
from daq.report.certificate.lines import (
    AdjustmentFacts,
    Deviation,
    RunReport,
    StandardFacts,
    Statement,
)
from daq.report.certificate.model import DueFacts, State, Verdict
from daq.report.certificate.runs import meaning_of
from daq.report.certificate.standing import RUNS, Counted

NOT_AUTHORISED = "Not authorised; no name was given."
TYPED_NAME = "The name was typed by whoever ended the calibration; it is no signature."
DUE_NOTE = (
    "This day was set by whoever ended the calibration, and stands here for that reason alone. A "
    "certificate recommends no interval unless that was agreed with the customer."
)


def verdict_of(
    kept: KeptCalibration, found: Counted, runs: Sequence[RunReport], made: AdjustmentFacts
) -> Verdict:
    """The statement of conformity."""
    ended = found.ended
    words = {run.run: run.word for run in runs}
    as_left = words.get("as left")
    if as_left is None and (made.what == "not adjusted" or (ended and made.what == "not said")):
        # A calibration that was broken off has nothing as left.
        as_left = ended.as_left if ended is not None else words.get("as found")
    bounds = (ended.from_mm, ended.to_mm) if ended is not None else (None, None)
    low, high = (None if each is None else figures.as_written(each) for each in bounds)
    return Verdict(
        as_found=words.get("as found"),
        as_left=as_left,
        meaning=meaning_of(as_left),
        sentences=tuple(_sentences(kept, ended, runs, made)),
        range_from=low,
        range_to=high,
    )


def _sentences(
    kept: KeptCalibration,
    ended: CalibrationEnded | None,
    runs: Sequence[RunReport],
    made: AdjustmentFacts,
) -> Iterator[str]:
    if not runs:
        yield "There is no result."
        return
    for run in runs:
        judged = [each for each in run.characteristics if each.word is not None]
        good = sum(1 for each in judged if each.word == "pass")
        name = run.run[0].upper() + run.run[1:]
        yield f"{name}: {run.word}; {good} of {len(judged)} characteristics pass."
    if made.what != "not said":
        yield made.words
    if free := [each.what for each in runs[-1].characteristics if each.word is None]:
        yield f"Without a limit, so not judged: {', '.join(free)}."
    if ended is not None and (ended.from_mm is not None or ended.to_mm is not None):
        low_mm = ended.from_mm or 0 * kept.gauge.range_mm
        high_mm = kept.gauge.range_mm if ended.to_mm is None else ended.to_mm
        yield (
            f"It may be used from {figures.brief(low_mm)} mm to {figures.brief(high_mm)} mm only."
        )


def deviations_of(kept: KeptCalibration, found: Counted) -> Iterator[Deviation]:
    """What went other than the plan has it, in the order of the records as far as they have one."""
    for gate in found.anew:
        yield Deviation(
            what="begun anew",
            about=f"the run {gate.run}",
            words=gate.said or "no reason was given",
            operator=gate.operator,
            at=gate.at,
            record=kept.sequences[gate.uid],
        )
    for run in RUNS:
        for point in found.points.values():
            if point.run == run and point.insisted:
                yield Deviation(
                    what="insisted",
                    about=f"reading {point.place} {run}, at {figures.brief(point.nominal_mm)} mm",
                    words=point.insisted,
                    operator=point.operator,
                    at=point.at,
                    record=kept.sequences[point.uid],
                )
    for note in found.taken_back:
        number = kept.sequences.get(note.about or "")
        yield Deviation(
            what="taken back",
            about="a record" if number is None else f"record {number}",
            words=note.text or "no reason was given",
            operator=note.operator,
            at=note.at,
            record=number,
        )


def doubts_of(runs: Sequence[RunReport]) -> tuple[str, ...]:
    """Every doubt, with its run."""
    return tuple(f"{run.run}: {doubt}" for run in runs for doubt in run.doubts)


def due_of(ended: CalibrationEnded | None) -> DueFacts | None:
    """When it is due next; None if no day was set."""
    if ended is None or ended.due is None:
        return None
    return DueFacts(on=ended.due, rests_on=ended.due_words or "nothing was said", note=DUE_NOTE)


def authorised_words(name: str) -> str:
    """Who answers for it; never a name that nobody typed."""
    return TYPED_NAME if name else NOT_AUTHORISED


def statements_of(
    standards: Sequence[StandardFacts], kept: KeptCalibration, state: State
) -> Iterator[Statement]:
    """What a certificate has to say of itself."""
    level = figures.per_cent(kept.begun.level)
    yield Statement(
        about="Uncertainty",
        words=(
            "U is the expanded measurement uncertainty: the combined standard uncertainty u times "
            "the coverage factor k that stands with it, U = k·u. For the effective degrees of "
            f"freedom that corresponds to a coverage probability of about {level}. It was "
            "evaluated after JCGM 100:2008 and is in millimetres, as the result is. U is rounded "
            "up to two "
            "significant figures and the result to the same place; verdicts were made from the "
            "unrounded figures, which stand under “As recorded”."
        ),
    )
    for each in standards:
        use = "zeroed on" if each.role == "zeroed on" else "measured against"
        yield Statement(
            about="Traceability",
            words=(
                f"It was {use} {each.id} ({each.what}), whose lengths are those of the certificate "
                f"{each.certificate} of {each.issuer}, with the uncertainty stated there. It may "
                f"be used from {each.valid_from} to {each.due}. That certificate shows what lies "
                "between these lengths and the metre."
            ),
        )
    yield Statement(
        about="What it relates to",
        words=(
            f"The results relate to the gauge {kept.gauge.label} alone, as it was when it was "
            "calibrated, and say nothing of how it will be."
        ),
    )
    if state == "issued":
        yield Statement(
            about="Copies",
            words=(
                "This certificate may be handed on in full only, with all its pages. For a part of "
                "it the laboratory has to agree in writing."
            ),
        )
    else:
        yield Statement(
            about="Copies",
            words="This document is no certificate, and may not be handed on as one.",
        )
    yield Statement(
        about="Limits",
        words=(
            "The limits are the laboratory's own, from the source named with them. restpoint ships "
            "none and vouches for none."
        ),
    )

"""The gauges of a job as a report shows them: how each stood by its calibration, was it used."""

from collections.abc import Iterator

from daq.jobs.standing import JobStanding
from daq.logbook.job import JobCalibration, JobGauge
from daq.report.lines import CalibrationLine, Exempted, GaugeLine, NotPassed
from daq.report.log_facts import LogFacts


def gauges_in(job: JobStanding, facts: LogFacts) -> Iterator[GaugeLine]:
    """Every gauge of the job, with what the register said of it each time it was asked."""
    known = [each for each in facts.job_records if isinstance(each, JobCalibration)]
    for each in job.begun.gauges:
        yield GaugeLine(
            role=each.role,
            label=each.label,
            profile=each.profile,
            identity=each.identity,
            resolution_mm=each.resolution_mm,
            calibration=each.calibration,
            calibrations=tuple(_line(job, facts, of) for of in known if of.role == each.role),
        )


def _line(job: JobStanding, facts: LogFacts, known: JobCalibration) -> CalibrationLine:
    allowed = job.allowance(known)
    return CalibrationLine(
        record=facts.numbers[known.uid],
        standing=known.standing,
        words=known.words,
        certificate=known.certificate,
        due=known.due.isoformat() if known.due is not None else "",
        used="" if allowed is None else f"{allowed.reason} ({allowed.by})",
        at=known.at,
    )


def unfit_gauges_in(job: JobStanding) -> Iterator[NotPassed]:
    """Every gauge that somebody answered for and that measured something: no result of it passes
    by itself."""
    for used in job.gauges_used:
        if any(
            result.at >= used.at
            for step in job.steps.values()
            if step.planned.role.role == used.role
            for target in step.targets
            for result in target.results
        ):
            why = f"used though {used.standing}"
            yield NotPassed(step=gauge_words(job, used.role), target="", why=why)


def gauges_used_in(job: JobStanding, facts: LogFacts) -> Iterator[Exempted]:
    """Every gauge that was used although its calibration does not allow it."""
    for each in job.gauges_used:
        yield Exempted(
            record=facts.numbers[each.uid],
            what=f"used though {each.standing}",
            step=gauge_words(job, each.role),
            target="",
            reason=each.reason,
            by=each.by,
            operator=each.operator,
            at=each.at,
        )


def gauge_words(job: JobStanding, role: str) -> str:
    """The gauge of a role: ``gauge G-14 (rack)``."""
    gauges: tuple[JobGauge, ...] = job.begun.gauges
    label = next((each.label for each in gauges if each.role == role), "")
    return f"gauge {label} ({role})" if label else f"gauge ({role})"

"""What a job knows of the calibration of its gauges: may they serve, where, and how do they err.

Nothing is known where no register is kept; then nothing is asked, unless the sheet wants results
corrected.
"""

from collections.abc import Iterator
from decimal import Decimal

from daq.jobs.measuring import corrections_of, gauge_table, live_spec, scale_offset_mm
from daq.jobs.recipes import RecipeError
from daq.jobs.stages import Work
from daq.jobs.standing import JobStanding, StepStanding
from daq.jobs.task import Task
from daq.logbook.job import JobCalibration

_RECTANGULAR = Decimal("1.7320508")
"""√3: a bound over the standard deviation of what lies anywhere within it (JCGM 100:2008, 4.3.7)"""


def is_changed(before: JobCalibration | None, now: JobCalibration) -> bool:
    """Whether there is anything to record: more than another day has come."""
    return before is None or _facts(before) != _facts(now)


def _facts(record: JobCalibration) -> dict[str, object]:
    # The words count the days, so they change every day.
    return record.model_dump(exclude={"uid", "at", "operator", "job", "words"})


def gauge_tasks(job: JobStanding, work: Work) -> Iterator[Task]:
    """What has to be decided of a gauge before it measures anything."""
    step, planned = job.steps[work.planned.name], work.planned
    label = _label(job, planned.role.role)
    title = f"Gauge {label}, for {planned.role.role}"
    if why := why_uncorrected(step):
        yield Task(
            kind="decide",
            step=planned.name,
            target=work.target.name,
            title=title,
            words=f"The sheet wants results corrected by the calibration of {label}, and {why}. "
            "Press q to stop here until that is put right, or s to skip this with a reason and a "
            "name.",
        )
    known = step.calibration
    if known is not None and not known.usable and job.allowance(known) is None:
        yield Task(
            kind="decide",
            step=planned.name,
            target=work.target.name,
            title=title,
            words=f"{sentence(known.words)} Press q to stop here and take another gauge, or o to "
            "use it nevertheless, with a reason and a name.",
            gauge=known,
        )


def why_uncorrected(step: StepStanding) -> str:
    """Why results cannot be corrected by the gauge's calibration as the sheet wants it, or empty.

    The aim and the master must lie within the table: nothing is known outside it.
    """
    planned, known = step.planned, step.calibration
    if not planned.role.correct:
        return ""
    if known is None:
        return "nothing is known of it: this logbook has no register of gauges"
    if not known.table:
        return "there is no correction table of it"
    try:
        aim_mm = planned.spec.nominal_mm + planned.spec.aim_mm
        gauge_table(planned, known).correct(float(aim_mm))
        corrections = corrections_of(planned, step.gates, step.mastered, known)
        live_spec(planned, step.mastered, corrections)
    except RecipeError as error:
        return f"its table does not serve here: {error}"
    return ""


def why_out_of_range(step: StepStanding, on_master: bool, value_mm: Decimal) -> str:
    """Why a gauge of limited range may not be used for this, or empty.

    A depth gauge is told by the length that it measures, since its master shows where its zero
    lies. An indicator or a probe is told by what its display shows.

    Args:
        step: as it stands.
        on_master: whether the gauge stands on its master.
        value_mm: what it reads.
    """
    known, planned = step.calibration, step.planned
    if known is None or (known.from_mm is None and known.to_mm is None):
        return ""
    at_mm, master = value_mm, planned.step.master
    if not planned.role.is_comparator:
        if on_master and master is not None:
            at_mm = master.mm
        else:
            at_mm += scale_offset_mm(planned, step.mastered)
    too_low = known.from_mm is not None and at_mm < known.from_mm
    too_high = known.to_mm is not None and at_mm > known.to_mm
    if not too_low and not too_high:
        return ""
    return (
        f"{known.label} stands at {_mm(at_mm)}, and by its calibration it is good {_range(known)} "
        "only; take another gauge, or skip this with a reason"
    )


def what_to_know(job: JobStanding, step: StepStanding) -> tuple[str, ...]:
    """What is said of the gauge's calibration when it is mounted; nothing while all is well."""
    known = step.calibration
    if known is None:
        return ()
    said: list[str] = []
    if known.standing != "in date":
        said.append(sentence(known.words))
    if (allowed := job.allowance(known)) is not None:
        said.append(f"It is used nevertheless: {allowed.reason} ({allowed.by}).")
    if worse := _worse_than_allowed(step, known):
        said.append(worse)
    return tuple(said)


def _worse_than_allowed(step: StepStanding, known: JobCalibration) -> str:
    """Whether the calibration shows the gauge to be worse than the sheet allows it to be."""
    role = step.planned.role
    if role.correct or known.worst_mm is None or known.worst_mm / _RECTANGULAR <= role.u.mm:
        return ""
    return (
        f"By its calibration {known.label} may read up to {_mm(known.worst_mm)} wrong over its "
        f"whole range; the sheet allows u = {role.u}. Use it over a short travel only."
    )


def sentence(words: str) -> str:
    """``words`` with a full stop at the end."""
    return words if words.endswith((".", "!", "?")) else f"{words}."


def _label(job: JobStanding, role: str) -> str:
    return next((each.label for each in job.begun.gauges if each.role == role), role)


def _range(known: JobCalibration) -> str:
    if known.from_mm is None:
        assert known.to_mm is not None
        return f"up to {_mm(known.to_mm)}"
    if known.to_mm is None:
        return f"from {_mm(known.from_mm)}"
    return f"from {_mm(known.from_mm)} to {_mm(known.to_mm)}"


def _mm(length_mm: Decimal) -> str:
    return f"{length_mm.normalize():f} mm"

"""The front page: did it pass, what did not, what was skipped or overruled, what is in doubt."""

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence

from daq.jobs.standing import JobStanding
from daq.logbook.job import JobResult
from daq.report.gauges import gauges_used_in, unfit_gauges_in
from daq.report.lines import Doubt, Exempted, NotPassed, ToDo
from daq.report.log_facts import LogFacts
from daq.report.model import Outcome, State, Status
from daq.report.of_step import StepView
from daq.report.of_target import TargetView, numbers_of


def outcome_of(
    job: JobStanding, steps: Sequence[StepView], not_passed: Sequence[NotPassed]
) -> Outcome:
    """How the job came out.

    Args:
        job: where it stands.
        steps: every step.
        not_passed: what ``not_passed_in`` gave.
    """
    states = Counter(target.state for step in steps for target in step.targets)
    total = sum(states.values())
    status = _status(job, states["passed"] == total and not not_passed)
    why = tuple(_why(job, steps, states, not_passed))
    return Outcome(
        status=status,
        why=why,
        total=total,
        passed=states["passed"],
        not_passed=states["not passed"],
        overruled=states["overruled"],
        skipped=states["skipped"],
        in_doubt=states["in doubt"],
        not_done=states["not done"],
    )


def _status(job: JobStanding, is_good: bool) -> Status:
    if job.ended is not None and job.ended.how == "broken off":
        return "broken off"
    if job.ended is None or not job.is_complete:
        return "unfinished"
    return "passed" if is_good else "not passed"


def _why(
    job: JobStanding,
    steps: Sequence[StepView],
    states: Counter[State],
    not_passed: Sequence[NotPassed],
) -> Iterator[str]:
    total = sum(states.values())
    if job.ended is not None and job.ended.how == "broken off":
        yield f"The job was broken off{f': {job.ended.reason}' if job.ended.reason else '.'}"
    counted: tuple[tuple[State, str], ...] = (
        ("not passed", "not within limits"),
        ("overruled", "overruled"),
        ("skipped", "skipped"),
        ("in doubt", "in doubt"),
        ("not done", "not done"),
    )
    for state, words in counted:
        if states[state]:
            yield f"{states[state]} of {total} {words}."
    unfit = list(unfit_gauges_in(job))
    for each in unfit:
        yield f"{each.step[:1].upper()}{each.step[1:]} was {each.why}."
    others = sum(1 for each in not_passed if not each.target) - len(unfit)
    if others:
        yield f"{others} further {'check' if others == 1 else 'checks'} not passed."
    odd = sum(1 for step in steps for each in step.targets if each.counts and each.counts.doubts)
    if odd:
        yield f"{odd} of {total} raised a doubt while measured, which does not change the verdict."
    if job.ended is None and job.is_complete:
        yield "Everything was done, but the job has not been ended."


def not_passed_in(steps: Sequence[StepView]) -> Iterator[NotPassed]:
    """Every result that counts and is not within limits, then limits across and master checks.

    What concerns no one target has an empty one.
    """
    for step in steps:
        for target in step.targets:
            if target.state in ("not passed", "overruled") and (why := target.why_not()):
                overruled = " (overruled)" if target.state == "overruled" else ""
                yield NotPassed(**target.where, why=why + overruled)
        for finding, line in zip(step.findings, step.across_words(), strict=True):
            if not finding.holds:
                yield NotPassed(step=step.name, target="", why=line)
        if problem := step.master_problem():
            yield NotPassed(step=step.name, target="", why=problem)


def exempted_in(job: JobStanding, facts: LogFacts) -> Iterator[Exempted]:
    """Everything that was done other than the sheet has it, in the order it was recorded."""
    words = {
        (name, each.work.target.name): each.work.target.words
        for name, step in job.steps.items()
        for each in step.targets
    }
    found = list(gauges_used_in(job, facts))
    found += [
        Exempted(
            record=facts.numbers[each.uid],
            what="measured again" if each.what == "again" else each.what,
            step=each.step,
            target=words.get((each.step, each.target), each.target),
            reason=each.reason,
            by=each.by,
            operator=each.operator,
            at=each.at,
        )
        for each in job.exceptions
    ]
    yield from sorted(found, key=lambda each: each.record)


def doubts_in(steps: Sequence[StepView], facts: LogFacts) -> Iterator[Doubt]:
    """Every reason for which a result does not count, those of one step and reason together."""
    for step in steps:
        yield from _together(step, facts, lambda target, result: target.doubts(result))
        of: dict[str, list[TargetView]] = {}
        for target in step.targets:
            for why in target.doubts_of_found():
                of.setdefault(why, []).append(target)
        for why, targets in of.items():
            found = [each.target.as_found for each in targets]
            yield Doubt(
                step=step.name,
                targets=tuple(each.target.work.target.words for each in targets),
                why=why,
                captures=tuple(
                    number
                    for each in found
                    if each is not None
                    for number in numbers_of(each, facts)
                ),
            )


def raised_in(steps: Sequence[StepView], facts: LogFacts) -> Iterator[Doubt]:
    """What measuring itself found odd in the results that count."""
    for step in steps:
        yield from _together(step, facts, lambda _, result: result.doubts)


def _together(
    step: StepView, facts: LogFacts, said: Callable[[TargetView, JobResult], Iterable[str]]
) -> Iterator[Doubt]:
    of: dict[str, list[TargetView]] = {}
    for target in step.targets:
        if target.counts is not None and target.state != "skipped":
            for why in said(target, target.counts):
                of.setdefault(why, []).append(target)
    for why, targets in of.items():
        numbers = [numbers_of(each.counts, facts) for each in targets if each.counts is not None]
        yield Doubt(
            step=step.name,
            targets=tuple(each.target.work.target.words for each in targets),
            why=why,
            captures=tuple(number for each in numbers for number in each),
        )


def to_do_in(steps: Sequence[StepView]) -> Iterator[ToDo]:
    """What has yet to be done, what is alike in a step together."""
    for step in steps:
        of: dict[str, list[str]] = {}
        for target in step.targets:
            if not target.target.is_done or target.state == "not done":
                of.setdefault(_still(target), []).append(target.target.work.target.words)
        for what, targets in of.items():
            yield ToDo(step=step.name, targets=tuple(targets), what=what)
        if step.step.is_measured and not step.step.is_closed:
            yield ToDo(step=step.name, targets=(), what="closing check on the setting master")
        if step.step.is_measured and not step.step.is_sealed:
            yield ToDo(step=step.name, targets=(), what="to seal")


def _still(target: TargetView) -> str:
    if target.state != "not done":
        return "to set or to measure again"
    return "to finish" if target.target.records else "to measure"

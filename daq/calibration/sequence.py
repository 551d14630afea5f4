"""Which point of a plan comes next, worked out from the points that were taken and nothing else.

So a calibration goes on at the same place after any interruption. The way up and down is one run
without reversing: a point of it counts only if those before it were taken before it, and taking one
again takes back all that came after.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal

from daq.calibration.errors import PlanError
from daq.calibration.fields import brief_mm
from daq.calibration.forms import GaugeIdentity
from daq.calibration.plan import PreparedPlan, Stop
from daq.calibration.points import Point
from daq.calibration.stacks import Stack

LEAST_STEPS = 2
"""Display steps that nobody can tell from none."""


@dataclass(frozen=True, slots=True)
class WantedPoint:
    """The point that comes next, and what to do for it.

    ``reference_mm`` is the travel by the standard's certificate and ``u_reference_mm`` its standard
    uncertainty. ``words`` is the one sentence to show, ``more`` what else to mind. ``before`` is
    the point that was taken before this one.
    """

    prepared: PreparedPlan
    stop: Stop
    stack: Stack
    reference_mm: Decimal
    u_reference_mm: Decimal
    words: str
    more: tuple[str, ...] = ()
    before: Point | None = None

    @property
    def is_zero(self) -> bool:
        """Whether it is the first of all, at which the gauge is set to zero."""
        return self.stop.place == 1


def next_point(plan: PreparedPlan, taken: Sequence[Point]) -> WantedPoint | None:
    """The point that comes next; None if nothing is left.

    Args:
        plan: the plan with its standard.
        taken: the points of one run (as found or as left) in the order in which they were taken;
            those that were withdrawn left out.

    Raises:
        PlanError: the points were taken by another plan.
    """
    points = counted(plan, taken)
    places = {each.place for each in points}
    for stop in plan.plan.stops:
        if stop.place not in places:
            dropped = len(taken) > len(points) and stop.series != "repeat"
            return _wanted(plan, stop, taken[-1] if taken else None, dropped=dropped)
    return None


def counted(plan: PreparedPlan, taken: Sequence[Point]) -> tuple[Point, ...]:
    """The points that count, in the plan's order: the unbroken run so far, and every repeat.

    Raises:
        PlanError: the points were taken by another plan.
    """
    stops = plan.plan.stops
    run: list[Point] = []
    repeats: dict[int, Point] = {}
    for point in taken:
        stop = stops[point.place - 1] if 1 <= point.place <= len(stops) else None
        if stop is None or (stop.series, stop.nominal_mm, stop.direction) != (
            point.series,
            point.nominal_mm,
            point.direction,
        ):
            raise PlanError(
                f"The point at {brief_mm(point.nominal_mm)} ({point.series}, number {point.place}) "
                f"is not in {plan.plan.name}; go on with the plan it was begun by."
            )
        if point.series == "repeat":
            repeats[point.place] = point
        elif point.place <= len(run) + 1:
            run[point.place - 1 :] = [point]
    return (*run, *(repeats[place] for place in sorted(repeats)))


def point_again(plan: PreparedPlan, taken: Sequence[Point]) -> WantedPoint | None:
    """The point to check after an interruption in mid-run, before the next one is taken.

    The gauge may have been unplugged or knocked: it must read there what it read before (see
    ``daq.calibration.checks.check_return``).

    Returns:
        The last point that counts; None where the run has not begun, or up and down are complete.

    Raises:
        PlanError: the points were taken by another plan.
    """
    run = [each for each in counted(plan, taken) if each.series != "repeat"]
    through = [each for each in plan.plan.stops if each.series != "repeat"]
    if not run or len(run) == len(through):
        return None
    wanted = _wanted(plan, plan.plan.stops[run[-1].place - 1], run[-1])
    at = brief_mm(run[-1].nominal_mm)
    words = f"{wanted.stack.words[:1].upper()}{wanted.stack.words[1:]}, once more: back to {at}."
    more = (f"It must read what it read before, {brief_mm(run[-1].reading_mm)}.",)
    return WantedPoint(
        plan, wanted.stop, wanted.stack, wanted.reference_mm, wanted.u_reference_mm, words, more,
        run[-1],
    )  # fmt: skip


def doubts_in(plan: PreparedPlan, points: Sequence[Point], gauge: GaugeIdentity) -> tuple[str, ...]:
    """Reasons to look again at a run: its zero is not where it was at the beginning.

    Args:
        plan: the plan with its standard.
        points: of one run.
        gauge: the gauge; the zero may move by its permissible hysteresis, or by two display steps
            if that is more, where the plan says nothing.
    """
    zeros = [each for each in counted(plan, points) if each.nominal_mm == 0]
    if len(zeros) < 2:
        return ()
    limit_mm = plan.plan.heading.zero_limit_mm or max(
        LEAST_STEPS * gauge.step_mm, gauge.limits.hysteresis_mm or Decimal(0)
    )
    moved_mm = zeros[-1].reading_mm - zeros[0].reading_mm
    if abs(moved_mm) <= limit_mm:
        return ()
    return (
        f"The zero has moved by {brief_mm(moved_mm)} since the beginning, and {brief_mm(limit_mm)} "
        "is allowed; look at the mounting.",
    )


def _wanted(
    plan: PreparedPlan, stop: Stop, before: Point | None, *, dropped: bool = False
) -> WantedPoint:
    stack = plan.stacks[stop.nominal_mm]
    reference_mm, u_reference_mm = plan.reference_mm(stop.nominal_mm)
    return WantedPoint(
        prepared=plan,
        stop=stop,
        stack=stack,
        reference_mm=reference_mm,
        u_reference_mm=u_reference_mm,
        words=_words(plan, stop, stack),
        more=tuple(_more(plan, stop, dropped)),
        before=before,
    )


def _words(plan: PreparedPlan, stop: Stop, stack: Stack) -> str:
    what = f"{stack.words[:1].upper()}{stack.words[1:]}"
    at, counts = brief_mm(stop.nominal_mm), f"({stop.number} of {stop.of})"
    if stop.place == 1:
        return f"{what}: set the gauge to zero here {counts}."
    if plan.plan.heading.approach == "lifted":
        again = ", lifted and set down again" if stop.series == "repeat" else ""
        return f"{what}: {at}{again} {counts}."
    if stop.series == "repeat":
        away = "below" if stop.direction == "up" else "above"
        return f"{what}: go {away} {at}, then {stop.direction} to it {counts}."
    return f"{what}: {stop.direction} to {at} {counts}."


def _more(plan: PreparedPlan, stop: Stop, dropped: bool) -> Iterator[str]:
    heading = plan.plan.heading
    if stop.place == 1 and heading.soak:
        yield f"Gauge and standard must have lain together for {heading.soak} minutes."
    if stop.place == 1 and heading.preload_mm:
        yield f"Press the plunger in by {brief_mm(heading.preload_mm)} before the zero is set."
    if stop.series == "down" and stop.number == 1:
        yield "This is where the run turns: take it once more, or come back to it from beyond."
    if dropped:
        away = "below" if stop.direction == "up" else "above"
        yield (f"Go {away} it first: it is taken again, and so is everything that came after it.")
    if heading.wait:
        yield f"Let it rest for {heading.wait} s before it is read."

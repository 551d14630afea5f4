"""From a step of the sheet and its captures to a result: which recipe, on which scale, and u.

A gauge that compares reads from a zero of its own. The setting master, whose length is known, ties
that zero down: value = reading - reading on the master + the master's length.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from decimal import Decimal

from daq.jobs.recipes import (
    Body,
    Component,
    Correction,
    Deflection,
    EqualHeights,
    Field,
    GaugeTable,
    Length,
    Play,
    Recipe,
    Refusal,
    Result,
    RunOut,
    Settled,
    SliderCrank,
    TablePoint,
    Temperature,
    Tilt,
    corrected,
    reading_for,
)
from daq.jobs.sheet import PlannedStep, Target
from daq.logbook.capture import Capture
from daq.logbook.fields import exact
from daq.logbook.job import JobCalibration, JobGate, JobPoint, JobResult, Phase
from daq.spec import Spec

IN_A_DIFFERENCE = ("play", "run-out", "deflection")
"""Recipes in which the gauge's zero and its mounting cancel."""


def recipe_of(
    planned: PlannedStep, target: Target, phase: Phase, mastered: JobResult | None
) -> Recipe:
    """How a result of this step is made.

    Args:
        planned: the step.
        target: what is measured.
        phase: a value on the way, between two turns of the screw, is measured once only.
        mastered: the master check in force, where the step has a master.
    """
    step, what = planned.step, f"{planned.step.what}, {target.words}"
    common = common_of(planned, mastered)
    match step.recipe:
        case "length":
            return Length(1 if phase == "adjusted" else step.times, common, what)
        case "points":
            return Field(step.points, common=common, what=what)
        case "play":
            ratio, u_ratio = float(step.ratio or 1), float(step.u_ratio or 0)
            return Play(max(2, step.times), ratio, u_ratio, common, what)
        case "run-out":
            return RunOut(
                step.angles or 8,
                face_radius_mm=float(step.face_radius.mm) if step.face_radius else None,
                closing_limit_mm=_mm(step.closing_limit),
                common=common,
                what=what,
            )
        case "deflection":
            past = float(step.past_bottom) if step.past_bottom is not None else 30.0
            higher = step.open_reads != "lower"
            return Deflection(past, higher, _mm(step.closing_limit), common, what)
        case "dead centre":
            return _dead_centre(planned, what)


def common_of(planned: PlannedStep, mastered: JobResult | None) -> tuple[Component, ...]:
    """What every reading of the step shares and repeating does not make smaller.

    The role's u holds gauge, mounting and mastering at their worst. A difference is free of zero
    and mounting; what the gauge errs over a short travel is in it with the same figure.
    """
    gauge = Component(
        "gauge and mounting, the most that the sheet allows", float(planned.role.u.mm)
    )
    if mastered is None or planned.step.recipe in IN_A_DIFFERENCE:
        return (gauge,)
    return gauge, Component("reading on the setting master", float(mastered.u))


def _dead_centre(planned: PlannedStep, what: str) -> EqualHeights:
    gear = planned.step.crank_gear
    assert gear is not None  # a sheet without is refused
    crank = SliderCrank(
        float(gear.stroke.mm) / 2, float(gear.rod.mm), float(gear.offset.mm) if gear.offset else 0.0
    )
    higher = planned.role.is_comparator
    angles = tuple(float(angle) for angle in gear.angles)
    return EqualHeights(
        crank, float(gear.u_angle), angles_deg=angles, higher_reads_higher=higher, what=what
    )


def scale_offset_mm(planned: PlannedStep, mastered: JobResult | None) -> Decimal:
    """What is added to a reading to have the length: master less the reading on it."""
    master = planned.step.master
    if master is None or mastered is None or planned.step.recipe in IN_A_DIFFERENCE:
        return Decimal(0)
    return master.mm - mastered.value


def live_spec(
    planned: PlannedStep, mastered: JobResult | None, corrections: Sequence[Correction] = ()
) -> Spec | None:
    """The step's limits on the scale of the gauge as it reads now; None where no reading is held
    against them, because the result is made of several.

    The live indicator shows readings as they come. Its zero is the reading that, corrected, is on
    the aim; elsewhere within the limits the correction is nearly the same.

    Raises:
        RecipeError: the aim is outside the gauge's correction table.
    """
    if planned.step.recipe != "length":
        return None
    spec = planned.spec
    nominal_mm = spec.nominal_mm - scale_offset_mm(planned, mastered)
    if corrections:
        aim_mm = float(spec.nominal_mm + spec.aim_mm)
        nominal_mm += exact(round(reading_for(aim_mm, corrections) - aim_mm, 6))
    return spec.model_copy(update={"nominal_mm": nominal_mm})


def settled_of(point: JobPoint, capture: Capture, offset_mm: Decimal) -> Settled:
    """One captured value as a recipe takes it."""
    return Settled(
        float(capture.value_mm + offset_mm),
        float(capture.u_mm),
        capture.n,
        capture.uid,
        position=point.position,
        angle_deg=None if point.angle_deg is None else float(point.angle_deg),
        group=point.group,
        at_s=capture.monotonic_s,
    )


def settled_values(
    points: Sequence[JobPoint], captures: Mapping[str, Capture], offset_mm: Decimal
) -> list[Settled]:
    """The points of one measurement as a recipe takes them, oldest first."""
    values = [settled_of(point, captures[point.capture], offset_mm) for point in points]
    # The clock of the readings starts anew with the machine; then the order has to do.
    times = [value.at_s or 0.0 for value in values]
    if times != sorted(times):
        values = [replace(value, at_s=None) for value in values]
    return values


def gauge_table(planned: PlannedStep, known: JobCalibration) -> GaugeTable:
    """The errors of a depth gauge by its calibration, on the scale of the lengths that it measures.

    That scale begins where foot and plunger are level, as the calibration's own does, wherever the
    gauge's zero key was pressed: the master has told. What the gauge errs at the master is taken
    off by mastering. The sheet's rules leave no other kind of gauge to be corrected.

    Raises:
        RecipeError: the table is not sound.
    """
    master = planned.step.master
    assert master is not None  # a sheet without is refused
    points = tuple(
        TablePoint(float(each.length_mm), float(each.error_mm), float(each.u_mm))
        for each in known.table
    )
    return GaugeTable(points, f"certificate {known.certificate}", mastered_mm=float(master.mm))


def corrections_of(
    planned: PlannedStep,
    gates: Sequence[JobGate],
    mastered: JobResult | None,
    known: JobCalibration | None = None,
) -> list[Correction]:
    """What results of the step are corrected by, in the order in which it applies.

    Args:
        planned: the step.
        gates: the step's own, with the temperatures that were read.
        mastered: the master check in force; a tilt only stretches the travel from there.
        known: of the gauge's calibration; it has a table where the sheet wants it applied.

    Raises:
        RecipeError: the gauge's table is not sound.
    """
    step, found = planned.step, list[Correction]()
    if planned.role.correct:
        assert known is not None  # without, nothing is measured: ``calibrated.gauge_tasks``
        found.append(gauge_table(planned, known))
    if step.mounting is not None:
        at_mm = 0.0
        if step.master is not None and step.recipe not in IN_A_DIFFERENCE and mastered is not None:
            at_mm = float(step.master.mm)
        found.append(Tilt(float(step.mounting.tilt), float(step.mounting.u_tilt), at_mm))
    read = [each for each in gates if each.part_c is not None and each.gauge_c is not None]
    if step.expansion is not None and read:
        by, gate = step.expansion, read[-1]
        u_k, u_alpha = float(by.u_temperature), float(by.u) * 1e-6
        found.append(
            Temperature(
                Body(float(gate.gauge_c or 0), u_k, float(by.gauge) * 1e-6, u_alpha),
                Body(float(gate.part_c or 0), u_k, float(by.part) * 1e-6, u_alpha),
            )
        )
    return found


def result_of(
    planned: PlannedStep,
    recipe: Recipe,
    values: Sequence[Settled],
    corrections: Sequence[Correction] = (),
) -> Result | Refusal:
    """What the recipe makes of the values, corrected, as a length.

    An angle of the crank becomes the length along the flywheel's rim that the sheet gives limits
    for.
    """
    found = corrected(recipe, values, corrections)
    if isinstance(found, Refusal) or found.unit == "mm":
        return found
    gear = planned.step.crank_gear
    assert gear is not None
    per_deg = math.pi * float(gear.rim.mm) / 360
    components = tuple(
        replace(each, sensitivity=each.sensitivity * per_deg) for each in found.components
    )
    return replace(found, value=found.value * per_deg, unit="mm", components=components)


def _mm(length: object) -> float:
    return float(getattr(length, "mm", 0.0))

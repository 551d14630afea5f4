"""A fitter and an engine without gauges or clocks: tasks in, records out, as often as it takes.

Every figure is invented. The engine remembers what was done to it, so that a fitter who comes back
after an interruption finds it as it was left.
"""

import random
from datetime import UTC, datetime, timedelta
from decimal import Decimal

from daq.jobs.answers import Stamp, captured, confirmed, ended, excepted, gauge_used
from daq.jobs.recipes import POSITIONS
from daq.jobs.sheet import demo_sheet
from daq.jobs.stages import stages_of
from daq.jobs.standing import standing
from daq.jobs.tasks import next_task
from daq.logbook.capture import Capture, CapturedGauge, CapturedReading
from daq.logbook.fields import new_uid
from daq.logbook.job import JobBegun, JobCalibration, JobGauge, JobTableRow

BEGAN = datetime(2026, 3, 2, 6, 0, tzinfo=UTC)
STEP = Decimal("0.001")


def begun(sheet, variant=None):
    return JobBegun(
        uid=new_uid(),
        at=BEGAN,
        station="bench 1",
        operator="R. Ahlers",
        engine="auxiliary 2",
        sheet_title=sheet.title,
        sheet_revision=sheet.revision,
        sheet_sha256=sheet.fingerprint,
        sheet_toml=sheet.text,
        variant=variant or sheet.variants[0].name,
        gauges=tuple(
            JobGauge(
                role=role.role,
                label=f"gauge {role.role}",
                profile="decimal-line",
                identity=f"adapter {role.role}",
                resolution_mm=STEP,
                calibration="",
            )
            for role in sheet.gauges
        ),
    )


def calibration(begun, role, standing="in date", usable=True, table=(), **more):
    """What is known of the gauge of a role; ``table`` are lengths, errors and their u as text."""
    fields = {
        "words": f"gauge {role} is {standing}",
        "certificate": "C-12",
        "due": None,
        "from_mm": None,
        "to_mm": None,
        "rests_on": None,
        "worst_mm": None,
    }
    rows = [dict(zip(("length_mm", "error_mm", "u_mm"), row, strict=True)) for row in table]
    return JobCalibration(
        uid=new_uid(),
        at=BEGAN,
        operator="R. Ahlers",
        job=begun.uid,
        role=role,
        label=f"gauge {role}",
        standing=standing,
        usable=usable,
        table=tuple(JobTableRow(**row) for row in rows),
        **{**fields, **more},
    )


class Engine:
    """What the gauges read: how far each thing is off, and what a hand does to it."""

    def __init__(self, seed=1, off_mm=0.15, lock_shift_mm=0.004, hand=0.05):
        self._random = random.Random(seed)
        self._hand, self._lock_shift_mm = hand, lock_shift_mm
        self._largest_off_mm = off_mm
        self._length_mm = {}
        self.master_moved_mm = {}
        self.presses = {}

    def length_mm(self, planned, target):
        """The true length of a target that a screw sets or that is measured as it is."""
        key = planned.name, target
        if key not in self._length_mm:
            off = self._random.uniform(-1, 1) * self._largest_off_mm
            if planned.step.adjuster is None:
                width = planned.spec.width_mm or Decimal("0.04")
                off = self._random.uniform(-0.2, 0.2) * float(width)
                if planned.spec.lower_mm is None:
                    off = 0.4 * float(planned.spec.upper_mm)
            self._length_mm[key] = float(planned.spec.nominal_mm) + off
        return self._length_mm[key]

    def turn(self, planned, target, turns):
        """The hand turns the screw, nearly as far as it was told."""
        screw = planned.step.adjuster
        moved = turns * float(screw.mm_per_turn) * (1 if screw.clockwise == "raises" else -1)
        now = self.length_mm(planned, target) + moved * self._random.gauss(1, self._hand)
        self._length_mm[planned.name, target] = now

    def turn_to(self, planned, target):
        """The hand turns while it watches the indicator."""
        now = float(planned.spec.nominal_mm + planned.spec.aim_mm) + self._random.gauss(0, 0.003)
        self._length_mm[planned.name, target] = now

    def lock(self, planned, target):
        """The nut moves the setting a little."""
        self._length_mm[planned.name, target] += self._random.gauss(0, self._lock_shift_mm)

    def reads_mm(self, planned, task):
        """What the gauge reads for a task, by its recipe."""
        step = planned.step
        zero = 1.234 + self.master_moved_mm.get(planned.name, 0.0)
        if task.master is not None:
            return zero
        length, wanted = self.length_mm(planned, task.target), task.wanted
        if step.recipe in ("length", "points"):
            return length - float(step.master.mm if step.master else 0) + zero
        if step.recipe == "play":
            presses = self.presses.get((planned.name, task.target), 0)
            self.presses[planned.name, task.target] = presses + 1
            return zero + (length / float(step.ratio or 1) if presses % 2 else 0.0)
        if step.recipe == "run-out":
            from math import cos, radians

            return zero + length / 2 * cos(radians(wanted.angle_deg - 40))
        assert step.recipe == "deflection"
        return zero + length * (0.5, 0.2, 0.0, -0.2, 0.5)[POSITIONS.index(wanted.position)]


def capture(value_mm, number, gauge="gauge", u_mm="0.0004"):
    value = Decimal(repr(value_mm)).quantize(STEP)
    t_s = 100.0 + 3 * number
    reading = CapturedReading(t_s=t_s, text=f"{value:f}", unit="mm", status=())
    return Capture(
        uid=new_uid(),
        at=BEGAN + timedelta(seconds=t_s),
        monotonic_s=t_s + 0.1,
        station="bench 1",
        operator="R. Ahlers",
        gauge=CapturedGauge(label=gauge, profile="decimal-line", identity="x", port="p"),
        spec=None,
        value_mm=value,
        u_mm=Decimal(u_mm),
        n=1,
        rest_seen=True,
        since_s=t_s,
        until_s=t_s,
        span_readings=1,
        resolution_mm=STEP,
        deviation_mm=None,
        verdict=None,
        trigger="key",
        unit_shown="mm",
        readings=(reading,),
        frames=("30",),
        bad_frames=0,
        note="",
    )


class Fitter:
    """Works through a job; `records` is all that is kept."""

    def __init__(self, sheet=None, engine=None, first=None, records=()):
        self.sheet = sheet or demo_sheet()
        self.engine = engine or Engine()
        self.begun = first or begun(self.sheet)
        self.records = list(records)
        self._stages = stages_of(self.sheet, self.begun.variant)
        self.tasks = []

    @property
    def captures(self):
        return {each.uid: each for each in self.records if isinstance(each, Capture)}

    def stands(self):
        job = [each for each in self.records if not isinstance(each, Capture)]
        return standing(self.sheet, self.begun, job, self._stages)

    def stamp(self):
        at = BEGAN + timedelta(seconds=100 + 3 * len(self.records))
        return Stamp("R. Ahlers", at)

    def step(self):
        """Do one task; False when the job has ended."""
        job = self.stands()
        task = next_task(job, self.captures)
        if task is None:
            return False
        self.tasks.append(task)
        planned = job.steps[task.step].planned if task.step else None
        if task.kind == "end":
            self.records.append(ended(job, "complete", "", self.stamp()))
        elif task.kind == "confirm":
            if task.gate == "adjusted":
                self.engine.turn(planned, task.target, float(task.told.turns))
            elif task.gate == "locked":
                self.engine.lock(planned, task.target)
            self.records.append(confirmed(job, task, self.stamp()))
        elif task.gauge is not None:
            self.records.append(gauge_used(job, task, "no other is here", self.stamp(), "B. Lund"))
        elif task.kind == "decide":
            self.records.append(
                excepted(
                    job, task.step, task.target, "overruled", "agreed with the owner", self.stamp()
                )
            )
        else:
            if task.kind == "adjust":
                self.engine.turn_to(planned, task.target)
            value = capture(self.engine.reads_mm(planned, task), len(self.records))
            self.records += [
                value,
                *captured(job, task, value, self.captures, self.stamp()),
            ]
        return True

    def work(self, most=2000):
        """Work until the job has ended."""
        for _ in range(most):
            if not self.step():
                return self
        raise AssertionError(f"the job does not end: {self.tasks[-3:]}")

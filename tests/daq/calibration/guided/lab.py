"""A calibration without gauges or clocks: tasks in, records out, as often as it takes.

Every figure is invented. The gauge errs by a known curve, and its scatter hangs on the point alone,
so that a point reads the same whenever it is taken.
"""

import random
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from math import sin

from daq.calibration import guided
from daq.calibration.checks import Refusal
from daq.calibration.due import next_due
from daq.calibration.entered import gauge_record, standard_record
from daq.calibration.kept import KeptCalibration
from daq.logbook.calibration import CalibrationPoint
from daq.logbook.capture import Capture, CapturedGauge, CapturedReading
from daq.logbook.fields import new_uid
from daq.logbook.records import Note
from daq.spec.rules import rule_from
from tests.daq.calibration.invented import gauge, plan, standard

BEGAN = datetime(2026, 6, 1, 8, 0, tzinfo=UTC)
STEP = Decimal("0.001")
TECHNICIAN = "M. Ostby"


class Gauge:
    """How the gauge errs, in mm: a wave over the range, more on the way down, a little scatter."""

    def __init__(self, wave_mm=0.003, hysteresis_mm=0.002, scatter_mm=0.0004):
        self.wave_mm, self.hysteresis_mm = wave_mm, hysteresis_mm
        self.scatter_mm = scatter_mm
        self.zero_mm = 0.0

    def error_mm(self, stop):
        """The true error at a stop of the plan, from the zero as it was set."""
        down = self.hysteresis_mm if stop.direction == "down" and stop.nominal_mm else 0.0
        return self.wave_mm * sin(float(stop.nominal_mm) / 3) + down

    def reads_mm(self, task):
        """What it shows for a task, to its display step."""
        stop = task.wanted.stop
        chance = random.Random(f"{task.run} {stop.place}").gauss(0, self.scatter_mm)
        exact = float(task.wanted.reference_mm) + self.error_mm(stop) + chance + self.zero_mm
        return Decimal(repr(exact)).quantize(STEP) + 0  # a display shows no -0.000


def capture(value_mm, at, u_mm="0.0004", identity="ADAPTER-7", status=(), label="DI-7"):
    t_s = (at - BEGAN).total_seconds() + 100.0
    value = Decimal(value_mm)
    reading = CapturedReading(t_s=t_s, text=f"{value:f}", unit="mm", status=status)
    return Capture(
        uid=new_uid(),
        at=at,
        monotonic_s=t_s + 0.1,
        station="lab 1",
        operator=TECHNICIAN,
        gauge=CapturedGauge(label=label, profile="decimal-line", identity=identity, port="p"),
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
        trigger="settled",
        unit_shown="mm",
        readings=(reading,),
        frames=("30",),
        bad_frames=0,
        note="",
    )


class Lab:
    """Walks a calibration; ``kept`` is all that stays, ``transactions`` what was appended at once.

    ``adjusts`` is what is said when it is asked, None for not adjusted.
    """

    def __init__(
        self, device=None, instrument=None, sheet=None, blocks=None, adjusts=None, **order
    ):
        self.instrument = instrument or Gauge()
        self.adjusts = adjusts
        self.temperature_c = Decimal("20.1")
        entered = gauge_record(device or gauge(), TECHNICIAN, BEGAN, "register.toml")
        reference = standard_record(blocks or standard(), TECHNICIAN, BEGAN, "register.toml")
        first = guided.begun(
            entered,
            reference,
            None,
            sheet or plan(),
            guided.Order(**{"rule": rule_from("simple"), "station": "lab 1"} | order),
            operator=TECHNICIAN,
            at=BEGAN,
        )
        self.kept = KeptCalibration(first, entered, reference)
        self.transactions = [[entered, reference], [first]]
        self.taken_up = 0
        self.tasks = []
        self.numbers = []

    def interrupt(self):
        """Everything but the records is lost, and taken up again."""
        self.taken_up = len(self.kept.records)

    def stands(self):
        return guided.standing(self.kept, self.taken_up)

    def task(self):
        return guided.next_task(self.stands())

    @property
    def now(self):
        return BEGAN + timedelta(seconds=30 * len(self.transactions))

    def stamp(self):
        return guided.Stamp(TECHNICIAN, self.now)

    def keep(self, *records):
        """Append, as one transaction."""
        self.transactions.append(list(records))
        for each in records:
            if isinstance(each, Note):
                self.kept.withdrawn.append(each)
            elif isinstance(each, Capture):
                self.kept.captures[each.uid] = each
            else:
                self.kept.records.append(each)

    def take(self, value_mm=None, *, passed=None, insisted=None, **of_capture):
        """Capture for the task that is asked; the refusal, or None if it was taken."""
        task = self.task()
        value_mm = self.instrument.reads_mm(task) if value_mm is None else value_mm
        value = capture(value_mm, self.now, **of_capture)
        answer = guided.captured(
            self.stands(), task, value, self.stamp(), passed=passed, insisted=insisted
        )
        if isinstance(answer, Refusal):
            return answer
        self.keep(value, *answer)
        return None

    def say(self, answer):
        """Keep an answer that must not be refused."""
        assert not isinstance(answer, Refusal), answer
        self.keep(answer)

    def step(self):
        """Do one task as it should be done; False when there is none."""
        stands, task = self.stands(), self.task()
        if task is None:
            return False
        self.tasks.append(task)
        stamp = self.stamp()
        if task.kind == "conditions":
            self.say(guided.conditions(stands, self.temperature_c, stamp))
        elif task.kind in ("point", "return"):
            refusal = self.take()
            if refusal is not None:
                assert task.kind == "return", refusal
                assert refusal.kind == "has moved", refusal
                self.instrument.zero_mm = 0.0
                self.say(guided.anew(stands, refusal.words, stamp))
        elif task.kind == "result":
            self.say(guided.worked_out(stands, stamp))
        elif task.kind == "adjusted or not":
            if self.adjusts is None:
                self.say(guided.not_adjusted(stands, stamp))
            else:
                self.instrument.wave_mm = 0.0005
                self.say(guided.adjusted(stands, self.adjusts, stamp))
        else:
            ending = guided.proposed(
                stands, self.numbers, lambda one: next_due(stands.gauge, [one], one.on)
            )
            self.say(guided.completed(stands, ending, self.numbers, stamp))
        return True

    def work(self, until=None, most=200):
        """Go on until the end, or until a task of this kind comes."""
        for _ in range(most):
            if until is not None and self.task().kind == until:
                return self
            if not self.step():
                return self
        raise AssertionError(f"it does not end: {self.tasks[-3:]}")

    def points(self):
        """Every point record that is no return, oldest first."""
        return [
            each
            for each in self.kept.records
            if isinstance(each, CalibrationPoint) and not each.is_return
        ]

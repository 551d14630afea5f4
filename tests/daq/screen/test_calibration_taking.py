"""When a value is taken by itself, when by key, and when not yet. All in simulated time."""

from datetime import UTC, date, datetime
from decimal import Decimal

import pytest

from daq.calibration.checks import Refusal
from daq.calibration.guided import Task
from daq.calibration.plan import prepared
from daq.calibration.plan_file import plan_from_bytes
from daq.calibration.points import Point
from daq.calibration.register_file import register_from_bytes
from daq.calibration.sequence import next_point
from daq.logbook import Logbook
from daq.measure.capture import Bench
from daq.measure.events import Refused
from daq.measure.gauges import Gauge
from daq.measure.station import Station
from daq.screen.calibration_taking import Taken, Taking
from drivers.profiles import load_profile
from drivers.reading import Reading
from simulated_devices.calibration_rig import CalibrationRig, GaugeTruth, TrueStandard

REGISTER = """
[[standards]]
id = "standard"
kind = "{kind}"
what = "Invented"
certificate = "INV-1"
issuer = "Invented laboratory"
expansion = 11.5
u_expansion = 0.6
drift_per_year = "0 mm"
valid_from = 2026-01-01
due = 2028-01-01
values = [
  {{ nominal = "{first} mm", length = "{first} mm", expanded_u = "0.1 µm", k = 2 }},
  {{ nominal = "5 mm", length = "5 mm", expanded_u = "0.1 µm", k = 2 }},
  {{ nominal = "10 mm", length = "10 mm", expanded_u = "0.1 µm", k = 2 }},
]

[[gauges]]
label = "DI-7"
kind = "indicator"
range = "10 mm"
step = "0.001 mm"
profile = "{profile}"

[gauges.limits]
source = "invented"
over_range = "0.006 mm"
"""
PLAN = """
[plan]
title = "Three points"
revision = "1"
range = "10 mm"
points = ["0 mm", "5 mm", "10 mm"]
wait = {wait}

[[repeats]]
at = "5 mm"
times = 2
"""
STEP_S = 0.1
ZERO, FIRST, REPEAT = 1, 2, 7


class Place:
    """A gauge on a rig, read by a station that has no port: its bytes are handed to its session."""

    def __init__(self, path, kind="block set", profile="decimal-line", wait=0):
        text = REGISTER.format(kind=kind, first=0 if kind == "bench" else 1, profile=profile)
        register = register_from_bytes(text.encode(), "r.toml")
        plan = plan_from_bytes(PLAN.format(wait=wait).encode(), "plan.toml")
        self.ready = prepared(plan, register.standard("standard"), date(2026, 6, 1))
        blocks = {Decimal(5): 5.0, Decimal(10): 10.0}
        standard = TrueStandard(blocks)
        self.rig = CalibrationRig(load_profile(profile), GaugeTruth(noise_mm=0.0), standard)
        self.now_s = 0.0
        self.logbook = Logbook.open(path, at=datetime(2026, 6, 1, tzinfo=UTC))
        gauge = Gauge("DI-7", load_profile(profile), "nowhere")
        bench = Bench("lab", "M. Lind")
        station = Station([gauge], logbook=self.logbook, bench=bench, clock=lambda: self.now_s)
        self.taking = Taking(station, "DI-7", register.gauge("DI-7"))

    def task(self, place, kind="point"):
        zero = Decimal(0)
        taken = [
            Point(each.place, each.series, each.nominal_mm, each.direction, each.nominal_mm, zero,
                  each.nominal_mm, zero)
            for each in self.ready.plan.stops[: place - 1]
        ]  # fmt: skip
        wanted = next_point(self.ready, taken)
        return Task(kind=kind, run="as found", title="t", words="w", wanted=wanted)

    def goes_to(self, travel_mm, task, for_s=5.0):
        """Move the plunger and let time pass; the triggers that there were, in their order."""
        self.rig.go_to(travel_mm)
        return self.waits(task, for_s)

    def waits(self, task, for_s, sent=b"", by_key=False):
        found = []
        for _ in range(round(for_s / STEP_S)):
            self.now_s += STEP_S
            data = sent + self.rig.gauge.advance(STEP_S)
            sent = b""
            for event in self.taking.session.receive(data, self.now_s):
                if isinstance(event, Reading):
                    self.taking.read(event.value_mm, task)
            self.taking.notice_rest()
            found.append(self.taking.trigger_by_itself(task, by_key=by_key))
        return [each for each in dict.fromkeys(found) if each is not None]

    def takes(self, answer=(), trigger="key"):
        return self.taking.take(trigger, lambda *_: answer)


@pytest.fixture
def place(tmp_path):
    """Makes a place, and closes its logbook when the test ends."""
    made = []

    def make(**more):
        made.append(Place(tmp_path / "a.logbook", **more))
        return made[-1]

    yield make
    for each in made:
        each.logbook.close()


def test_a_block_is_taken_by_itself_once_the_plunger_rests_on_it(place):
    at = place()
    task = at.task(FIRST)
    assert at.waits(task, 3.0) == []  # at rest, and nobody has seen it move
    assert at.goes_to(5.0, task) == ["settled"]


def test_what_a_hand_sets_stays_by_key(place):
    bench, blocks = place(kind="bench"), None
    assert bench.goes_to(0.0, bench.task(FIRST)) == []
    assert bench.goes_to(5.0, bench.task(FIRST)) == []
    bench.logbook.close()
    blocks = place()
    assert blocks.goes_to(2.0, blocks.task(ZERO)) == []
    assert blocks.goes_to(0.0, blocks.task(ZERO)) == []
    returns = blocks.task(FIRST, "return")
    assert blocks.goes_to(5.0, returns) == []
    assert blocks.taking.why_not_yet(returns) == ""


def test_the_zero_is_taken_once_somebody_has_set_it_and_it_rests_from_then_on(place):
    at = place()
    task = at.task(ZERO)
    at.goes_to(0.0, task)
    at.rig.press("zero")
    at.taking.zero_is_set()
    assert at.taking.session.rest is None
    assert at.waits(task, 4.0) == ["key"]
    at.takes(Refusal("zero", "Set the gauge to zero."))
    assert at.waits(task, 4.0) == []


def test_by_key_nothing_is_taken_by_itself(place):
    at = place()
    task = at.task(FIRST)
    at.goes_to(0.0, task)
    at.rig.go_to(5.0)
    assert at.waits(task, 4.0, by_key=True) == []
    assert at.waits(task, 1.0) == ["settled"]


def test_the_same_rest_is_not_taken_twice(place):
    at = place()
    task = at.task(FIRST)
    at.goes_to(0.0, task)
    at.goes_to(5.0, task)
    taken = at.takes(trigger="settled")
    assert isinstance(taken, Taken)
    assert taken.records[0].value_mm == pytest.approx(Decimal(5), abs=Decimal("0.001"))
    at.taking.begin_point()
    assert at.waits(task, 4.0) == []


def test_a_repeat_wants_the_plunger_to_have_moved_by_key_too(place):
    at = place()
    task = at.task(REPEAT)
    at.goes_to(5.0, task)
    at.takes()
    at.waits(task, 3.0)
    assert at.taking.why_not_yet(task) == (
        "The plunger was not seen to move since the last value. Lift it."
    )
    at.goes_to(4.0, task)
    at.goes_to(5.0, task)
    assert at.taking.why_not_yet(task) == ""


def test_what_was_refused_is_not_in_the_logbook_and_is_not_tried_again_at_the_same_rest(place):
    at = place()
    task = at.task(FIRST)
    at.goes_to(0.0, task)
    at.goes_to(5.0, task)
    why = Refusal("wrong block", "It looks like another.", may_insist=True)
    assert at.takes(why, "settled") == why
    assert [entry.record.kind for entry in at.logbook.entries()] == ["logbook"]
    assert at.waits(task, 2.0) == []
    at.goes_to(3.0, task)
    assert at.goes_to(5.0, task) == ["settled"]


def test_after_a_reversal_was_refused_it_may_come_anew(place):
    at = place()
    at.goes_to(0.0, at.task(ZERO))
    at.takes()
    task = at.task(FIRST)
    at.goes_to(5.01, task)
    at.goes_to(5.0, task)
    assert at.taking.passing.highest_mm > Decimal("5.005")
    at.takes(Refusal("reversal", "It went past."))
    at.goes_to(4.5, task)
    at.goes_to(5.0, task)
    assert at.taking.passing.highest_mm < Decimal("5.002")


def test_the_plans_wait_is_over_before_anything_is_taken(place):
    at = place(wait=4)
    task = at.task(FIRST)
    at.goes_to(0.0, task)
    at.taking.begin_point()
    assert at.goes_to(5.0, task, 4.0) == []
    assert at.taking.why_not_yet(task).startswith("Let it rest for ")
    assert at.waits(task, 4.0) == ["settled"]
    assert at.taking.why_not_yet(task) == ""


def test_while_it_moves_nothing_is_taken_and_it_is_said(place):
    at = place()
    task = at.task(FIRST)
    at.goes_to(0.0, task)
    at.goes_to(5.0, task, 0.2)
    refused = at.takes()
    assert isinstance(refused, Refused)
    assert "still moving" in refused.reason


def test_after_the_gauge_was_gone_it_has_to_be_seen_to_move_again(place):
    at = place()
    task = at.task(FIRST)
    at.goes_to(0.0, task)
    at.goes_to(5.0, task)
    at.taking.forget()
    at.taking.begin_point()
    assert at.waits(task, 4.0) == []
    assert at.taking.passing.passed.lowest_mm is None

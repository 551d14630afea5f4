"""Jobs for the tests of the report, written into a real logbook; every figure is invented.

A `Job` writes records one minute apart and reports on them.
"""

import hashlib
from datetime import UTC, date, datetime, timedelta, timezone
from decimal import Decimal
from pathlib import Path
from uuid import UUID

from daq.jobs.sheet import sheet_from_bytes
from daq.logbook import Capture, CapturedGauge, CapturedReading, Logbook, Note
from daq.logbook.capture import CapturedSpec, CapturedVerdict
from daq.logbook.job import (
    JobBegun,
    JobCalibration,
    JobComponent,
    JobCorrection,
    JobEnded,
    JobException,
    JobGate,
    JobGauge,
    JobGaugeUsed,
    JobPart,
    JobPoint,
    JobResult,
)
from daq.report import facts_of, report_of
from daq.spec import decide

SHEET = (Path(__file__).parent / "sheet.toml").read_text("utf-8")
BEGAN = datetime(2026, 3, 1, 8, 15, 30, 250000, tzinfo=UTC)
EAST = timezone(timedelta(hours=1))
HEIGHTS = ("0.105", "0.092", "0.110", "0.098")
WARMTH = (Decimal("18.5"), Decimal("19.0"))
GAUGES = {"setting": "DI-07", "depth": "DG-02"}


class Job:
    """One job in a logbook of its own."""

    def __init__(self, path, sheet=SHEET, **begun):
        self.path, self.count = path, 0
        self.book = Logbook.open(path, at=BEGAN)
        raw = sheet.encode()
        self.sheet = sheet_from_bytes(raw, "sheet.toml")
        fields = {
            "uid": self.uid(),
            "at": self.at,
            "station": "bench 2",
            "operator": "A. Fitter",
            "engine": "No. 2, port side",
            "sheet_title": self.sheet.title,
            "sheet_revision": self.sheet.revision,
            "sheet_sha256": hashlib.sha256(raw).hexdigest(),
            "sheet_toml": sheet,
            "variant": "1500 rpm",
            "gauges": (
                self.gauge("setting", "0.001", "certificate 4711, due 2026-09-30"),
                self.gauge("depth", "0.01", ""),
            ),
        }
        self.begun = JobBegun(**fields | begun)
        self.book.append(self.begun)
        self.planned = {each.name: each for each in self.sheet.for_variant(self.begun.variant)}

    def gauge(self, role, resolution, calibration):
        return JobGauge(
            role=role, label=GAUGES[role], profile="decimal-line",
            identity=f"usb:1209:0001:{role}", resolution_mm=Decimal(resolution),
            calibration=calibration,
        )  # fmt: skip

    def uid(self):
        self.count += 1
        return str(UUID(int=0xABCD_0000_0000_4000_8000_0000_0000_0000 + self.count))

    @property
    def at(self):
        return BEGAN + timedelta(minutes=self.count)

    def add(self, model, operator="A. Fitter", **fields):
        record = model(uid=self.uid(), at=self.at, operator=operator, job=self.begun.uid, **fields)
        self.book.append(record)
        return record

    def capture(self, value, role, step, target, phase=None, master=None, position="", group=""):
        """A capture and the point that it was taken for."""
        value, label = Decimal(value), GAUGES[role]
        capture = Capture(
            uid=self.uid(), at=self.at, monotonic_s=10.5, station="bench 2", operator="A. Fitter",
            gauge=CapturedGauge(label=label, profile="decimal-line", identity="", port=""),
            spec=None, value_mm=value, u_mm=Decimal("0.001500"), n=1, rest_seen=True, since_s=9.0,
            until_s=10.0, span_readings=1, resolution_mm=Decimal("0.001"), deviation_mm=None,
            verdict=None, trigger="settled", unit_shown="mm",
            readings=(CapturedReading(t_s=9.5, text=f"{value:f}", unit="mm", status=()),),
            frames=("31320d",), bad_frames=0, note="",
        )  # fmt: skip
        self.book.append(capture)
        self.add(
            JobPoint, step=step, target=target, phase=phase, master=master, capture=capture.uid,
            position=position, angle_deg=None, group=group, words="measure it",
        )  # fmt: skip
        return capture

    def result(
        self, step, target, phase, value, u="0.0041", captures=(), operator="A. Fitter", **more
    ):
        """A result as the runner writes it; a capture is made if none is given."""
        planned = self.planned[step]
        value, u, spec = Decimal(value), Decimal(u), planned.spec
        captures = captures or [self.capture(value, planned.step.gauge, step, target, phase)]
        verdict = decide(value, u, spec, self.sheet.rule)
        fields = {
            "step": step, "target": target, "phase": phase, "master": None, "what": spec.name,
            "value": value, "u": u, "unit": "mm", "spec": captured(spec),
            "deviation": value - spec.nominal_mm, "verdict": said(verdict),
            "captures": tuple(each.uid for each in captures),
            "components": (
                component("settled value", Decimal("0.0015")), component("mastering", u),
            ),
            "parts": (), "corrections": (), "remarks": (), "doubts": (),
        }  # fmt: skip
        return self.add(JobResult, operator=operator, **fields | more)

    def master(self, step, when, moved="0.001"):
        """A check on the setting master."""
        planned = self.planned[step].step
        nominal, limit = planned.master.mm, planned.master_limit.mm
        value = nominal + Decimal(moved)
        spec = CapturedSpec(
            name="setting master", nominal_mm=nominal, lower_mm=-limit, upper_mm=limit, unit="mm",
            source="the sheet",
        )  # fmt: skip
        outcome = "in" if abs(Decimal(moved)) <= limit else "high"
        capture = self.capture(value, planned.gauge, step, "", master=when)
        return self.add(
            JobResult, step=step, target="", phase=None, master=when, what="setting master",
            value=value, u=Decimal("0.0012"), unit="mm", spec=spec, deviation=Decimal(moved),
            verdict=CapturedVerdict(outcome=outcome, rule="simple", guard_mm=Decimal(0)),
            captures=(capture.uid,), components=(), parts=(), corrections=(), remarks=(), doubts=(),
        )  # fmt: skip

    def gate(self, gate, step="", target="", asked="Confirm it.", turns=None, at_c=(None, None)):
        return self.add(
            JobGate, gate=gate, step=step, target=target, asked=asked, asked_turns=turns,
            part_c=at_c[0], gauge_c=at_c[1],
        )  # fmt: skip

    def calibration(self, role, standing="in date", usable=True, **more):
        """How a gauge stands by the register."""
        fields = {
            "role": role, "label": GAUGES[role], "standing": standing, "usable": usable,
            "words": f"{GAUGES[role]} is {standing}.", "certificate": "C-0815",
            "due": date(2027, 1, 31), "from_mm": None, "to_mm": None, "rests_on": None,
            "worst_mm": None, "table": (),
        }  # fmt: skip
        return self.add(JobCalibration, **fields | more)

    def used(self, known, reason="no other is here", by="B. Foreman"):
        """A gauge is used though it may not be."""
        return self.add(
            JobGaugeUsed, role=known.role, calibration=known.uid, standing=known.standing,
            asked=f"{known.words} Use it nevertheless?", reason=reason, by=by,
        )  # fmt: skip

    def exception(self, step, target, what, reason="the part was renewed", by="B. Foreman"):
        return self.add(JobException, step=step, target=target, what=what, reason=reason, by=by)

    def note(self, about, purpose="withdrawal", text="the wrong injector"):
        note = Note(
            uid=self.uid(), at=self.at, operator="B. Foreman", purpose=purpose, about=about.uid,
            text=text,
        )  # fmt: skip
        self.book.append(note)

    def end(self, how="complete", reason=""):
        return self.add(JobEnded, how=how, reason=reason)

    @property
    def facts(self):
        return facts_of(self.book.entries(), self.book.id, self.begun.uid)

    def report(self, zone=EAST):
        return report_of(self.facts.standing, self.facts, zone)

    # The steps of the sheet, done without a fault.

    def liners(self, *, ranges=("0.010",) * 4, means=HEIGHTS, closing="0.001"):
        self.gate("plate", asked='The plate says "1500 1/min".')
        self.gate("step", "liner", asked="Begin with the liners.", at_c=WARMTH)
        self.master("liner", "before")
        for number, (mean, within) in enumerate(zip(means, ranges, strict=True), 1):
            target = f"cylinder {number}"
            captures = [
                self.capture(mean, "setting", "liner", target, "as found", position=place)
                for place in ("free end", "exhaust side")
            ]
            parts = (
                part("mean", mean, "0.0022", str(number)), part("range within", within, "0.0030"),
            )  # fmt: skip
            remark = (
                f"the widest range within is {within} mm: highest free end, lowest exhaust side"
            )
            more = {"parts": parts, "remarks": (remark,)}
            self.result("liner", target, "as found", mean, "0.0022", captures, **more)
        self.master("liner", "after", closing)

    def racks(self, *, left=("42.612", "42.588", "42.605", "42.597"), closing="0.002"):
        self.master("rack", "before")
        for number, value in enumerate(left, 1):
            self.rack(number, value)
        self.master("rack", "after", closing)

    def rack(self, number, left, found=None):
        target, left = f"injector {number}", Decimal(left)
        self.result(
            "rack", target, "as found", found or Decimal("42.66") + number * Decimal("0.013")
        )
        self.gate(
            "adjusted", "rack", target, "anticlockwise about 1/8 turn (45°)", Decimal("-0.125")
        )
        correction = JobCorrection(
            name="temperature", amount=Decimal("-0.0021"), unit="mm",
            why="engine at 24.5 °C, master at 20 °C",
        )  # fmt: skip
        self.result("rack", target, "adjusted", left - Decimal("0.004"), corrections=(correction,))
        self.gate("locked", "rack", target, "Lock the nut.")
        self.result("rack", target, "as left", left, operator="C. Second")

    def stop(self, value="14.24"):
        self.result("stop", "engine", "as found", value, "0.0118")
        self.gate("sealed", "stop", asked="Lead seal through the lock nut.")


def component(name, u):
    return JobComponent(name=name, u=u, unit="mm", sensitivity=Decimal(1))


def part(name, value, u, of=""):
    return JobPart(name=name, of=of, value=Decimal(value), unit="mm", u=Decimal(u))


def captured(spec):
    return CapturedSpec(
        name=spec.name, nominal_mm=spec.nominal_mm, lower_mm=spec.lower_mm, upper_mm=spec.upper_mm,
        unit=spec.unit, source=spec.source,
    )  # fmt: skip


def said(verdict):
    return CapturedVerdict(
        outcome=verdict.outcome.value, rule=verdict.rule_text, guard_mm=verdict.guard_mm
    )


def good_job(path):
    """A whole job that passes."""
    job = Job(path)
    job.liners()
    job.racks()
    job.stop()
    job.end()
    return job


def poor_job(path):
    """A whole job in which about everything that can be reported has happened."""
    job = Job(path)
    job.liners(ranges=("0.010", "0.034", "0.008", "0.012"))
    job.racks(left=("42.612", "42.572", "42.605", "42.648"))
    job.exception("rack", "injector 3", "again", "the plunger stuck")
    job.master("rack", "before")
    job.result(
        "rack", "injector 3", "as left", "42.6631", doubts=("the repeats scatter by 0.012 mm",)
    )
    job.exception("rack", "injector 3", "overruled", "the new rack comes next week")
    job.master("rack", "after", "-0.001")
    skipped = job.exception("stop", "engine", "skipped", 'no <pin> & no "tool" at hand')
    job.note(skipped, "remark", "pin ordered")
    job.end()
    return job

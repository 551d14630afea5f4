"""Calibrations for the tests of certificates, made of invented records; no figure is measured.

The usual story: as found beyond its limits, adjusted, as left within them.
"""

from datetime import UTC, date, datetime, timedelta, timezone
from decimal import ROUND_HALF_EVEN, Decimal
from uuid import UUID

from daq.calibration.correction import correction_table
from daq.calibration.decision import characteristic, judge
from daq.calibration.entered import gauge_record, standard_record
from daq.calibration.forms import CertifiedLength, GaugeIdentity, ReferenceStandard
from daq.calibration.kept import KeptCalibration
from daq.calibration.plan_file import plan_from_bytes
from daq.calibration.points import Point
from daq.calibration.results import results_of
from daq.logbook import Capture, CapturedGauge, CapturedReading, Logbook, Note
from daq.logbook.calibration import (
    BudgetKept,
    BudgetLine,
    CalibrationBegun,
    CalibrationEnded,
    CalibrationGate,
    CalibrationPoint,
    CalibrationResult,
    CharacteristicResult,
    CorrectionKept,
    LineKept,
    MonteCarloKept,
    PointResult,
)
from daq.report.certificate import Laboratory, Typed, certificate_of
from daq.report.certificate.model import Proof
from daq.spec import rule_from

D = Decimal
BEGAN = datetime(2026, 6, 1, 7, 5, 30, 250000, tzinfo=UTC)
EAST = timezone(timedelta(hours=2))
U, K, DOF = D("0.00058"), D("2.0211"), D(39)
LIMITS = {
    "span error": D("0.006"), "partial-range error": D("0.004"),
    "hysteresis": D("0.003"), "repeatability": D("0.002"),
}  # fmt: skip
ORDER = ("fail", "not judged", "conditional fail", "conditional pass", "pass")
BAD = "as found"

PLAN = """\
[plan]
title = "Indicator of 12.7 mm"
revision = "B"
range = "12.7 mm"
points = [
  "0 mm", "1.5 mm", "2.5 mm", "4 mm", "5 mm", "6.5 mm", "7.5 mm", "9 mm", "10 mm", "11.5 mm",
  "12.5 mm",
]
preload = "0.2 mm"
wait = 10

[partial]
over = "1 mm"
points = ["1.5 mm", "1.7 mm", "1.9 mm", "2.1 mm", "2.3 mm", "2.5 mm"]

[[repeats]]
at = "1.5 mm"

[[repeats]]
at = "11.5 mm"
direction = "down"
"""

LABORATORY = Laboratory(
    name="Invented Length Laboratory", address=("1 Example Street", "Inventedtown"),
    contact="length@laboratory.invalid",
)  # fmt: skip
TYPED = Typed(LABORATORY, date(2026, 5, 29), "clean, the stem free, no visible damage")


def standard():
    nominals = [*(D(n) / 10 for n in range(10, 20)), *(D(n) for n in range(2, 10)), D(10), D(20)]
    return ReferenceStandard.model_validate(
        {
            "id": "blocks-1", "kind": "block set", "what": "Steel blocks, twenty pieces",
            "certificate": "INV-2026-014", "issuer": "Invented laboratory",
            "values": [
                {"nominal": n, "length": n + D("0.00004"), "expanded_u": D("0.00008"), "k": 2}
                for n in nominals
            ],
            "expansion": D("11.5"), "u_expansion": D("0.6"), "drift_per_year": D("0.00002"),
            "valid_from": date(2026, 1, 10), "due": date(2028, 1, 10),
        }
    )  # fmt: skip


def flat():
    value = CertifiedLength(nominal="0 mm", length="0 mm", expanded_u="0.0004 mm", k=2)
    changes = {"id": "plate", "kind": "flat", "what": "Glass plate", "certificate": "INV-2026-020"}
    return standard().model_copy(update={**changes, "values": (value,)})


def gauge(**changes):
    facts = {
        "label": "DI-7", "identity": "ADAPTER-0007", "kind": "indicator", "range": "12.7 mm",
        "step": "0.001 mm", "profile": "decimal-line",
        "limits": {
            "source": "Work instruction 4, revision B", "over_range": "0.006 mm",
            "over_partial": "0.004 mm", "partial": "1 mm", "hysteresis": "0.003 mm",
            "repeatability": "0.002 mm",
        },
    }  # fmt: skip
    return GaugeIdentity.model_validate(facts | changes)


def curve(run, stop):
    """An invented error curve: as found too steep, as left only its wave."""
    travel = float(stop.nominal_mm)
    error = D(str(round(0.0011 * ((travel * 3) % 5 - 2) / 2, 4)))
    if stop.direction == "down":
        error += D("0.0009")
    if run == BAD:
        error += D("0.0006") * stop.nominal_mm
    if stop.series == "repeat":
        error += D(stop.number % 3) * D("0.0004")
    return error.quantize(D("0.0001"), ROUND_HALF_EVEN) if stop.place > 1 else D("0.0000")


class Story:
    """A calibration as its records come, one minute apart."""

    def __init__(self, path=None, *, gauge_facts=None, zeroed_on=False, **begun):
        self.count = 0
        self._book = Logbook.open(path, at=BEGAN) if path is not None else None
        self._waiting = []
        self.plan = plan_from_bytes(PLAN.encode(), "indicator.toml")
        clerk = "A. Clerk"
        entered = gauge_record(gauge_facts or gauge(), clerk, BEGAN, "register.toml")
        blocks = standard_record(standard(), clerk, BEGAN, "register.toml")
        plate = standard_record(flat(), clerk, BEGAN, "register.toml") if zeroed_on else None
        entered, blocks = (
            each.model_copy(update={"uid": self.uid()}) for each in (entered, blocks)
        )
        if plate is not None:
            plate = plate.model_copy(update={"uid": self.uid()})
        fields = {
            "uid": self.uid(), "at": self.at, "station": "bench 2", "operator": "A. Metrologist",
            "gauge": entered.uid, "gauge_label": entered.label, "identity": entered.identity,
            "standard": blocks.uid, "flat": plate.uid if plate else None,
            "plan_name": "indicator.toml", "plan_sha256": self.plan.fingerprint, "plan_toml": PLAN,
            "rule": "simple", "largest_expanded_mm": D("0.002"), "level": D("0.95"),
            "place": "Room 3, Invented Length Laboratory", "customer": "Engine shop, B. Foreman",
            "order": "4711",
        }  # fmt: skip
        self.kept = KeptCalibration(CalibrationBegun(**fields | begun), entered, blocks, plate)
        for each in (entered, blocks, plate, self.kept.begun):
            if each is not None:
                self.number(each)

    def uid(self):
        self.count += 1
        return str(UUID(int=0xABCD_0000_0000_4000_8000_0000_0000_0000 + self.count))

    @property
    def at(self):
        return BEGAN + timedelta(minutes=self.count)

    @property
    def book(self):
        """The logbook with all that there is so far, written in one go."""
        self._book.append_many(self._waiting)
        self._waiting.clear()
        return self._book

    def number(self, record):
        # The logbook's first record is its cover.
        self.kept.sequences[record.uid] = 2 + len(self.kept.sequences) + len(self.kept.withdrawn)
        self._waiting.append(record)

    def add(self, model, **fields):
        said = {"uid": self.uid(), "at": self.at, "operator": "A. Metrologist"}
        record = model(calibration=self.kept.begun.uid, **said | fields)
        self.number(record)
        self.kept.records.append(record)
        return record

    def gate(self, gate, run="as found", said="", temperature=None):
        return self.add(
            CalibrationGate, gate=gate, run=run, asked=f"Confirm: {gate}?", said=said,
            temperature_c=None if temperature is None else D(temperature),
        )  # fmt: skip

    def point(self, run, stop, insisted="", error=None):
        reference = stop.nominal_mm + D("0.00004") * (stop.nominal_mm > 0)
        reading = reference + (curve(run, stop) if error is None else error)
        capture = self.capture(reading)
        return self.add(
            CalibrationPoint, run=run, place=stop.place, series=stop.series,
            direction=stop.direction, nominal_mm=stop.nominal_mm, reference_mm=reference,
            u_reference_mm=D("0.00004"), capture=capture.uid, reading_mm=reading,
            u_reading_mm=D("0.0003"), is_return=False, temperature_c=D("20.1"),
            lowest_mm=reading - D("0.001"), highest_mm=reading, insisted=insisted,
            words=f"Put {stop.nominal_mm} mm under the gauge.",
        )  # fmt: skip

    def capture(self, value):
        uid = self.uid()
        capture = Capture(
            uid=uid, at=self.at, monotonic_s=10.5, station="bench 2", operator="A. Metrologist",
            gauge=CapturedGauge(label="DI-7", profile="decimal-line", identity="", port=""),
            spec=None, value_mm=value, u_mm=D("0.0003"), n=1, rest_seen=True, since_s=9.0,
            until_s=10.0, span_readings=1, resolution_mm=D("0.001"), deviation_mm=None,
            verdict=None, trigger="settled", unit_shown="mm",
            readings=(CapturedReading(t_s=9.5, text=f"{value:f}", unit="mm", status=()),),
            frames=("31320d",), bad_frames=0, note="",
        )  # fmt: skip
        self.number(capture)
        self.kept.captures[uid] = capture
        return capture

    def run(self, run, insisted="", **curve):
        return [
            self.point(run, stop, insisted if stop.place == 5 else "", **curve)
            for stop in self.plan.stops
        ]

    def result(self, run, records, **changes):
        facts = judged(run, records) | changes
        return self.add(CalibrationResult, run=run, **facts)

    def note(self, about, text="the wrong block was taken"):
        note = Note(
            uid=self.uid(), at=self.at, operator="B. Foreman", purpose="withdrawal",
            about=about.uid, text=text,
        )  # fmt: skip
        self._waiting.append(note)
        self.kept.withdrawn.append(note)
        return note

    def end(self, as_found, as_left, **changes):
        facts = {
            "how": "complete", "reason": "", "certificate": "2026-0042", "as_found": as_found,
            "as_left": as_left, "from_mm": None, "to_mm": None, "due": date(2027, 6, 1),
            "due_words": "12 months after 2026-06-01, by the fixed interval",
            "authorised_by": "C. Head", "remarks": "",
        }  # fmt: skip
        return self.add(CalibrationEnded, **facts | changes)

    @property
    def proof(self):
        last = "9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08"
        return Proof(
            logbook_id="0f0e0d0c-0000-4000-8000-000000000001",
            first_record=self.kept.sequences[self.kept.begun.uid],
            last_record=max(self.kept.sequences.values()), last_hash=last,
            verify=f"restpoint log verify LOGBOOK --last-hash {last}",
        )  # fmt: skip

    def model(self, typed=TYPED, zone=EAST):
        return certificate_of(self.kept, self.proof, typed, zone)


def judged(run, records):
    """What the points of a run come to, judged by simple acceptance with a bound on U."""
    points = [
        Point(
            each.place, each.series, each.nominal_mm, each.direction, each.reference_mm,
            each.u_reference_mm, each.reading_mm, each.u_reading_mm, run, each.uid,
        )
        for each in records
    ]  # fmt: skip
    results = results_of(points, D(1), run)
    found = tuple(map(_characteristic, results.characteristics))
    words = [each.word for each in found if each.word is not None]
    uncertainty = {"u_mm": U, "dof": DOF, "k": K, "expanded_mm": U * K}
    return {
        "word": min(words, key=ORDER.index),
        "points": tuple(
            PointResult(
                place=p.place, series=p.series, direction=p.direction, nominal_mm=p.nominal_mm,
                reference_mm=p.reference_mm, reading_mm=p.reading_mm, error_mm=p.error_mm,
                point=p.uid, **uncertainty,
            )
            for p in points
        ),
        "characteristics": found,
        "budgets": (
            BudgetKept(of="span error", lines=tuple(_lines()), **uncertainty),
            BudgetKept(of="the least sure point", lines=tuple(_lines()), **uncertainty),
        ),
        "correction": tuple(
            CorrectionKept(
                nominal_mm=r.nominal_mm, reading_mm=r.reading_mm, correction_mm=r.correction_mm,
                u_mm=r.u_mm, between_ways_mm=r.between_ways_mm,
            )
            for r in correction_table(points, run).rows
        ),
        "line": LineKept(
            at_zero_mm=D("0.00021"), u_at_zero_mm=D("0.00018"), slope=D("0.0000331"),
            u_slope=D("0.0000242"), correlation=D("-0.84"), residual_s_mm=D("0.00064"), dof=20,
        ),
        "monte_carlo": (
            MonteCarloKept(
                of="span error", trials=200_000, seed=1, u_mm=D("0.000583"),
                low_mm=D("-0.001144"), high_mm=D("0.001147"), agrees=True,
                reason="both ends within 0.00005 mm",
            ),
        ),
        "remarks": (), "doubts": (),
    }  # fmt: skip


def _characteristic(each):
    limit = LIMITS.get(each.what)
    decided = None
    if limit is not None:
        spec = characteristic(each.what, upper_mm=limit, source="own")
        decided = judge(
            each.value_mm, U, spec, rule_from("simple"), k=K, largest_expanded_mm=D("0.002"),
            magnitude=True,
        )  # fmt: skip
    return CharacteristicResult(
        what=each.what, value_mm=each.value_mm, where=each.words,
        places=tuple(p.place for p in each.points), u_mm=U, dof=DOF, k=K, expanded_mm=U * K,
        limit_mm=limit, word=decided.word.value if decided else None,
        reason=decided.reason if decided else "", guard_mm=decided.guard_mm if decided else None,
        p_conform=D(f"{decided.p_conform:.9f}") if decided else None,
    )  # fmt: skip


def _lines():
    for name, distribution, basis, u, dof in (
        ("reference", "normal", "certificate INV-2026-014, U at k = 2", "0.00004", None),
        ("drift of the reference", "uniform", "0.00002 mm a year, 143 days", "0.0000045", None),
        ("display step, at the point", "uniform", "step 0.001 mm", "0.000289", None),
        ("display step, at the zero", "uniform", "step 0.001 mm", "0.000289", None),
        ("repeatability", "t", "five repeats at the worst point", "0.00040", D(8)),
        ("temperature from 20 °C", "uniform", "0.5 K, 11.5 and 11.5 µm/(m·K)", "0.000010", None),
    ):
        yield BudgetLine(
            name=name, distribution=distribution, basis=basis, u=D(u), unit="mm", dof=dof,
            sensitivity=D(1), contribution_mm=D(u),
        )  # fmt: skip


def adjusted(path=None, *, ended=None, **begun):
    """As found beyond its limits, adjusted, as left within them."""
    story = Story(path, **begun)
    story.gate("conditions", temperature="20.0")
    found = story.result("as found", story.run("as found"))
    story.gate("adjusted", said="the spindle was cleaned and the scale set anew")
    story.gate("conditions", "as left", temperature="20.2")
    left = story.result("as left", story.run("as left"))
    story.end(**{"as_found": found.word, "as_left": left.word} | (ended or {}))
    return story


def untouched(path=None, *, ended=None, **begun):
    """As found within its limits, and not adjusted."""
    story = Story(path, **begun)
    story.gate("conditions", temperature="20.0")
    records = [
        story.point("as found", stop, error=curve("as left", stop)) for stop in story.plan.stops
    ]
    found = story.result("as found", records)
    story.gate("not adjusted")
    story.end(**{"as_found": found.word, "as_left": found.word} | (ended or {}))
    return story


def troubled(path=None):
    """About everything that can be said of a calibration has happened in it."""
    story = Story(path, zeroed_on=True)
    story.gate("conditions", temperature="19.6", said="by the thermometer on the plate")
    first = story.point("as found", story.plan.stops[0])
    story.note(first, "the plate was not clean")
    story.gate("anew", said="the gauge was knocked")
    points = story.run("as found", insisted="the stack was counted twice; C. Head answers for it")
    remarks = {"remarks": ("The zero had moved by 0.001 mm.",)}
    found = story.result("as found", points, **remarks)
    story.gate("adjusted", said="the spindle was cleaned")
    points = story.run("as left")
    left = story.result("as left", points, doubts=("The zero had moved by 0.004 mm at the end.",))
    story.end(
        found.word, left.word, from_mm=D("1.5"), to_mm=D("10"),
        remarks="The dial glass is scratched.",
    )  # fmt: skip
    return story


def unfinished(path=None):
    """Begun, with one run done."""
    story = Story(path)
    story.gate("conditions", temperature="20.0")
    story.result("as found", story.run("as found"))
    return story


def broken_off(path=None):
    story = unfinished(path)
    story.end(
        "fail", None, how="broken off", reason="the spindle sticks", certificate="", due=None,
        due_words="", authorised_by="",
    )  # fmt: skip
    return story


STORIES = {
    "adjusted": adjusted, "untouched": untouched, "troubled": troubled,
    "unfinished": unfinished, "broken off": broken_off,
}  # fmt: skip

"""Limits across: what is compared with what, and what takes no part. Every figure is invented."""

from datetime import UTC, datetime, timedelta
from decimal import Decimal
from uuid import UUID

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daq.jobs.across import across_findings
from daq.jobs.sheet import demo_sheet
from daq.jobs.standing import standing
from daq.logbook.capture import CapturedSpec, CapturedVerdict
from daq.logbook.job import JobBegun, JobException, JobGauge, JobPart, JobResult
from daq.spec import decide, rule_from

SHEET = demo_sheet()
VARIANT = SHEET.variants[0].name
PLANNED = {each.name: each for each in SHEET.for_variant(VARIANT)}
BEGAN = datetime(2026, 3, 2, 6, 0, tzinfo=UTC)
JOB = str(UUID(int=1 << 76 | 1))


class Records:
    """The records of one job, one second apart."""

    def __init__(self):
        self.kept = []

    def stamp(self):
        number = len(self.kept) + 2
        at = BEGAN + timedelta(seconds=number)
        return {"uid": str(UUID(int=number)), "at": at, "operator": "A", "job": JOB}

    def left(self, step, target, value, u="0.003", within=None, unit="mm"):
        spec, value, u = PLANNED[step].spec, Decimal(value), Decimal(u)
        verdict = decide(value, u, spec, SHEET.rule)
        parts = []
        if within is not None:
            number, u_within = within
            parts.append(
                JobPart(name="range within", of="", value=Decimal(number), unit="mm", u=u_within)
            )
        self.kept.append(
            JobResult(
                **self.stamp(), step=step, target=target, phase="as found", master=None,
                what=step, value=value, u=u, unit=unit, deviation=value - spec.nominal_mm,
                spec=CapturedSpec(
                    name=step, nominal_mm=spec.nominal_mm, lower_mm=spec.lower_mm,
                    upper_mm=spec.upper_mm, unit=spec.unit, source=spec.source,
                ),
                verdict=CapturedVerdict(
                    outcome=verdict.outcome.value, rule="simple", guard_mm=verdict.guard_mm
                ),
                captures=(JOB,), components=(), parts=tuple(parts), corrections=(), remarks=(),
                doubts=(),
            )
        )  # fmt: skip

    def exception(self, step, target, what):
        self.kept.append(
            JobException(**self.stamp(), step=step, target=target, what=what, reason="r", by="B")
        )

    def findings(self, step, rule="simple"):
        begun = JobBegun(
            uid=JOB, at=BEGAN, station="", operator="A", engine="E", sheet_title=SHEET.title,
            sheet_revision=SHEET.revision, sheet_sha256=SHEET.fingerprint, sheet_toml="x",
            variant=VARIANT,
            gauges=(
                JobGauge(role="rack", label="", profile="p", identity="",
                         resolution_mm=Decimal("0.001"), calibration=""),
            ),
        )  # fmt: skip
        return across_findings(standing(SHEET, begun, self.kept).steps[step], rule_from(rule))


@pytest.fixture
def records():
    return Records()


def test_the_spread_is_from_the_smallest_to_the_largest_left(records):
    for number, value in enumerate(("42.61", "42.58", "42.60", "42.62", "42.59", "42.60"), 1):
        records.left("rack reference", f"injector {number}", value, u=f"0.00{number}")
    (found,) = records.findings("rack reference")
    assert (found.name, found.value_mm, found.limit_mm) == (
        "spread", Decimal("0.04"), Decimal("0.06")
    )  # fmt: skip
    # u of 42.62 is 0.004, of 42.58 0.002: the square root of 20e-6.
    assert found.u_mm == Decimal("0.004472")
    assert found.holds
    assert len(found.targets) == 6
    assert found.missing == ()


def test_a_spread_on_its_limit_holds_and_beyond_it_does_not(records):
    records.left("rack reference", "injector 1", "42.57")
    records.left("rack reference", "injector 2", "42.63")
    assert records.findings("rack reference")[0].outcome == "holds"
    records.left("rack reference", "injector 3", "42.630001")
    assert records.findings("rack reference")[0].outcome == "too large"
    # With a guard of U = 2u = 0.0085 neither is proved.
    assert records.findings("rack reference", "guarded 1U")[0].outcome == "too close to call"


def test_what_was_skipped_or_is_not_final_takes_no_part(records):
    records.left("rack reference", "injector 1", "42.60")
    assert records.findings("rack reference") == ()
    records.left("rack reference", "injector 2", "42.61")
    records.left("rack reference", "injector 3", "42.80")  # not within its own limits
    records.left("rack reference", "injector 4", "42.64")
    records.exception("rack reference", "injector 4", "skipped")
    (found,) = records.findings("rack reference")
    assert found.value_mm == Decimal("0.01")
    assert found.missing == ("injector 3", "injector 4", "injector 5", "injector 6")


def test_what_was_overruled_takes_part(records):
    records.left("rack reference", "injector 1", "42.60")
    records.left("rack reference", "injector 2", "42.70")
    records.exception("rack reference", "injector 2", "overruled")
    (found,) = records.findings("rack reference")
    assert (found.value_mm, found.outcome) == (Decimal("0.10"), "too large")


def test_the_neighbours_that_differ_most_are_named(records):
    heights = ("0.10", "0.13", "0.08", "0.08", "0.12", "0.10")
    for number, value in enumerate(heights, 1):
        records.left("liner projection", f"cylinder {number}", value)
    (found,) = records.findings("liner projection")
    assert (found.name, found.value_mm, found.targets) == (
        "neighbour step", Decimal("0.05"), ("cylinder 2", "cylinder 3")
    )  # fmt: skip
    assert found.outcome == "too large"


def test_what_stands_apart_is_no_neighbour(records):
    records.left("liner projection", "cylinder 1", "0.10")
    records.left("liner projection", "cylinder 3", "0.13")
    assert records.findings("liner projection") == ()


def test_each_target_has_its_own_range_within(records):
    records.left("liner projection", "cylinder 1", "0.10", within=("0.030", Decimal("0.002")))
    records.left("liner projection", "cylinder 4", "0.10", within=("0.031", None))
    one, four = records.findings("liner projection")
    assert (one.name, one.targets, one.outcome) == ("within", ("cylinder 1",), "holds")
    assert (four.targets, four.outcome, four.u_mm) == (("cylinder 4",), "too large", None)
    # A rule that needs an uncertainty can say nothing without one.
    _, four = records.findings("liner projection", "guarded 1U")
    assert four.outcome == "too close to call"


def test_a_step_without_limits_across_has_no_findings(records):
    records.left("intake clearance", "intake 1", "0.36")
    records.left("intake clearance", "intake 2", "0.36")
    assert records.findings("intake clearance") == ()


def test_what_is_no_length_takes_no_part(records):
    records.left("rack reference", "injector 1", "42.60")
    records.left("rack reference", "injector 2", "42.61", unit="deg")
    assert records.findings("rack reference") == ()


@given(st.lists(st.integers(-50, 50), min_size=2, max_size=6))
def test_no_two_results_differ_by_more_than_the_spread(offsets):
    records = Records()
    for number, offset in enumerate(offsets, 1):
        value = Decimal("42.60") + Decimal(offset).scaleb(-3)
        records.left("rack reference", f"injector {number}", value)
    (found,) = records.findings("rack reference")
    differences = [abs(a - b) for a in offsets for b in offsets]
    assert found.value_mm == Decimal(max(differences)).scaleb(-3)
    assert found.holds == (max(differences) <= 60)

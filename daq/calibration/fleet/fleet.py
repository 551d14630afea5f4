"""Every gauge and standard of a logbook, with its history. No clock: the day comes in."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date
from itertools import pairwise
from typing import Literal

from daq.calibration.due import (
    SOON_DAYS,
    Calibrated,
    GaugeStatus,
    HistoryEntry,
    Outcome,
    Proposal,
    next_due,
    status_on,
)
from daq.calibration.entered import gauge_of, standard_of
from daq.calibration.errors import RegisterError
from daq.calibration.forms import GaugeIdentity, ReferenceStandard
from daq.calibration.reliability import MONTH_DAYS, IntervalRun
from daq.logbook.calibration import CalibrationBegun, CalibrationEnded
from daq.logbook.register import GaugeEntered, StandardEntered, StatusChanged

_GOOD: tuple[Outcome, ...] = ("pass", "conditional pass")
_BAD: tuple[Outcome, ...] = ("fail", "conditional fail")

StandardStanding = Literal["in date", "due", "overdue", "not yet valid", "withdrawn"]


@dataclass(frozen=True, slots=True)
class StandardStatus:
    """How a standard stands on a day, in words too."""

    standing: StandardStanding
    words: str
    is_usable: bool
    due: date

    def __str__(self) -> str:
        return self.words


@dataclass(slots=True)
class Fleet:
    """The register of a logbook.

    ``gauges`` and ``standards`` are the newest entries by name, in the order in which they were
    made; ``gauge_entries`` and ``standard_entries`` all of them. ``changes`` are the changes of
    status, by what they are about and its name. ``calibrations`` are those that were completed and
    not taken back, by gauge; ``histories`` those and the changes of status together, as
    ``daq.calibration.due`` takes them. Lists are oldest first. ``remarks`` are sentences on a
    gauge's entries that somebody should see to; ``unreadable`` tells of records of the register
    that this program cannot read, so that it may be wrong.
    """

    gauges: dict[str, GaugeEntered] = field(default_factory=dict)
    standards: dict[str, StandardEntered] = field(default_factory=dict)
    gauge_entries: dict[str, list[GaugeEntered]] = field(default_factory=dict)
    standard_entries: dict[str, list[StandardEntered]] = field(default_factory=dict)
    changes: dict[tuple[str, str], list[StatusChanged]] = field(default_factory=dict)
    calibrations: dict[str, list[tuple[CalibrationBegun, CalibrationEnded]]] = field(
        default_factory=dict
    )
    histories: dict[str, list[HistoryEntry]] = field(default_factory=dict)
    remarks: dict[str, tuple[str, ...]] = field(default_factory=dict)
    unreadable: tuple[str, ...] = ()

    def entry(self, label: str) -> GaugeEntered:
        """The newest entry of a gauge.

        Raises:
            RegisterError: there is none; the message names those there are.
        """
        if label not in self.gauges:
            raise RegisterError(f"There is no gauge {label!r}. {_there(self.gauges)}")
        return self.gauges[label]

    def gauge(self, label: str) -> GaugeIdentity:
        """A gauge as it was entered last.

        Raises:
            RegisterError: as for ``entry``.
        """
        return gauge_of(self.entry(label))

    def gauge_by_identity(self, identity: str) -> GaugeIdentity | None:
        """The gauge that serves on an adapter; None if none does, or the identity is empty."""
        if not identity:
            return None
        # Where an adapter went from one gauge to another, the later entry is the one that holds.
        there = [each for each in self.gauges.values() if is_same_adapter(each.identity, identity)]
        return gauge_of(there[-1]) if there else None

    def standard_entry(self, id: str) -> StandardEntered:
        """The newest entry of a standard.

        Raises:
            RegisterError: there is none; the message names those there are.
        """
        if id not in self.standards:
            raise RegisterError(f"There is no standard {id!r}. {_there(self.standards)}")
        return self.standards[id]

    def standard(self, id: str) -> ReferenceStandard:
        """A standard as it was entered last.

        Raises:
            RegisterError: as for ``standard_entry``.
        """
        return standard_of(self.standard_entry(id))

    def history(self, label: str) -> tuple[HistoryEntry, ...]:
        """The calibrations, withdrawals and returns of a gauge, oldest first."""
        return tuple(self.histories.get(label, ()))

    def status(self, label: str, on: date) -> GaugeStatus:
        """How a gauge stands on a day.

        Raises:
            RegisterError: it was never entered.
        """
        gauge = self.gauge(label)
        return status_on(on, gauge, self.history(label), self.intervals_like(label, on))

    def standard_status(self, id: str, on: date) -> StandardStatus:
        """How a standard stands on a day.

        Raises:
            RegisterError: it was never entered.
        """
        standard = self.standard(id)
        changes = [each for each in self.changes.get(("standard", id), []) if each.at.date() <= on]
        if changes and changes[-1].what == "withdrawn":
            last = changes[-1]
            words = f"{id} was withdrawn on {last.at.date()} by {last.by}: {last.reason}"
            return StandardStatus("withdrawn", words, is_usable=False, due=standard.due)
        days = (standard.due - on).days
        if why := standard.why_unusable(on):
            standing: StandardStanding = "overdue" if days < 0 else "not yet valid"
            return StandardStatus(standing, f"{why}.", is_usable=False, due=standard.due)
        soon = days <= SOON_DAYS
        left = f", in {days} {'day' if days == 1 else 'days'}" if days else ", today"
        left = left if soon else ""
        words = f"{id} is due on {standard.due}{left} ({standard.certificate})."
        return StandardStatus("due" if soon else "in date", words, is_usable=True, due=standard.due)

    def next_due(self, label: str, on: date, as_if: Calibrated | None = None) -> Proposal:
        """When a gauge is due next, seen from a day.

        Args:
            label: the gauge.
            on: the day.
            as_if: a calibration that is not in the logbook yet, to see what would come of it.

        Raises:
            RegisterError: it was never entered.
            CalibrationError: it has never been calibrated.
        """
        history = [*self.history(label), *([as_if] if as_if is not None else [])]
        return next_due(self.gauge(label), history, on, self.intervals_like(label, on, as_if))

    def last_calibration(
        self, label: str, on: date | None = None
    ) -> tuple[CalibrationBegun, CalibrationEnded] | None:
        """The newest complete calibration of a gauge, up to a day if one is given."""
        there = self.calibrations.get(label, [])
        found = [pair for pair in there if on is None or pair[1].at.date() <= on]
        return found[-1] if found else None

    def intervals_like(
        self, label: str, on: date, as_if: Calibrated | None = None
    ) -> tuple[IntervalRun, ...]:
        """The intervals that gauges like this one have run to their end, up to a day.

        Gauges are alike that have the same kind, range and step and the same permissible errors.
        An interval counts from a calibration that the gauge left within its limits to the next,
        where it was judged as it was found.
        """
        like = self.entry(label)
        return tuple(
            each
            for gauge in self.gauges.values()
            if _alike(gauge, like)
            for each in _intervals(gauge.label, self._calibrated(gauge.label, on, label, as_if))
        )

    def _calibrated(
        self, label: str, on: date, of: str, as_if: Calibrated | None
    ) -> list[Calibrated]:
        history = [*self.history(label), *([as_if] if as_if is not None and label == of else [])]
        found = [each for each in history if isinstance(each, Calibrated) and each.on <= on]
        return sorted(found, key=lambda each: each.on)


def is_same_adapter(one: str, other: str) -> bool:
    """Whether two identities are of one adapter; systems differ in how they write its letters."""
    return one.casefold() == other.casefold()


def _alike(one: GaugeEntered, other: GaugeEntered) -> bool:
    def facts(gauge: GaugeEntered) -> tuple[object, ...]:
        limits = gauge.limits.model_copy(update={"source": ""})
        return gauge.is_a, gauge.range_mm, gauge.step_mm, limits

    return facts(one) == facts(other)


def _intervals(label: str, calibrated: list[Calibrated]) -> Iterator[IntervalRun]:
    for before, after in pairwise(calibrated):
        days = (after.on - before.on).days
        # It must have gone out within its limits, or the interval shows nothing.
        if days > 0 and before.as_left in _GOOD and after.as_found in (*_GOOD, *_BAD):
            is_within = after.as_found in _GOOD
            yield IntervalRun(label, after.on, days / MONTH_DAYS, is_within)


def _there(names: dict[str, GaugeEntered] | dict[str, StandardEntered]) -> str:
    if not names:
        return "The register is empty; enter a file with: restpoint register enter FILE."
    return f"There are: {', '.join(sorted(names))}."

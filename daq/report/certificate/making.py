"""From the records of a calibration to the model of its certificate.

Nothing is asked of a clock.
"""

from dataclasses import dataclass
from datetime import UTC, date, datetime, tzinfo

from daq.calibration.kept import KeptCalibration
from daq.logbook import LogbookReader, Note, UnknownRecord
from daq.report.certificate.errors import CertificateError
from daq.report.certificate.facts import (
    adjustment_of,
    decision_of,
    environment_of,
    gauge_facts,
    method_of,
    plan_of,
    standards_of,
)
from daq.report.certificate.lines import Laboratory
from daq.report.certificate.model import CertificateModel, Dates, Proof, State
from daq.report.certificate.runs import run_report
from daq.report.certificate.standing import Counted, counted
from daq.report.certificate.statements import (
    authorised_words,
    deviations_of,
    doubts_of,
    due_of,
    statements_of,
    verdict_of,
)
from daq.report.lines import Instant

TITLES: dict[State, str] = {
    "issued": "Calibration certificate",
    "draft": "Draft of a calibration",
    "void": "Void: no certificate",
}


NOT_STATED = Laboratory()
"""A laboratory of which nothing was said."""


@dataclass(frozen=True, slots=True)
class Typed:
    """What the records do not hold and somebody typed; what is empty was not stated.

    received: the day on which the gauge came in. condition: what it looked like. with_due: False
    leaves out the day on which it is due next.
    """

    laboratory: Laboratory = NOT_STATED
    received: date | None = None
    condition: str = ""
    with_due: bool = True


NOTHING_TYPED = Typed()


def certificate_of(
    kept: KeptCalibration, proof: Proof, typed: Typed = NOTHING_TYPED, zone: tzinfo = UTC
) -> CertificateModel:
    """The certificate of a calibration; a draft or void document where there can be none.

    The same records give the same certificate, whenever and wherever it is made.

    Args:
        kept: the calibration.
        proof: what vouches for its records; ``proof_of`` gives it.
        typed: what the records do not hold.
        zone: what days and local times are given in.
    """
    found = counted(kept)
    plan, wrong = plan_of(kept)
    state, why = found.state, found.why
    if wrong:
        state, why = "void", (*why, wrong)
    runs = tuple(run_report(each, kept, found) for each in found.results)
    adjusted = adjustment_of(kept, found.adjusted)
    standards = tuple(standards_of(kept))
    begun, ended = kept.begun, found.ended
    is_issued = state == "issued"
    name = ended.authorised_by if ended is not None and is_issued else ""
    return CertificateModel(
        state=state,
        why=why,
        title=TITLES[state],
        number=ended.certificate if ended is not None and is_issued else "",
        mark=_mark(kept, found, state),
        calibration=begun.uid,
        laboratory=typed.laboratory,
        place=begun.place,
        station=begun.station,
        customer=begun.customer,
        order=begun.order,
        operators=tuple(dict.fromkeys(each.operator for each in (begun, *kept.records))),
        dates=_dates(kept, found, typed.received, state, zone),
        gauge=gauge_facts(kept.gauge, kept.sequences[kept.gauge.uid], typed.condition),
        method=method_of(kept, plan),
        standards=standards,
        verdict=verdict_of(kept, found, runs, adjusted),
        decision=decision_of(kept),
        adjustment=adjusted,
        runs=runs,
        environment=environment_of(kept, found, plan),
        deviations=tuple(deviations_of(kept, found)),
        remarks=(ended.remarks,) if ended is not None and ended.remarks else (),
        doubts=doubts_of(runs),
        due=due_of(ended) if typed.with_due and is_issued else None,
        authorised_by=name,
        authorised_words=authorised_words(name),
        statements=tuple(statements_of(standards, kept, state)),
        proof=proof,
    )


def proof_of(kept: KeptCalibration, logbook: LogbookReader) -> Proof:
    """What vouches for the records of a calibration: the hash of the last one about it.

    Whoever calls has checked the chain (`daq.logbook.verify`).

    Raises:
        CertificateError: a record since the calibration began cannot be read; it may belong to it.
    """
    first = kept.sequences[kept.begun.uid]
    last, last_hash = first, ""
    for entry in logbook.entries(first):
        record = entry.record
        if isinstance(record, UnknownRecord):
            raise CertificateError(
                f"Record {entry.sequence} of the logbook cannot be read, and it may belong to the "
                f"calibration of {kept.begun.gauge_label}: {record.why}. Make the certificate with "
                "the restpoint that wrote it."
            )
        about = record.about if isinstance(record, Note) else getattr(record, "uid", None)
        if about in kept.sequences and entry.sequence >= last:
            last, last_hash = entry.sequence, entry.hash
    return Proof(
        logbook_id=logbook.id,
        first_record=first,
        last_record=last,
        last_hash=last_hash,
        verify=f"restpoint log verify LOGBOOK --last-hash {last_hash}",
    )


def _mark(kept: KeptCalibration, found: Counted, state: State) -> str:
    """What stands on every page."""
    begun, ended = kept.begun, found.ended or found.undone
    named = f"{begun.gauge_label}, calibration {begun.uid[:8]}"
    if state == "draft":
        return f"DRAFT, no certificate: {named}"
    if state == "void":
        number = f", number {ended.certificate}" if ended is not None and ended.certificate else ""
        return f"VOID, no certificate: {named}{number}"
    assert ended is not None  # only then is one issued
    return f"Certificate {ended.certificate}"


def _dates(
    kept: KeptCalibration, found: Counted, received: date | None, state: State, zone: tzinfo
) -> Dates:
    ended = found.ended
    moments = [each.at for each in found.points.values()] or [kept.begun.at]
    last = max((each.at for each in kept.records), default=kept.begun.at)
    return Dates(
        received=received,
        begun=_instant(kept.begun.at, zone),
        last=_instant(max(last, kept.begun.at), zone),
        performed_from=min(moments).astimezone(zone).date(),
        performed_to=max(moments).astimezone(zone).date(),
        issued=ended.at.astimezone(zone).date() if ended and state == "issued" else None,
    )


def _instant(at: datetime, zone: tzinfo) -> Instant:
    local = at.astimezone(zone)
    offset = f"{local:%z}"
    return Instant(utc=at, local=f"{local:%Y-%m-%d %H:%M:%S} (UTC{offset[:3]}:{offset[3:5]})")

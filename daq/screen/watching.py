"""What the screen shows, taken from a session: the one place where measuring becomes looking."""

from dataclasses import dataclass
from decimal import Decimal

from daq.measure.session import Session
from daq.screen.view import BenchView, LinkState, Motion, Way
from daq.spec import Adjuster, Guidance, Outcome, dead_band_mm, guide, place

_BABBLE = "bytes come, but no frames: check the profile and the baud rate"
_CONFIRM_KEYS = "c confirm  q quit"


@dataclass(slots=True)
class News:
    """What has happened lately, for the screen.

    Times are seconds on the clock of the readings; None if there was nothing yet.
    """

    captured: int = 0
    last_capture: str = ""
    captured_s: float | None = None
    refused_s: float | None = None
    notice: str = ""


def view_of(
    session: Session,
    label: str,
    port: str,
    now_s: float,
    news: News,
    adjuster: Adjuster | None = None,
    keys: str = "",
) -> BenchView:
    """One gauge at one moment.

    Args:
        session: the gauge's session.
        label: the gauge's label.
        port: the port it is at.
        now_s: now, seconds on the clock of the readings.
        news: captures and refusals so far.
        adjuster: the screw that is turned, if it is known.
        keys: which keys do what, for the last line.
    """
    spec, rest, reading = session.spec, session.rest, session.reading
    age_s = now_s - reading.t_s if reading else None
    nominal_mm = spec.nominal_mm if spec else Decimal(0)
    length_mm = reading.value_mm if reading and not session.shows_no_number else None
    outcome: Outcome | None = None
    guidance: Guidance | None = None
    if spec is not None and length_mm is not None:
        outcome = rest.verdict.outcome if rest and rest.verdict else place(length_mm, spec).outcome
        aimed_mm = (Decimal(repr(rest.value_mm)) if rest else length_mm) - nominal_mm - spec.aim_mm
        guidance = guide(
            aimed_mm,
            adjuster,
            dead_band_mm=dead_band_mm(spec, session.step_mm),
            unit=spec.unit,
            step_mm=session.step_mm,
        )
    return BenchView(
        gauge_label=label,
        link_state=_link_state(session),
        profile=session.profile.name,
        port=port,
        unit=spec.unit if spec else (reading.unit.value if reading else "mm"),
        step_mm=session.step_mm,
        deviation_mm=None if length_mm is None else length_mm - nominal_mm,
        length_mm=length_mm,
        nominal_mm=spec.nominal_mm if spec else None,
        lower_mm=spec.lower_mm if spec else None,
        upper_mm=spec.upper_mm if spec else None,
        aim_mm=spec.aim_mm if spec else Decimal(0),
        spec_name=spec.name if spec else "",
        motion=_motion(session),
        settled_mm=rest.value_mm - float(nominal_mm) if rest else None,
        u_mm=rest.u_mm if rest else None,
        n=rest.n if rest else None,
        outcome=outcome.value if outcome else None,
        way=_way(guidance),
        amount=guidance.amount if guidance else "",
        guide_words=guidance.words if guidance else "",
        age_s=age_s,
        captured=news.captured,
        last_capture=news.last_capture,
        captured_ago_s=None if news.captured_s is None else now_s - news.captured_s,
        refused_ago_s=None if news.refused_s is None else now_s - news.refused_s,
        doubt=session.doubt,
        notice=_BABBLE if session.is_babble else news.notice or session.motion.advice,
        keys=_CONFIRM_KEYS if session.doubt else keys,
        bad_frames=session.bad_frames,
        statuses=tuple(sorted(each.value.replace("-", " ") for each in session.statuses)),
    )


def _link_state(session: Session) -> LinkState:
    if session.cable_out:
        return "cable out"
    if session.reading is None:
        return "key" if session.sends_on_key else "no signal"
    return "live"


def _motion(session: Session) -> Motion:
    if session.rest:  # under a slow vibration too: the value is the middle of the swing
        return "at rest"
    kind = session.motion.kind
    return "moving" if kind == "at rest" else kind


def _way(guidance: Guidance | None) -> Way | None:
    if guidance is None:
        return None
    if guidance.reading_must == "stay":
        return "leave it"
    if guidance.direction != "none":
        return guidance.direction
    return "raise" if guidance.reading_must == "rise" else "lower"

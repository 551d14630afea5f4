"""The wire form of the bench page, version 1: what screens are told, and what they may ask for.

Everything is one JSON object ``{"v": 1, "kind": …}`` a message. Nothing here knows a socket or a
clock. What must not be shown is not sent: without a fresh number there is no digit, no deviation,
no verdict and no turn in a message.
"""

import json
import math
import unicodedata
from dataclasses import asdict, dataclass, replace
from decimal import Decimal
from typing import Annotated, Any, Literal, TypeGuard

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, ValidationError

from daq.page.errors import MessageError
from daq.screen.view import BenchView, digits_text, headline, is_length
from daq.screen.words import limits_text, settled_text
from daq.spec.units import digits_in, shown_in

VERSION = 1
MOST_BYTES = 2048
"""The longest message that a screen may send."""

Message = dict[str, Any]
Work = Literal["live", "job", "calibration"]

Do = Literal[
    "capture",
    "confirm",
    "go",
    "back",
    "anew",
    "again",
    "skip",
    "stand",
    "insist",
    "adjusted",
    "not adjusted",
    "choose",
]
"""What a screen may ask for."""

_TURNS_TEXT_ROUND = frozenset(
    "\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"
)


def _printable(text: str) -> str:
    """``text`` without blanks at its ends.

    Raises:
        ValueError: it has control characters, or marks that would turn the text around it.
    """
    for char in text:
        if unicodedata.category(char) in ("Cc", "Cs") or char in _TURNS_TEXT_ROUND:
            raise ValueError("it has characters that cannot be printed")
    return text.strip()


def _text(most: int) -> Any:
    return Annotated[str, Field(max_length=most), AfterValidator(_printable)]


_Figure = Annotated[str, Field(pattern=r"^[+-]?[0-9]{1,6}(\.[0-9]{1,6})?$")]


class Wish(BaseModel):
    """What a screen asks for.

    ``reason`` and ``by`` go with what needs a reason and somebody who answers for it; ``reason``
    says for ``adjusted`` what was done. ``figures`` are the angle in degrees or the temperatures in
    °C, plain numbers as text. ``target`` is what to set anew, ``uid`` the result to measure again,
    ``gauge`` the gauge to show. ``n`` is the number of the state that the person looked at; what
    was asked of an older task, or of another gauge, is refused. 0 leaves that out.
    """

    model_config = ConfigDict(strict=True, extra="forbid", frozen=True)

    v: Annotated[int, Field(ge=1, le=1)]  # Literal[1] would take true for 1
    do: Do
    reason: _text(400) = ""  # type: ignore[valid-type]
    by: _text(80) = ""  # type: ignore[valid-type]
    figures: Annotated[tuple[_Figure, ...], Field(max_length=4)] = ()
    target: _text(120) = ""  # type: ignore[valid-type]
    uid: Annotated[str, Field(pattern=r"^[0-9A-Za-z-]{0,64}$")] = ""
    gauge: _text(200) = ""  # type: ignore[valid-type]
    n: Annotated[int, Field(ge=0, le=2**53)] = 0

    @property
    def numbers(self) -> tuple[Decimal, ...]:
        """The figures as exact numbers."""
        return tuple(Decimal(each) for each in self.figures)


def wish_from(text: str | bytes) -> Wish:
    """What a screen asks for by ``text``.

    Raises:
        MessageError: it is too long, no JSON, or not in the wire form.
    """
    try:
        raw = text.encode() if isinstance(text, str) else text
    except UnicodeEncodeError:
        raise MessageError("the message is not text that can be written down") from None
    if len(raw) > MOST_BYTES:
        raise MessageError(f"the message has more than {MOST_BYTES} bytes; shorten the reason")
    try:
        return Wish.model_validate_json(raw)
    except ValidationError as error:
        raise MessageError(_why(error)) from None


def _why(error: ValidationError) -> str:
    """What is wrong with a message; names a field of ours, never what stood in it."""
    first = error.errors(include_url=False, include_input=False, include_context=False)[0]
    field = str(first["loc"][0]) if first["loc"] else ""
    if field == "v":
        return f"this screen speaks another version than {VERSION}; load the page again"
    if field == "figures":
        return "a figure must be a plain number with a point, as 36.5"
    if first["type"] == "extra_forbidden" or field == "do" or field not in Wish.model_fields:
        return "the message is not in the form of this page; load the page again"
    words = first["msg"].removeprefix("Value error, ")
    return f"{field!r} cannot be taken: {words[:1].lower()}{words[1:]}"


@dataclass(frozen=True, slots=True, kw_only=True)
class State:
    """What every screen is to show now, whoever looks at it.

    ``view``, ``job`` and ``calibration`` are their parts of the wire form. ``place`` is what the
    work is at: two states of the same place may be answered by the same press.
    """

    work: Work
    gauges: tuple[str, ...] = ()
    gauge: str = ""
    view: Message | None = None
    job: Message | None = None
    calibration: Message | None = None
    place: tuple[object, ...] = ()


def state_message(state: State, n: int, *, may_act: bool) -> Message:
    """A state as it is sent.

    Args:
        state: what to show.
        n: the state's number, larger than those before.
        may_act: whether the screen may ask for anything.
    """
    return {
        "v": VERSION,
        "kind": "state",
        "n": n,
        "work": state.work,
        "may_act": may_act,
        "view": state.view,
        "job": state.job,
        "calibration": state.calibration,
        "gauges": list(state.gauges),
        "gauge": state.gauge,
    }


def refused(why: str, did: str = "") -> Message:
    """That something a screen asked for cannot be done.

    Args:
        why: the reason, for the person at the screen.
        did: what was asked for; empty if that could not be understood.
    """
    return {"v": VERSION, "kind": "refused", "why": why, "did": did}


def bye(why: str) -> Message:
    """That the page ends.

    Args:
        why: the reason.
    """
    return {"v": VERSION, "kind": "bye", "why": why}


def encoded(message: Message) -> str:
    """A message as text.

    Raises:
        ValueError: it has a number that JSON has not: infinity or no number at all.
    """
    return json.dumps(message, ensure_ascii=False, allow_nan=False, separators=(",", ":"))


def bench_message(view: BenchView, *, captures: bool = True) -> Message:
    """The gauge's part of a state: BENCH.

    ``deviation_mm`` and the limits are millimetres as plain numbers, for the needle and the tone;
    every length that is read by people is text in the view's unit, rounded as on all screens.
    ``can_capture``: a press would not be in vain for want of a number; while the part still moves
    it is answered with the reason.

    Args:
        view: the gauge at this moment.
        captures: whether this work keeps anything at a press.
    """
    return {
        "gauge": view.gauge_label,
        "standing": view.standing,
        "link": view.link_state,
        "fresh": view.is_fresh,
        "unit": view.unit,
        "step": digits_in(view.step_mm, view.unit, view.step_mm, sign=False),
        "lower_mm": _mm(view.lower_mm),
        "upper_mm": _mm(view.upper_mm),
        "aim_mm": _mm(view.aim_mm) if view.nominal_mm is not None else None,
        "spec": view.spec_name,
        "nominal": _length(view, view.nominal_mm),
        "limits": "" if view.nominal_mm is None else limits_text(view),
        "lower": _signed(view, view.lower_mm),
        "upper": _signed(view, view.upper_mm),
        "aim": _signed(view, view.aim_mm) if view.nominal_mm is not None else "",
        "headline": _headline(view),
        "age_s": _seconds(view.age_s),
        "captured": view.captured,
        "last_capture": view.last_capture,
        "notice": view.notice,
        "doubt": view.doubt,
        "statuses": list(view.statuses),
        "captured_ago_s": _seconds(view.captured_ago_s),
        "refused_ago_s": _seconds(view.refused_ago_s),
        "can_capture": captures and view.shown_mm is not None and not view.doubt,
        **_number(view),
    }


WITHHELD: Message = {
    "fresh": False,
    "headline": {"texts": ["WAIT"], "mood": "wait", "mark": " ", "is_news": False},
    "refused_ago_s": 0.0,
    "captured_ago_s": None,
    "can_capture": False,
    "digits": None,
    "deviation_mm": None,
    "length": None,
    "motion": None,
    "at_rest": False,
    "settled": None,
    "U": None,
    "n": None,
    "outcome": None,
    "guide": "",
    "way": None,
    "amount": "",
    "age_s": None,
}
"""What stands in BENCH while nobody can say what the gauge reads."""


def withheld(state: State, why: str) -> State:
    """``state`` without its number, and without anything that follows from it.

    Args:
        state: what was shown last.
        why: why it may no longer be true.
    """
    if state.view is None:
        return state
    return replace(state, view={**state.view, **WITHHELD, "notice": why})


def _number(view: BenchView) -> Message:
    """The number and what follows from it; nothing of it unless it may be shown."""
    is_shown = view.shown_mm is not None
    at_rest = view.is_at_rest
    settled, _, spread = settled_text(view).partition(" ± ") if at_rest else ("", "", "")
    return {
        "digits": digits_text(view),
        "deviation_mm": _mm(view.shown_mm),
        "length": _length(view, view.length_mm) if is_shown else None,
        "motion": view.motion if is_shown else None,
        "at_rest": at_rest,
        "settled": settled or None,
        "U": spread.removesuffix(" (k=2)") or None,
        "n": view.n if at_rest else None,
        "outcome": view.outcome if is_shown else None,
        "guide": view.guide_words if is_shown and not view.doubt else "",
        "way": view.way if is_shown and not view.doubt else None,
        "amount": view.amount if is_shown and not view.doubt else "",
    }


def _headline(view: BenchView) -> Message:
    said = asdict(headline(view))
    return {**said, "texts": list(said["texts"])}


def _length(view: BenchView, mm: Decimal | None) -> str | None:
    return shown_in(mm, view.unit, view.step_mm, sign=False) if _is_there(mm) else None


def _signed(view: BenchView, mm: Decimal | None) -> str:
    """A deviation as text, as it stands at a mark of the scale; empty for none."""
    return shown_in(mm, view.unit, view.step_mm) if _is_there(mm) else ""


def _is_there(mm: Decimal | None) -> TypeGuard[Decimal]:
    return is_length(mm)


def _mm(mm: Decimal | None) -> float | None:
    return float(mm) if _is_there(mm) else None


def _seconds(s: float | None) -> float | None:
    """An age to the millisecond; None for none, and for what no clock can say."""
    return round(s, 3) if s is not None and math.isfinite(s) else None

"""The small print of the bench screen: full numbers and sentences for somebody who is near it.

Most functions give phrases, not lines: what has no room is left out whole, the last first. A
number cut short would be another number.
"""

from decimal import ROUND_UP, Context, Decimal

from daq.screen.rows import clean
from daq.screen.view import BenchView, headline, is_length
from daq.spec.units import digits_in, shown_in
from drivers.reading import Unit

FINEST = Decimal("1e-6")
"""No uncertainty is printed finer than a nanometre, or a millionth of an inch."""

_OUTCOME_WORDS = {
    "in": "within limits",
    "low": "below the lower limit",
    "high": "above the upper limit",
    "too close to call": "too close to call",
}

_LINK_WORDS = {
    "live": "cable in",
    "no signal": "no signal",
    "cable out": "cable out",
    "opening": "opening",
    "key": "cable in",
}


def title_phrases(view: BenchView) -> list[str]:
    """Which gauge this is, how it is spoken to, and where; or how it stands by its calibration.

    Where that has to be said it takes the room of the others, so that what is being set, at the
    other end of the row, keeps its own.
    """
    if view.standing:
        return [view.gauge_label, view.standing]
    return [text for text in (view.gauge_label, view.profile, view.port) if text]


def spec_phrases(view: BenchView) -> list[str]:
    """What is being set, and to which length."""
    return [text for text in (view.spec_name, _length(view, view.nominal_mm)) if text]


def motion_word(view: BenchView) -> str:
    """Settled or moving, in a word; empty where there is no number to say it of."""
    return view.motion or "" if view.shown_mm is not None else ""


def value_phrases(view: BenchView) -> list[str]:
    """The settled value with its uncertainty, or what stands in the way of one."""
    if not view.is_fresh:
        return [_trouble(view)]
    if view.shown_mm is None:
        return ["the gauge sends no number: look at its display"]
    phrases = []
    if view.is_at_rest and (settled := settled_text(view)):
        phrases.append(f"settled {settled}")
        if view.n is not None:
            phrases.append(f"n {view.n}")
    if view.is_at_rest and view.outcome is not None:
        phrases.append(_OUTCOME_WORDS[view.outcome])
    if length := _length(view, view.length_mm):
        phrases.append(f"length {length}")
    return phrases


def advice_phrases(view: BenchView) -> list[str]:
    """What happened or what to do in full, what the gauge says of itself, and the limits."""
    phrases = list(dict.fromkeys(text for text in (view.doubt, view.notice) if text))
    if view.statuses:
        phrases.append(f"gauge: {', '.join(view.statuses)}")
    if view.shown_mm is not None and view.guide_words and not view.doubt:
        phrases.append(view.guide_words)
    phrases.append(limits_text(view))
    if view.aim_mm != 0:
        phrases.append(f"aim {shown_in(view.aim_mm, view.unit, view.step_mm)}")
    if view.last_capture:
        phrases.append(f"last {view.last_capture}")
    return phrases


def foot_phrases(view: BenchView) -> list[str]:
    """The state of the link and of the work, most wanted first."""
    age = "age -" if view.age_s is None else f"age {min(view.age_s, 99999.0):.1f} s"
    counts = [f"captured {view.captured}", f"bad frames {view.bad_frames}"]
    return [_LINK_WORDS[view.link_state], age, *counts]


def limits_text(view: BenchView) -> str:
    """The limits in words, whichever of them there are."""
    low, high = (
        None if end is None else shown_in(end, view.unit, view.step_mm)
        for end in (view.lower_mm, view.upper_mm)
    )
    if low is not None and high is not None:
        return f"limits {low} to {high}"
    if low is not None:
        return f"not below {low}"
    return "no limits" if high is None else f"not above {high}"


def settled_text(view: BenchView) -> str:
    """``"+0.0803 mm ± 0.0012 mm (k=2)"``; empty without a finite value and uncertainty.

    The expanded uncertainty U = 2u has two significant digits, rounded up so that it never looks
    better than it is; the value is rounded to its last place (JCGM 100:2008, 7.2.6).
    """
    settled_mm, u_mm = view.settled_mm, view.u_mm
    if settled_mm is None or u_mm is None or u_mm < 0:
        return ""
    if not (is_length(settled_mm) and is_length(u_mm)):
        return ""
    in_mm = Unit(view.unit).in_mm
    # Twelve digits first: the dust of a binary float must not push 0.0012 up to 0.0013.
    expanded = Context(prec=12).divide(Decimal(2 * u_mm), in_mm)
    place = FINEST if expanded == 0 else max(Decimal(1).scaleb(expanded.adjusted() - 1), FINEST)
    place = min(place, Decimal(1))
    value = digits_in(settled_mm, view.unit, place * in_mm)
    return f"{value} {view.unit} ± {expanded.quantize(place, ROUND_UP):f} {view.unit} (k=2)"


def plain_line(view: BenchView) -> str:
    """The view as one calm line of text, for output that is no terminal."""
    said = headline(view)
    word = said.texts[0].lower()
    parts: list[str] = []
    if view.shown_mm is None:
        parts += [word, *value_phrases(view)]
    else:
        parts.append(shown_in(view.shown_mm, view.unit, view.step_mm))
        parts += [view.motion] if view.motion else []
        parts += [_OUTCOME_WORDS[view.outcome]] if view.is_at_rest and view.outcome else []
        if not said.is_news and not view.doubt and view.way:
            parts.append(view.guide_words or word)
    if said.is_news and not view.notice:
        parts.append(word)
    if view.statuses:
        parts.append(f"gauge: {', '.join(view.statuses)}")
    parts += dict.fromkeys(text for text in (view.doubt, view.notice, view.standing) if text)
    return clean(f"{view.gauge_label}: {', '.join(parts)}")


def _length(view: BenchView, mm: Decimal | None) -> str:
    if mm is None or not is_length(mm):
        return ""
    return shown_in(mm, view.unit, view.step_mm, sign=False)


def _trouble(view: BenchView) -> str:
    """Why there is no number, and what to do."""
    if view.link_state == "opening":
        return "opening the port"
    if view.link_state == "cable out":
        return "plug the cable in again: it goes on by itself, and what was captured is kept"
    if view.link_state == "key":
        return "this gauge sends when its own data key is pressed"
    if view.age_s is None:
        return "no reading yet: is the gauge on and awake?"
    return f"no reading for {view.age_s:.1f} s: is the gauge on and awake?"

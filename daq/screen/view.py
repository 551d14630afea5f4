"""What the bench screen shows, as plain data, and the one headline that follows from it.

Nothing here knows a terminal. The same view can be drawn by anything that has room for a number,
a headline and a scale.
"""

from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

from daq.spec.errors import SpecError
from daq.spec.units import digits_in, exact_mm

STALE_AFTER_S = 0.4
"""A reading older than this is not shown: the gauge may stand anywhere by now. Half a second is
promised; the rest of it is the way to the farthest screen, and until that has painted."""

NEWS_FOR_S = 1.5
"""How long a capture or a refusal holds the headline: long enough to look up from the engine."""

LinkState = Literal["live", "no signal", "cable out", "opening", "key"]
"""Where the link is. ``key``: this gauge sends only when its own data key is pressed, and its last
value is no longer fresh."""

Motion = Literal["moving", "coming to rest", "at rest", "vibrating"]
Outcome = Literal["in", "low", "high", "too close to call"]
Way = Literal["clockwise", "anticlockwise", "raise", "lower", "leave it"]
Mood = Literal["turn", "wait", "good", "stop"]


@dataclass(frozen=True, slots=True, kw_only=True)
class BenchView:
    """One gauge at one moment, as the screen shows it.

    Lengths are millimetres whatever ``unit`` is; the unit is only how they are shown. Limits are
    deviations from nominal. None means that there is no such thing just now.

    Raises:
        ValueError: a nominal or limit is not finite, the limits are swapped, or the step is not
            above zero. Whoever built the view has a mistake.
    """

    gauge_label: str
    """The name on the gauge's own label."""

    standing: str = ""
    """How the gauge stands by its calibration, in a few words; empty while all is well, or where
    nothing is known of it."""

    link_state: LinkState = "live"
    profile: str = ""
    port: str = ""
    unit: Literal["mm", "in"] = "mm"
    step_mm: Decimal = Decimal("0.001")
    """The gauge's display step."""

    deviation_mm: Decimal | None = None
    """The last reading minus nominal; without a spec, the reading itself."""

    length_mm: Decimal | None = None
    nominal_mm: Decimal | None = None
    lower_mm: Decimal | None = None
    upper_mm: Decimal | None = None
    aim_mm: Decimal = Decimal(0)
    """The deviation to adjust to: zero, unless the limits leave zero outside."""

    spec_name: str = ""

    motion: Motion | None = None
    settled_mm: float | None = None
    """Mean of the settled span, on the footing of ``deviation_mm`` (minus nominal)."""

    u_mm: float | None = None
    """Standard uncertainty (k = 1) of ``settled_mm``."""

    n: int | None = None
    """Readings in the settled span."""

    outcome: Outcome | None = None
    way: Way | None = None
    """What the hand should do."""

    amount: str = ""
    """How far to turn, short: ``"1/8"``, ``"2 3/8"``, ``"hair"``; turns where no unit is named."""

    guide_words: str = ""
    """The guidance in full, for somebody near the screen."""

    age_s: float | None = None
    """Age of the last reading; None if there has been none."""

    captured: int = 0
    last_capture: str = ""
    """The last captured value, in words."""

    captured_ago_s: float | None = None
    refused_ago_s: float | None = None
    notice: str = ""
    """Why a capture was refused, or what else happened, in words."""

    doubt: str = ""
    """Why nothing is captured until somebody has looked at the gauge, in words."""

    bad_frames: int = 0
    statuses: tuple[str, ...] = ()
    """What the gauge says of itself: ``"battery low"``."""

    keys: str = "space capture  q quit"
    """What can be pressed, for the last row."""

    def __post_init__(self) -> None:
        for length_mm in (self.lower_mm, self.upper_mm, self.nominal_mm, self.aim_mm):
            if length_mm is not None and not is_length(length_mm):
                raise ValueError(f"{length_mm} mm is no nominal, limit or aim")
        low_mm, high_mm = self.lower_mm, self.upper_mm
        if low_mm is not None and high_mm is not None and low_mm >= high_mm:
            raise ValueError(f"the limits {low_mm} mm and {high_mm} mm are swapped or equal")
        if not (self.step_mm.is_finite() and self.step_mm > 0):
            raise ValueError(f"a display step of {self.step_mm} mm is none")

    @property
    def is_fresh(self) -> bool:
        """Whether the link is live and the last reading young enough to be believed."""
        return (
            self.link_state == "live"
            and self.age_s is not None
            and 0 <= self.age_s <= STALE_AFTER_S  # False for NaN too
        )

    @property
    def shown_mm(self) -> Decimal | None:
        """The deviation that may be shown: fresh and a finite length, else None."""
        return self.deviation_mm if self.is_fresh and is_length(self.deviation_mm) else None

    @property
    def is_at_rest(self) -> bool:
        """Whether there is a number and it is at rest."""
        return self.shown_mm is not None and self.motion == "at rest"


def is_length(mm: Decimal | float | None) -> bool:
    """Whether there is a value and it can be a length: finite, at most 100 m either way."""
    if mm is None:
        return False
    try:
        exact_mm(mm)
    except SpecError:
        return False
    return True


@dataclass(frozen=True, slots=True)
class Headline:
    """The one thing to read from three metres.

    ``texts`` say the same thing, longest first, for screens of different widths. ``mark`` is the
    sign that stands beside the number: an arrow to turn by, a tick, a cross; or a blank.
    """

    texts: tuple[str, ...]
    mood: Mood
    mark: str = " "
    is_news: bool = False
    """Whether it tells of a capture or a refusal, and will pass."""


def digits_text(view: BenchView) -> str | None:
    """The deviation in digits, padded so that it keeps its width, or None if none may be shown.

    Two places are kept before the point in millimetres and one in inches, the unused one blank,
    and one for the sign. Zero carries no sign: it calls for no direction. A longer number grows
    to the left, so the point stays where it is.
    """
    if view.shown_mm is None:
        return None
    digits = digits_in(view.shown_mm, view.unit, view.step_mm)
    _, point, decimals = digits.partition(".")
    whole = 2 if view.unit == "mm" else 1
    signed = digits if digits[0] in "+-" else f" {digits}"
    return signed.rjust(1 + whole + len(point) + len(decimals))


def headline(view: BenchView) -> Headline:
    """What to do, or what has happened, in a word or three.

    Order: what hides the number, news of a capture, a doubt, what the hand should do, then rest.
    """
    if not view.is_fresh:
        return _WITHOUT_LINK.get(view.link_state, _WITHOUT_LINK["no signal"])
    if (news := _news(view)) is not None:
        return news
    if view.shown_mm is None:
        return Headline(("NO NUMBER",), "stop")
    if view.doubt:
        return Headline(("CHECK GAUGE",), "stop", "?")
    if view.way is not None and view.way != "leave it":
        return _turn(view.way, view.amount)
    if view.motion == "vibrating":
        return Headline(("SHAKING",), "wait", "‖")
    if view.motion != "at rest":
        return Headline(("HOLD STILL",) if view.way else ("MOVING",), "wait", "‖")
    if view.outcome is None:
        return Headline(("AT REST",), "wait")
    return _AT_REST[view.outcome]


_WITHOUT_LINK = {
    "no signal": Headline(("NO SIGNAL",), "stop"),
    "cable out": Headline(("CABLE OUT",), "stop"),
    "opening": Headline(("OPENING",), "wait"),
    "key": Headline(("PRESS DATA KEY", "DATA KEY"), "wait"),
}

_AT_REST = {
    "in": Headline(("LEAVE IT",), "good", "✓"),
    "low": Headline(("TOO LOW",), "turn", "↑"),
    "high": Headline(("TOO HIGH",), "turn", "↓"),
    "too close to call": Headline(("TOO CLOSE",), "wait", "?"),
}


def _news(view: BenchView) -> Headline | None:
    """A capture or a refusal of the last moment; the later of the two."""

    def age(ago_s: float | None) -> float:
        return ago_s if ago_s is not None and 0 <= ago_s <= NEWS_FOR_S else float("inf")

    captured_s, refused_s = age(view.captured_ago_s), age(view.refused_ago_s)
    if refused_s < float("inf") and refused_s <= captured_s:
        return Headline(("REFUSED",), "stop", "×", is_news=True)
    if captured_s < float("inf"):
        return Headline(("CAPTURED",), "good", "✓", is_news=True)
    return None


def _turn(way: Way, amount: str) -> Headline:
    if way == "raise":
        return Headline(("RAISE",), "turn", "↑")
    if way == "lower":
        return Headline(("LOWER",), "turn", "↓")
    mark, words = {
        "clockwise": ("↷", ("CLOCKWISE",)),
        "anticlockwise": ("↶", ("ANTICLOCKWISE", "ANTICLOCK")),
    }[way]
    sizes = [amount.upper()] if amount else [""]
    whole, _, fraction = amount.partition(" ")
    if fraction and whole.isdecimal():
        # Two turns and more: stop there and look again. The words near the screen say it in full.
        sizes.append(f"{whole}+")
    return Headline(
        tuple(f"{word} {size}".rstrip() for size in sizes for word in words), "turn", mark
    )

"""The hub between the loop that measures and the screens that look on.

The loop, in its own thread, publishes what is to be shown and takes what screens ask for. Each
screen, in the server's thread, takes the newest state when it is ready for it: nothing queues up
for one that is slow, and it delays nobody. The hub waits for nobody either; it knows no socket.

A number is only passed on while the loop is alive. When it is busy with something else, states go
on, without the number.
"""

import threading
import time
from collections import deque
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field

from daq.page.errors import MessageError
from daq.page.messages import (
    Message,
    State,
    Wish,
    bye,
    encoded,
    refused,
    state_message,
    wish_from,
    withheld,
)

MOST_SCREENS = 32
REPEAT_S = 0.1
"""A state that has not changed is sent again after this time: half of what the page promises."""

LEAST_S = 0.008
"""Two states are at least so far apart; more is not seen, and the newest comes with the next."""

SILENT_S = 0.3
"""When the loop has been silent for so long, the number is withheld. With the longest way to a
screen it goes blank within half a second."""

OLD_WISH_S = 1.0
"""What was asked for longer ago is not done any more: the hand is elsewhere by now."""

MOST_WISHES = 16
"""So many may wait for the loop; a hand never gets there."""

MOST_ANSWERS = 8
"""So many refusals wait for a screen that does not read."""

WISHES_A_SECOND = 20

BUSY = "The bench program is busy: somebody may be typing at its terminal. Wait a moment."
GONE_ON = "The work has gone on since. Look at the screen, then press again."

_AGES = ("age_s", "captured_ago_s", "refused_ago_s")
_PLACES_KEPT = 256


@dataclass(slots=True, eq=False)
class PageScreen:
    """One screen that looks on.

    Args:
        may_act: whether it may ask for anything.
        wake: called, from any thread, when there is something for it.
    """

    may_act: bool
    wake: Callable[[], None]
    answers: deque[Message] = field(default_factory=lambda: deque(maxlen=MOST_ANSWERS))
    sent_n: int = 0
    sent_s: float = float("-inf")
    allowance: float = WISHES_A_SECOND
    heard_s: float | None = None
    is_over: bool = False


@dataclass(frozen=True, slots=True)
class Asking:
    """A wish, with the screen that has it and when it came (seconds of the hub's clock)."""

    wish: Wish
    screen: PageScreen
    at_s: float


class Hub:
    """See the module.

    Args:
        clock: seconds, monotonic.
    """

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._lock = threading.Lock()
        self._screens: list[PageScreen] = []
        self._wishes: deque[Asking] = deque()
        self._state = State(work="live")
        self._n = 1
        self._made_s, self._alive_s = float("-inf"), clock()
        self._is_withheld = False
        self._texts: dict[bool, str] = {}
        self._places: deque[tuple[int, tuple[object, ...]]] = deque(maxlen=_PLACES_KEPT)
        self._over = ""

    # For the loop.

    def is_due(self) -> bool:
        """Whether a state would be looked at, or must show that the loop is alive."""
        with self._lock:
            return bool(self._screens) or self._clock() - self._alive_s >= REPEAT_S

    def publish(self, state: State) -> None:
        """Show ``state`` on every screen, unless it is what they show already."""
        with self._lock:
            now_s = self._alive_s = self._clock()
            same = not self._is_withheld and _but_for_ages(state) == _but_for_ages(self._state)
            if now_s - self._made_s < (REPEAT_S if same else LEAST_S):
                return
            self._set(state, now_s)
            self._is_withheld = False
            waiting = list(self._screens)
        _wake(waiting)

    def next_wish(self, place: tuple[object, ...]) -> Asking | None:
        """The next thing that a screen asks for; what can no longer be done is refused here.

        Args:
            place: what the work is at. A wish that was asked of another place is refused.
        """
        while True:
            with self._lock:
                if not self._wishes:
                    return None
                asking = self._wishes.popleft()
                why = self._why_too_late(asking, place)
            if not why:
                return asking
            self.refuse(asking, why)

    def refuse(self, asking: Asking, why: str) -> None:
        """Tell the screen that asked that it cannot be done, and why."""
        self._answer(asking.screen, refused(why, asking.wish.do))

    def close(self, why: str) -> None:
        """Send every screen away; none comes in any more."""
        with self._lock:
            self._over = why
            waiting = list(self._screens)
        _wake(waiting)

    @property
    def screens(self) -> int:
        """How many screens look on."""
        with self._lock:
            return len(self._screens)

    # For the server.

    def join(self, wake: Callable[[], None], *, may_act: bool) -> PageScreen | None:
        """A new screen; None if there are too many."""
        screen = PageScreen(may_act, wake)
        with self._lock:
            if len(self._screens) >= MOST_SCREENS:
                return None
            self._screens.append(screen)
        return screen

    def leave(self, screen: PageScreen) -> None:
        """A screen has gone. What it asked for and nobody has taken yet is not done."""
        with self._lock:
            if screen in self._screens:
                self._screens.remove(screen)
            self._wishes = deque(each for each in self._wishes if each.screen is not screen)

    def texts_for(self, screen: PageScreen) -> list[str]:
        """What is to be sent to a screen now: answers, then the newest state if it is due.

        After the last one ``screen.is_over`` is true.
        """
        with self._lock:
            now_s = self._clock()
            texts = [encoded(each) for each in screen.answers]
            screen.answers.clear()
            if self._over:
                screen.is_over = True
                return [*texts, encoded(bye(self._over))]
            self._withhold_if_silent(now_s)
            if screen.sent_n != self._n or now_s - screen.sent_s >= REPEAT_S:
                texts.append(self._text(may_act=screen.may_act))
                screen.sent_n, screen.sent_s = self._n, now_s
        return texts

    def heard(self, screen: PageScreen, text: str | bytes) -> None:
        """A screen has sent something."""
        try:
            if self._is_flooding(screen):
                raise MessageError("this screen asks too often; lift the foot off the switch")
            wish = wish_from(text)
        except MessageError as error:
            self._answer(screen, refused(str(error)))
            return
        if not screen.may_act:
            self._answer(screen, refused("This screen may only look on.", wish.do))
            return
        with self._lock:
            is_full = len(self._wishes) >= MOST_WISHES
            if not is_full:
                self._wishes.append(Asking(wish, screen, self._clock()))
        if is_full:
            self._answer(screen, refused(BUSY, wish.do))

    def _answer(self, screen: PageScreen, message: Message) -> None:
        with self._lock:
            screen.answers.append(message)
        _wake([screen])

    def _is_flooding(self, screen: PageScreen) -> bool:
        """Whether it has sent more than its share; a share grows back with time."""
        now_s = self._clock()
        if screen.heard_s is not None:
            grown = screen.allowance + (now_s - screen.heard_s) * WISHES_A_SECOND
            screen.allowance = min(WISHES_A_SECOND, grown)
        screen.heard_s = now_s
        if screen.allowance < 1:
            return True
        screen.allowance -= 1
        return False

    def _why_too_late(self, asking: Asking, place: tuple[object, ...]) -> str:
        if self._clock() - asking.at_s > OLD_WISH_S:
            return BUSY
        n = asking.wish.n
        if n == 0 or asking.wish.do == "choose":
            return ""
        looked_at = next((there for since, there in reversed(self._places) if since <= n), None)
        return "" if n <= self._n and looked_at == place else GONE_ON

    def _set(self, state: State, now_s: float) -> None:
        self._state, self._made_s = state, now_s
        self._n += 1
        self._texts.clear()
        if not self._places or self._places[-1][1] != state.place:
            self._places.append((self._n, state.place))

    def _withhold_if_silent(self, now_s: float) -> None:
        if not self._is_withheld and now_s - self._alive_s > SILENT_S:
            self._set(withheld(self._state, BUSY), now_s)
            self._is_withheld = True

    def _text(self, *, may_act: bool) -> str:
        """The newest state as text, made once for all screens of a role."""
        if may_act not in self._texts:
            self._texts[may_act] = encoded(state_message(self._state, self._n, may_act=may_act))
        return self._texts[may_act]


def _but_for_ages(state: State) -> tuple[object, ...]:
    """What makes a state another one for whoever looks at it."""
    view = state.view
    if view is not None:
        view = {name: value for name, value in view.items() if name not in _AGES}
    return view, state.job, state.calibration, state.gauges, state.gauge, state.place


def _wake(screens: list[PageScreen]) -> None:
    for screen in screens:
        with suppress(RuntimeError):  # its loop has ended: it is on its way out
            screen.wake()

"""Whether a gauge may be captured with, by the register, and who said so although it should not."""

from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING

from daq.screen.view import BenchView

if TYPE_CHECKING:
    from daq.calibration.fleet import BenchStatus

CONFIRM_KEYS = "c use it  q quit"


class Allowing:
    """How the gauge at the bench stands, and whether somebody has answered for using it.

    Args:
        ask: what the register says of the gauge on an adapter of this identity; None for nothing.
        although: the reason why it is used whatever the register says of it when it appears first.

    Attributes:
        status: what the register says of the gauge that is plugged in.
    """

    def __init__(
        self, ask: "Callable[[str], BenchStatus | None]" = lambda _: None, although: str = ""
    ) -> None:
        self._ask, self._although = ask, although
        self.status: BenchStatus | None = None
        self._reason = ""

    def appeared(self, identity: str) -> None:
        """A gauge was plugged in. What was confirmed of another standing counts no longer."""
        before, self.status = self.status, self._ask(identity)
        if self.status == before:
            return
        self._reason = self._although if before is None else ""

    @property
    def waits(self) -> bool:
        """Whether nothing is captured until somebody confirms."""
        return self.status is not None and not self.status.is_usable and not self._reason

    def confirm(self) -> None:
        """Somebody at the screen answers for using the gauge."""
        if self.waits:
            self._reason = "confirmed at the screen"

    def why_not(self, value_mm: float | None) -> str:
        """Why nothing is captured now; empty if the register is no reason.

        Args:
            value_mm: what the gauge reads at rest; None while it moves.
        """
        if self.status is None:
            return ""
        if self.waits:
            return self.status.words
        return "" if value_mm is None else self.status.why_not_at(value_mm)

    @property
    def note(self) -> str:
        """What is kept with a capture: what the register said, and why it was used all the same."""
        if self.status is None or self.status.is_usable:
            return ""
        words = self.status.words
        stop = "" if words.endswith(".") else "."
        return f"{words}{stop} Used nevertheless: {self._reason.rstrip('.')}."

    def seen(self, view: BenchView, asks: bool) -> BenchView:
        """The view with how the gauge stands.

        Args:
            view: of the bench.
            asks: whether a person is to confirm; nothing is captured otherwise.
        """
        if self.status is None:
            return view
        view = replace(view, standing=self.status.short)
        if asks and self.waits and not view.doubt:
            view = replace(view, doubt=self.status.words, keys=CONFIRM_KEYS)
        return view

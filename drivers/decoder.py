"""Bytes to events for one gauge: readings, frames without a number, bad frames.

The decoder is fed whatever arrived, in pieces of any size, and gives the same events for any
chopping. It never reads, waits or looks at a clock, no input makes it raise, and what it holds is
bounded.
"""

from drivers.errors import FrameError
from drivers.framing import Cut
from drivers.profile import GaugeProfile
from drivers.reading import BadFrame, Event, NoNumber, Reading, Shown

NOISE_KEPT = 64
"""Bytes that a ``BadFrame`` shows; more are counted in its reason."""

NOISE_MOST = 256
"""Bytes of noise after which it is reported, even if no frame ever follows."""

HALF_LINE = "may be the rest of the frame that was cut short"

SLICE = 4096
"""Bytes looked at in one go, so that a large piece needs no large buffer."""


class Decoder:
    """Decodes one gauge's byte stream.

    Args:
        profile: how the gauge sends.
        opened_t_s: when the port was opened, in seconds on the clock of the arrival times.

    Attributes:
        good: frames decoded so far, with or without a number.
        bad: bad frames reported so far.
    """

    def __init__(self, profile: GaugeProfile, opened_t_s: float = 0.0) -> None:
        self._profile = profile
        self._request = profile.request or b""
        self._needs_second = profile.needs_a_second_frame
        self.good = 0
        self.bad = 0
        self.reset(opened_t_s)

    def reset(self, t_s: float) -> None:
        """Forget what has arrived: the port was opened anew at ``t_s``."""
        self._buffer = bytearray()
        self._noise = bytearray()
        self._noise_bytes = 0
        self._noise_reason = ""
        self._in_step = False
        self._joined = True  # until the first good frame, a partial frame is nobody's fault
        self._half_line = ""  # why the rest of a line will be reported; empty: it will not
        self._in_silence = False
        self._last_t_s = t_s

    @property
    def waiting(self) -> int:
        """Bytes held that are no frame yet."""
        return len(self._buffer)

    def between_frames(self, t_s: float) -> bytes | None:
        """The bytes held, if they are but the beginning of a frame and all is well at ``t_s``.

        Whoever can read several frames at once may then do so, and say it with ``go_on``. None says
        that ``receive`` must look at what comes next: out of step, amid noise, after a pause.
        """
        if self._noise_reason or self._half_line or not self._in_step or self.hears_silence(t_s):
            return None
        return bytes(self._buffer)

    def hears_silence(self, t_s: float) -> bool:
        """Whether ``receive`` at ``t_s`` would first find that there was a pause."""
        return not self._in_silence and t_s - self._last_t_s >= self._profile.sends.gap_s

    def go_on(self, frames: int, held: bytes, t_s: float) -> None:
        """Go on behind ``frames`` good frames that were read by another way at ``t_s``.

        Args:
            frames: how many; they began with what was ``held`` before.
            held: what came behind the last of them, less than a frame.
            t_s: when they arrived.
        """
        self._buffer[:] = held
        self._last_t_s, self._in_silence = t_s, False
        if frames:
            self.good += frames
            self._joined = False

    def receive(self, data: bytes, t_s: float) -> list[Event]:
        """The events that ``data`` completes.

        Args:
            data: the bytes read; empty says that nothing has come until ``t_s``. Calling it so now
                and then brings out a frame that was cut short without waiting for the next one.
            t_s: when they were read, in seconds on a monotonic clock.
        """
        events: list[Event] = []
        if self.hears_silence(t_s):
            self._in_silence = True
            self._hear_silence(events, t_s)
        if data:
            self._in_silence = False
            self._last_t_s = t_s
            for begin in range(0, len(data), SLICE):
                self._buffer += data[begin : begin + SLICE]
                while self._buffer and self._step(events, t_s):
                    pass
        for event in events:
            if isinstance(event, BadFrame):
                self.bad += 1
            else:
                self.good += 1
        return events

    def _hear_silence(self, events: list[Event], t_s: float) -> None:
        """A pause longer than any inside a frame: what was half received will not be completed.

        What follows is a frame's beginning, with two exceptions. A streaming gauge is not taken to
        be in step, for a pause there is as likely the computer's as the gauge's. And a line after
        one that was cut short may be the cut line's tail.
        """
        streams = self._profile.sends.when == "by itself"
        if streams and self._holds_one_frame():
            return  # a slow stream: this frame still waits for the one that confirms it
        held, heard = len(self._buffer), bool(self._buffer or self._noise_bytes)
        cut_short = held > 0 and self._in_step
        if held:
            count = "1 byte" if held == 1 else f"{held} bytes"
            self._skip(held, f"{count}, then silence: cut short", events, t_s)
            self._in_step = False
        self._flush_noise(events, t_s)
        if heard or not streams:
            self._joined = False
        if not streams:
            # Only where frames have no beginning of their own can a tail be taken for a frame.
            tail_may_follow = cut_short and not self._profile.frame.slides
            self._in_step = not tail_may_follow
            self._half_line = HALF_LINE if tail_may_follow else ""

    def _holds_one_frame(self) -> bool:
        """Whether exactly one whole frame has arrived and is not believed yet."""
        if not self._needs_second:
            return False
        cut = self._profile.frame.cut(self._buffer, True)
        return cut is not None and cut.length == len(self._buffer) and self._is_good(cut)

    def _is_good(self, cut: Cut) -> bool:
        if cut.payload is None:
            return False
        try:
            self._profile.decode(cut.payload)
        except FrameError:
            return False
        return True

    def _step(self, events: list[Event], t_s: float) -> bool:
        """Use up what lies at the buffer's beginning. False if more bytes are needed."""
        if self._request and self._in_step:
            if self._buffer.startswith(self._request):
                # A two-wire adapter hears what it sends: the question comes before the answer.
                del self._buffer[: len(self._request)]
                return True
            if len(self._buffer) < len(self._request) and self._request.startswith(self._buffer):
                return False
        cut = self._profile.frame.cut(self._buffer, self._in_step)
        if cut is None:
            return False
        if cut.payload is None:
            self._refuse(cut, cut.problem, events, t_s)
            return True
        try:
            shown = self._profile.decode(cut.payload)
        except FrameError as error:
            self._refuse(cut, str(error), events, t_s)
            return True
        if self._needs_second and (
            not self._in_step or self._profile.ends_like_a_beginning(cut.payload)
        ):
            rest = self._profile.frame.cut(self._buffer[cut.length : 2 * cut.length], True)
            if rest is None:
                return False
            if not self._is_good(rest):
                self._refuse(cut, "no other frame follows directly", events, t_s)
                return True
        if self._noise_reason:
            self._flush_noise(events, t_s)
        raw = bytes(self._buffer[: cut.length])
        del self._buffer[: cut.length]
        self._in_step, self._joined = True, False
        events.append(_event_of(shown, raw, t_s))
        return True

    def _refuse(self, cut: Cut, reason: str, events: list[Event], t_s: float) -> None:
        """Drop what cannot be a frame: all of it where its end is certain, else its first byte."""
        if not cut.whole:
            count = cut.length if cut.payload is None else 1
            if self._profile.frame.slides:
                count = self._profile.seek(self._buffer, count)
            self._in_step = False
            self._skip(count, reason, events, t_s)
            return
        reason = reason or self._half_line
        if self._noise_bytes and not self._profile.frame.slides:
            # The rest of an overlong line belongs to what was already refused of it.
            self._skip(cut.length, reason, events, t_s)
            self._flush_noise(events, t_s, always=True)
        else:
            self._flush_noise(events, t_s)
            if reason:
                events.append(BadFrame(bytes(self._buffer[: cut.length][:NOISE_KEPT]), reason, t_s))
            del self._buffer[: cut.length]
        self._in_step, self._half_line = True, ""

    def _skip(self, count: int, reason: str, events: list[Event], t_s: float) -> None:
        """Move ``count`` bytes from the buffer to the noise; its first byte's reason is kept."""
        self._noise_reason = self._noise_reason or reason or "no frame begins here"
        while count:
            part = min(count, NOISE_MOST - self._noise_bytes)
            self._noise += self._buffer[: min(part, NOISE_KEPT - len(self._noise))]
            self._noise_bytes += part
            del self._buffer[:part]
            count -= part
            if self._noise_bytes == NOISE_MOST:
                self._flush_noise(events, t_s, always=True)
                # Fixed words for what follows directly: they must not depend on the chopping.
                self._noise_reason = "still no frame"

    def _flush_noise(self, events: list[Event], t_s: float, always: bool = False) -> None:
        """Report the noise collected so far, once, with the first reason found.

        Joining a stream in mid-frame leaves a partial frame: that is no fault and not reported.
        """
        if self._noise_bytes and (always or not self._joined):
            reason = self._noise_reason
            if self._noise_bytes > NOISE_KEPT:
                reason += f" ({self._noise_bytes} bytes)"
            events.append(BadFrame(bytes(self._noise), reason, t_s))
        self._noise.clear()
        self._noise_bytes = 0
        self._noise_reason = ""


def _event_of(shown: Shown, raw: bytes, t_s: float) -> Reading | NoNumber:
    if shown.value is None:
        return NoNumber(raw, t_s, shown.status)
    return Reading(shown.value, shown.unit, t_s, raw, shown.status, shown.sequence, shown.label)

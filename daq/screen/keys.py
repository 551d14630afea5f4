"""Keys and foot switches, read without waiting and given back whatever happens.

A foot switch is a keyboard with one key: space, Enter or page down, as it was set up. On POSIX the
keyboard is the terminal's own, in cbreak mode. On Windows it is the console's, through msvcrt;
that part follows its documentation and was not run on Windows.
"""

import os
import re
import sys
from types import TracebackType
from typing import Any, Literal, Self

Key = Literal["capture", "confirm", "quit", "back", "anew", "skip", "let it stand", "no"]
"""``confirm``: somebody has looked at the gauge after a doubt. What follows ``quit`` is for jobs
and calibrations."""

QUIET_S = 0.3
"""The same key again within this time is a repeat of the last press, not another one."""

_KEYS: dict[bytes, Key] = {
    b" ": "capture",
    b"\r": "capture",
    b"\n": "capture",
    b"\x1b[6~": "capture",  # page down
    b"c": "confirm",
    b"C": "confirm",
    b"q": "quit",
    b"Q": "quit",
    b"b": "back",
    b"B": "back",
    b"a": "anew",
    b"A": "anew",
    b"s": "skip",
    b"S": "skip",
    b"o": "let it stand",
    b"O": "let it stand",
    b"n": "no",
    b"N": "no",
}

# A control sequence (ECMA-48, 5.4), a single-shift key, or one byte.
_PRESS = re.compile(rb"\x1b\[[\x30-\x3f]{0,15}[\x20-\x2f]{0,2}[\x40-\x7e]|\x1bO[\x40-\x7e]|.", re.S)
_UNFINISHED = re.compile(rb"\x1b(?:\[[\x30-\x3f]{0,15}[\x20-\x2f]{0,2}|O)?\Z")


def split_presses(received: bytes) -> tuple[list[bytes], bytes]:
    """The key presses in ``received``, and the start of one that is not all there yet."""
    unfinished = _UNFINISHED.search(received)
    whole = received[: unfinished.start()] if unfinished else received
    return _PRESS.findall(whole), received[len(whole) :]


class PressFilter:
    """Tells presses from repeats: a key held down, or a foot that bounces on the switch.

    Every repeat starts the quiet time anew, so a key held down counts once.

    Args:
        quiet_s: how long a key must have been silent to count again, seconds.
    """

    def __init__(self, quiet_s: float = QUIET_S) -> None:
        self._quiet_s = quiet_s
        self._seen_s: dict[Key, float] = {}

    def counts(self, key: Key, now_s: float) -> bool:
        """Whether the key at ``now_s`` (monotonic, seconds) is a press of its own."""
        before_s = self._seen_s.get(key)
        self._seen_s[key] = now_s
        return before_s is None or not 0 <= now_s - before_s < self._quiet_s


class Keys:
    """The keyboard, while the context lasts::

        with Keys() as keys:
            for key in keys.pressed(now_s=clock()): ...

    Where the input is no terminal there are no keys, and nothing is changed. What was typed before
    is thrown away on the way in and on the way out: neither the screen nor the shell after it
    should act on a key that was meant for the other.

    Args:
        fd: the terminal to read, standard input if None. Windows reads its console whatever it is.
        quiet_s: see ``PressFilter``.
    """

    def __init__(self, fd: int | None = None, quiet_s: float = QUIET_S) -> None:
        self._keyboard = _Keyboard(fd)
        self._filter = PressFilter(quiet_s)
        self._rest = b""

    def __enter__(self) -> Self:
        self._keyboard.take()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        traceback: TracebackType | None,
    ) -> None:
        self._keyboard.give_back()

    def pressed(self, now_s: float) -> list[Key]:
        """The keys pressed since the last call, oldest first; empty at once if there are none.

        Args:
            now_s: monotonic time, seconds.
        """
        received = self._keyboard.read()
        if not received:
            return []
        presses, self._rest = split_presses(self._rest + received)
        known = [_KEYS[press] for press in presses if press in _KEYS]
        return [key for key in known if self._filter.counts(key, now_s)]


if sys.platform == "win32":
    import msvcrt

    class _Keyboard:
        """The Windows console's keyboard."""

        def __init__(self, fd: int | None) -> None:
            self._is_there = os.isatty(sys.stdin.fileno() if fd is None else fd)

        def take(self) -> None:
            self.read()

        def give_back(self) -> None:
            self.read()

        def read(self) -> bytes:
            received = b""
            while self._is_there and msvcrt.kbhit():
                char = msvcrt.getwch()
                if char in "\x00\xe0":  # a key without a character: its code follows
                    received += b"\x1b[6~" if msvcrt.getwch() == "Q" else b""
                elif char == "\x03":
                    raise KeyboardInterrupt
                else:
                    received += char.encode("utf-8", "replace")
            return received

else:
    import select
    import termios
    import tty

    class _Keyboard:
        """The terminal's keyboard in cbreak mode: no waiting for Enter, no echo, ^C as ever."""

        def __init__(self, fd: int | None) -> None:
            self._fd = _stdin_fd() if fd is None else fd
            self._before: list[Any] | None = None

        def take(self) -> None:
            if self._fd is None or not os.isatty(self._fd):
                return
            before = termios.tcgetattr(self._fd)
            self._before = before
            try:
                tty.setcbreak(self._fd, termios.TCSANOW)
                # ^S would freeze the screen with an old number on it.
                now = termios.tcgetattr(self._fd)
                now[0] &= ~termios.IXON
                termios.tcsetattr(self._fd, termios.TCSANOW, now)
                termios.tcflush(self._fd, termios.TCIFLUSH)
            except BaseException:
                self.give_back()
                raise

        def give_back(self) -> None:
            if self._fd is None or self._before is None:
                return
            before, self._before = self._before, None
            try:
                termios.tcflush(self._fd, termios.TCIFLUSH)
                termios.tcsetattr(self._fd, termios.TCSANOW, before)
            except termios.error:
                pass  # the terminal went away: there is nothing to give back

        def read(self) -> bytes:
            if self._fd is None or self._before is None:
                return b""
            try:
                ready, _, _ = select.select([self._fd], [], [], 0)
                return os.read(self._fd, 1024) if ready else b""
            except OSError:
                return b""  # the terminal went away

    def _stdin_fd() -> int | None:
        try:
            return sys.stdin.fileno()
        except (AttributeError, OSError, ValueError):
            return None

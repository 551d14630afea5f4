"""Keys and foot switches, on pseudo-terminals."""

import contextlib
import itertools
import os
import select
import subprocess
import sys
import time
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daq.screen.keys import Keys, PressFilter, split_presses

pty = pytest.importorskip("pty", reason="no pseudo-terminals on this system")
termios = pytest.importorskip("termios")

LFLAG, IFLAG = 3, 0
PAGE_DOWN = b"\x1b[6~"


@pytest.fixture
def typing():
    """The hand's end of a pseudo-terminal, and the program's end."""
    hand, program = pty.openpty()
    yield hand, program
    for fd in (hand, program):
        with contextlib.suppress(OSError):
            os.close(fd)


def arrived(fd):
    ready, _, _ = select.select([fd], [], [], 5)
    assert ready, "what was typed did not arrive"


@pytest.mark.parametrize(
    ("typed", "key"),
    [
        (b" ", "capture"),
        (b"\r", "capture"),
        (b"\n", "capture"),
        (PAGE_DOWN, "capture"),
        (b"c", "confirm"),
        (b"q", "quit"),
        (b"Q", "quit"),
    ],
)
def test_a_key_is_read_as_it_is_pressed_without_enter(typing, typed, key):
    hand, program = typing
    with Keys(program) as keys:
        assert keys.pressed(0.0) == []
        os.write(hand, typed)
        arrived(program)
        assert keys.pressed(0.1) == [key]
        assert keys.pressed(0.2) == []


def test_keys_that_mean_nothing_are_passed_over(typing):
    hand, program = typing
    with Keys(program) as keys:
        os.write(hand, b"x7\x1b[A\x1bOP\x1b[1;5C\xc3\xa9q")
        arrived(program)
        assert keys.pressed(0.0) == ["quit"]


def test_a_foot_switch_cut_in_two_is_one_press(typing):
    hand, program = typing
    with Keys(program) as keys:
        os.write(hand, PAGE_DOWN[:2])
        arrived(program)
        assert keys.pressed(0.0) == []
        os.write(hand, PAGE_DOWN[2:])
        arrived(program)
        assert keys.pressed(0.1) == ["capture"]


def test_a_key_held_down_counts_once(typing):
    hand, program = typing
    seen = []
    with Keys(program) as keys:
        for repeat in range(40):
            os.write(hand, b" ")
            arrived(program)
            seen += keys.pressed(repeat * 0.033)

    assert seen == ["capture"]


def test_a_second_press_after_the_quiet_time_counts():
    presses = PressFilter()

    assert presses.counts("capture", 10.0)
    assert not presses.counts("capture", 10.29)
    assert presses.counts("capture", 10.6)


def test_another_key_is_no_repeat():
    presses = PressFilter()

    assert presses.counts("capture", 10.0)
    assert presses.counts("quit", 10.01)


def test_what_was_typed_before_is_thrown_away(typing):
    hand, program = typing
    os.write(hand, b" \n")
    arrived(program)
    with Keys(program) as keys:
        assert keys.pressed(0.0) == []


def settings_of(fd):
    return termios.tcgetattr(fd)


def test_the_terminal_has_its_settings_back_afterwards(typing):
    _, program = typing
    before = settings_of(program)
    with Keys(program):
        during = settings_of(program)
    after = settings_of(program)

    assert not during[LFLAG] & (termios.ICANON | termios.ECHO)
    assert during[LFLAG] & termios.ISIG
    assert not during[IFLAG] & termios.IXON
    assert after == before


@pytest.mark.parametrize("error", [RuntimeError, KeyboardInterrupt])
def test_the_terminal_has_its_settings_back_after_an_exception(typing, error):
    _, program = typing
    before = settings_of(program)
    with pytest.raises(error), Keys(program):
        raise error

    assert settings_of(program) == before


def test_a_terminal_that_goes_away_presses_no_keys(typing):
    hand, program = typing
    with Keys(program) as keys:
        os.close(hand)
        assert keys.pressed(0.0) == []


def test_input_that_is_no_terminal_has_no_keys():
    reading, writing = os.pipe()
    os.write(writing, b" q")
    with Keys(reading) as keys:
        assert keys.pressed(0.0) == []
    os.close(reading)
    os.close(writing)


@given(
    presses=st.lists(st.sampled_from([b" ", b"q", PAGE_DOWN, b"\x1b[A", b"\x1bOP", b"\x1b[1;5C"])),
    cuts=st.lists(st.integers(0, 40), max_size=6),
)
def test_presses_are_the_same_however_they_are_cut(presses, cuts):
    typed, found, rest = b"".join(presses), [], b""
    edges = sorted({0, len(typed), *(cut for cut in cuts if cut <= len(typed))})
    for start, end in itertools.pairwise(edges):
        some, rest = split_presses(rest + typed[start:end])
        found += some

    assert found == presses
    assert rest == b""


@given(st.binary(max_size=200))
def test_any_bytes_are_taken_and_little_is_kept(typed):
    presses, rest = split_presses(typed)

    assert b"".join(presses) + rest == typed
    assert len(rest) <= 20


PROGRAM = """
import fcntl, sys, termios, time
from decimal import Decimal
from rich.console import Console
from daq.screen.keys import Keys
from daq.screen.terminal import Screen
from daq.screen.view import BenchView

fcntl.ioctl(0, termios.TIOCSCTTY, 0)
console = Console()
view = BenchView(gauge_label="BENCH 3", deviation_mm=Decimal("0.080"), age_s=0.0)
with Keys() as keys, Screen(console) as screen:
    ends_s = time.monotonic() + 20
    while (now_s := time.monotonic()) < ends_s:
        screen.show(view, now_s)
        pressed = keys.pressed(now_s)
        if "capture" in pressed:
            raise RuntimeError("something broke")
        if "quit" in pressed:
            break
        time.sleep(0.01)
"""


@pytest.mark.parametrize(
    ("typed", "status"), [(b"q", 0), (b" ", 1), (b"\x03", -2)], ids=["quit", "error", "interrupt"]
)
def test_a_program_on_a_terminal_gives_it_back_however_it_ends(typing, typed, status):
    hand, program = typing
    before = settings_of(program)
    child = subprocess.Popen(
        [sys.executable, "-c", PROGRAM],
        stdin=program,
        stdout=program,
        stderr=subprocess.DEVNULL,
        start_new_session=True,
        env={**os.environ, "TERM": "xterm-256color"},
        cwd=Path(__file__).parents[3],
    )
    try:
        output = read_until(hand, b"BENCH 3")
        os.write(hand, typed)
        output += read_until(hand, b"\x1b[?1049l")
        ended = child.wait(timeout=10)
    finally:
        child.kill()
        child.wait()

    assert ended == status
    assert output.endswith(b"\x1b[?25h\x1b[?1049l")
    assert settings_of(program) == before


def read_until(fd, wanted, within_s=20.0):
    """Everything from ``fd`` up to and with ``wanted``."""
    output, ends_s = b"", time.monotonic() + within_s
    while wanted not in output and time.monotonic() < ends_s:
        if select.select([fd], [], [], 0.5)[0]:
            output += os.read(fd, 65536)
    assert wanted in output
    return output

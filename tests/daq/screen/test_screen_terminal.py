"""The live screen: what reaches the terminal, how often, and that the terminal is given back."""

import io
import random
import re
from decimal import Decimal
from xml.etree import ElementTree

import pytest
from rich.console import Console, ConsoleDimensions

from daq.screen.drawing import rows_of
from daq.screen.pictures import picture
from daq.screen.terminal import DRAWS_A_SECOND, GROUND, INKS, Screen, can_draw, draw, needs_ascii

from .bench_views import STATES, bench_view

ENTER, LEAVE = "\x1b[?1049h", "\x1b[?1049l"
HIDE, SHOW = "\x1b[?25l", "\x1b[?25h"


def terminal(width=80, height=24, encoding="utf-8", **options):
    options = {"color_system": "truecolor", "force_terminal": True, "_environ": {}, **options}
    file = io.TextIOWrapper(io.BytesIO(), encoding=encoding, write_through=True)
    return Console(file=file, width=width, height=height, legacy_windows=False, **options)


def written(console):
    return console.file.buffer.getvalue().decode(console.file.encoding)


class Seen:
    """What a terminal shows after some output. It knows only what the screen makes use of."""

    def __init__(self, width=80, height=24):
        self.size = width, height
        self.take("\x1b[2J")

    def take(self, output):
        width, height = self.size
        for move, text in re.findall(r"(\x1b\[[?\d;]*[A-Za-z])|([^\x1b]+)", output):
            if move == "\x1b[2J":
                self.cells = [[" "] * width for _ in range(height)]
            elif move.endswith("H"):
                self.y, self.x = [int(part) - 1 for part in move[2:-1].split(";") if part] or [0, 0]
            elif move:
                assert re.fullmatch(r"\x1b\[(\?(25|1049)[hl]|[\d;]*m)", move), repr(move)
            for char in text:
                self.cells[self.y][self.x] = char  # an IndexError here is text off the screen
                self.x += 1
        return ["".join(row) for row in self.cells]


def lines_of(view, width=80, height=24):
    return ["".join(text for text, _ in row) for row in rows_of(view, width, height)]


def test_the_terminal_shows_what_was_drawn_after_any_sequence_of_views():
    console, chance, seen = terminal(), random.Random(4), Seen()
    taken = 0
    with Screen(console) as screen:
        for turn in range(200):
            view = chance.choice(list(STATES.values()))
            screen.show(view, now_s=turn * 0.06)
            output = written(console)[taken:]
            taken += len(output)
            assert seen.take(output) == lines_of(view)


def test_entering_and_leaving_use_the_other_screen_and_hide_the_cursor():
    console = terminal()
    with Screen(console) as screen:
        screen.show(bench_view("0.080"), now_s=0.0)
    output = written(console)

    assert output.startswith(ENTER)
    assert output.index(HIDE) < output.index("BENCH 3") < output.index(SHOW)
    assert output.endswith(LEAVE)


@pytest.mark.parametrize("error", [RuntimeError, KeyboardInterrupt, SystemExit])
def test_the_terminal_is_given_back_after_an_exception(error):
    console = terminal()
    with pytest.raises(error), Screen(console):
        raise error

    assert written(console).endswith(SHOW + LEAVE)


def test_a_terminal_that_went_away_does_not_hide_why_we_leave():
    console = terminal()

    class Gone(io.StringIO):
        def write(self, text):
            raise OSError(5, "Input/output error")

    def lose_the_terminal_and_fail():
        with Screen(console):
            console.file = Gone()
            raise RuntimeError("the real reason")

    with pytest.raises(RuntimeError, match="the real reason"):
        lose_the_terminal_and_fail()


def test_nothing_is_written_when_nothing_changed():
    console = terminal()
    with Screen(console) as screen:
        assert screen.show(bench_view("0.080"), now_s=0.0) is True
        before = written(console)
        assert screen.show(bench_view("0.080"), now_s=1.0) is False
        assert written(console) == before


def test_only_rows_that_changed_are_written():
    console = terminal()
    with Screen(console) as screen:
        screen.show(bench_view("0.080", captured=3), now_s=0.0)
        before = len(written(console))
        screen.show(bench_view("0.080", captured=4), now_s=1.0)
        after = written(console)[before:]

    assert re.findall(r"\x1b\[(\d+);1H", after) == ["24"]


def test_it_draws_at_most_twenty_times_a_second():
    console = terminal()
    with Screen(console) as screen:
        drawn = sum(
            screen.show(bench_view(str(Decimal(turn) / 1000)), now_s=turn * 0.001)
            for turn in range(1000)
        )

    assert drawn == DRAWS_A_SECOND == 20


def test_a_terminal_of_a_new_size_is_drawn_anew():
    console = terminal()
    with Screen(console) as screen:
        screen.show(bench_view("0.080"), now_s=0.0)
        console.size = ConsoleDimensions(120, 40)
        screen.show(bench_view("0.080"), now_s=1.0)
        output = written(console)

    new = output[output.rindex("\x1b[2J") :]
    assert Seen(120, 40).take(new) == lines_of(bench_view("0.080"), 120, 40)


def test_without_colour_the_text_is_the_same_and_no_colour_is_sent():
    console = terminal(no_color=True)
    with Screen(console) as screen:
        screen.show(STATES["in"], now_s=0.0)
    codes = ";".join(re.findall(r"\x1b\[([\d;]*)m", written(console))).split(";")

    assert set(codes) == {"0", "1"}
    assert Seen().take(written(console)) == lines_of(STATES["in"])


def test_an_encoding_without_block_characters_gets_ascii():
    console = terminal(encoding="ascii")
    with Screen(console) as screen:
        screen.show(STATES["in"], now_s=0.0)

    assert needs_ascii(console)
    assert written(console).isascii()
    assert "#########" in written(console)


def test_utf_8_gets_block_characters():
    assert not needs_ascii(terminal())


@pytest.mark.parametrize(
    "options", [{"force_terminal": False}, {"_environ": {"TERM": "dumb"}, "force_terminal": True}]
)
def test_what_is_no_terminal_is_refused(options):
    console = terminal(**options)

    assert not can_draw(console)
    with pytest.raises(ValueError, match="plain lines"):
        Screen(console)


@pytest.mark.parametrize("state", sorted(STATES))
@pytest.mark.parametrize("size", [(80, 24), (40, 15)])
def test_rich_prints_the_drawing_line_for_line(state, size):
    console = Console(file=io.StringIO(), width=size[0], height=size[1], color_system=None)
    console.print(draw(STATES[state], *size), end="")

    assert console.file.getvalue().split("\n") == lines_of(STATES[state], *size)


def luminance(colour):
    """Relative luminance of an sRGB colour (WCAG 2.2, definition of relative luminance)."""
    parts = (int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5))
    red, green, blue = (
        part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


@pytest.mark.parametrize(
    ("role", "least"), [(role, {"wall": 3, "faint": 4.5}.get(role, 7)) for role in INKS]
)
def test_every_ink_stands_out_from_the_ground(role, least):
    # WCAG 2.2: 7:1 for text (1.4.6), 4.5:1 at least (1.4.3), 3:1 for graphics (1.4.11).
    assert (luminance(INKS[role]) + 0.05) / (luminance(GROUND) + 0.05) >= least


def test_the_picture_holds_every_word_of_the_screen_and_asks_for_nothing_from_outside():
    svg = picture(STATES["in"], 80, 24)

    for words in ("BENCH 3", "at rest", "within limits", "+0.050", "rack reference"):
        assert words in svg
    assert re.findall(r"https?://[^\"]+", svg) == ["http://www.w3.org/2000/svg"]
    assert not re.search(r"@font-face|<script|<image|url\(", svg)


def test_the_picture_is_sound_xml_whatever_a_label_holds():
    svg = picture(bench_view("0.080", gauge_label='<&"\x00位>'), 80, 24)

    assert '<&"?位>'[:2] in "".join(ElementTree.fromstring(svg).itertext())


def test_the_same_view_gives_the_same_picture():
    assert picture(STATES["moving"], 80, 24) == picture(STATES["moving"], 80, 24)

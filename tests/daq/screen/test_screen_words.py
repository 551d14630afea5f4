"""The small print: full numbers, rounded honestly, and never cut."""

from decimal import Decimal

import pytest

from daq.screen.rows import ends, line
from daq.screen.words import (
    advice_phrases,
    foot_phrases,
    limits_text,
    plain_line,
    settled_text,
    value_phrases,
)

from .bench_views import MM_PER_INCH, STATES, at_rest, bench_view


def text_of(row):
    return "".join(text for text, _ in row)


@pytest.mark.parametrize(
    ("settled_mm", "u_mm", "text"),
    [
        (0.08034, 0.0006, "+0.0803 mm ± 0.0012 mm (k=2)"),
        (0.08034, 0.000601, "+0.0803 mm ± 0.0013 mm (k=2)"),
        (-0.0491, 0.05, "-0.05 mm ± 0.10 mm (k=2)"),
        (-0.0491, 0.0, "-0.049100 mm ± 0.000000 mm (k=2)"),
        (2.0, 70.0, "+2 mm ± 140 mm (k=2)"),
    ],
)
def test_the_uncertainty_has_two_digits_rounded_up_and_the_value_ends_with_it(
    settled_mm, u_mm, text
):
    assert settled_text(at_rest("0", "in", settled_mm=settled_mm, u_mm=u_mm)) == text


def test_the_settled_value_is_in_the_unit_of_the_screen():
    view = at_rest("0", "in", settled_mm=0.254, u_mm=0.00127, unit="in")

    assert settled_text(view) == "+0.01000 in ± 0.00010 in (k=2)"


@pytest.mark.parametrize(
    "fields",
    [
        {"settled_mm": None},
        {"u_mm": None},
        {"settled_mm": float("nan")},
        {"settled_mm": float("inf")},
        {"u_mm": float("nan")},
        {"u_mm": -0.001},
        {"settled_mm": 1e9},
    ],
)
def test_what_is_no_settled_value_is_not_printed(fields):
    assert settled_text(at_rest("0", "in", **fields)) == ""


def test_a_moving_value_is_not_called_settled():
    view = bench_view("0.080", settled_mm=0.08, u_mm=0.001, n=40, outcome="in")

    assert value_phrases(view) == ["length 12.380 mm"]


@pytest.mark.parametrize(
    ("lower", "upper", "text"),
    [
        ("-0.01", "0.05", "limits -0.010 mm to +0.050 mm"),
        (None, "0.05", "not above +0.050 mm"),
        ("-0.01", None, "not below -0.010 mm"),
        (None, None, "no limits"),
    ],
)
def test_the_limits_are_said_as_they_are(lower, upper, text):
    lower_mm, upper_mm = (None if end is None else Decimal(end) for end in (lower, upper))

    assert limits_text(bench_view("0", lower_mm=lower_mm, upper_mm=upper_mm)) == text


def test_the_limits_are_said_in_inches_on_an_inch_screen():
    view = bench_view(
        "0",
        unit="in",
        step_mm=Decimal("0.0001") * MM_PER_INCH,
        lower_mm=Decimal("-0.002") * MM_PER_INCH,
        upper_mm=Decimal("0.002") * MM_PER_INCH,
    )

    assert limits_text(view) == "limits -0.0020 in to +0.0020 in"


@pytest.mark.parametrize("state", ["no-signal", "cable-out"])
def test_without_a_number_the_words_say_what_to_do_and_guide_nobody(state):
    said = " ".join([*value_phrases(STATES[state]), *advice_phrases(STATES[state])])

    assert ("awake?" in said) or ("plug the cable in" in said)
    assert "clockwise" not in said


def test_a_doubt_silences_the_guidance():
    said = advice_phrases(STATES["doubt"])

    assert said[0].startswith("the display changed")
    assert not any("turn" in phrase for phrase in said)


def test_an_aim_that_is_not_zero_is_told():
    view = bench_view(
        "0.1", lower_mm=Decimal("0.1"), upper_mm=Decimal("0.3"), aim_mm=Decimal("0.2")
    )

    assert "aim +0.200 mm" in advice_phrases(view)
    assert not any("aim" in phrase for phrase in advice_phrases(bench_view("0.1")))


def test_what_the_gauge_says_of_itself_is_told():
    assert "gauge: battery low" in advice_phrases(bench_view("0", statuses=("battery low",)))


def test_the_last_row_tells_cable_age_captures_and_bad_frames():
    view = bench_view("0", age_s=0.14, captured=7, bad_frames=2)

    assert foot_phrases(view) == ["cable in", "age 0.1 s", "captured 7", "bad frames 2"]


@pytest.mark.parametrize(
    ("state", "said"),
    [
        ("moving", "BENCH 3: +0.080 mm, moving, clockwise 1/8 turn (45°)"),
        ("coming-to-rest", "BENCH 3: +0.002 mm, coming to rest, hold still"),
        ("in", "BENCH 3: +0.002 mm, at rest, within limits, leave it"),
        ("too-close-to-call", "BENCH 3: -0.049 mm, at rest, too close to call"),
        ("captured", "BENCH 3: +0.002 mm, at rest, within limits, captured"),
        ("inch", "BENCH 3: +0.0031 in, moving, clockwise 3/16 turn (68°)"),
        (
            "no-signal",
            "BENCH 3: no signal, no reading for 1.2 s: is the gauge on and awake?",
        ),
        (
            "refused",
            "BENCH 3: +0.012 mm, moving, "
            "not captured: the reading is still moving; hold still and press again",
        ),
    ],
)
def test_the_plain_line_says_it_in_one_sentence(state, said):
    assert plain_line(STATES[state]) == said


def test_the_plain_line_stays_one_line_whatever_a_label_holds():
    view = bench_view("0", gauge_label="A\nB\x1b[2J", notice="one\rtwo")

    assert plain_line(view).isprintable()


def test_a_phrase_without_room_is_left_out_whole():
    assert text_of(line(["length 12.380 mm", "n 41", "within limits"], 28)) == (
        " length 12.380 mm  ·  n 41"
    )
    assert text_of(line(["length 12.380 mm", "n 41"], 22)) == " length 12.380 mm"


def test_a_sentence_is_cut_between_words_and_shows_that_it_was():
    assert text_of(line(["no reading for 12.25 s: is it on?"], 20)) == " no reading for…"


def test_the_right_hand_phrases_give_way_to_the_left_hand_ones():
    assert text_of(ends(["cable in", "age 0.1 s"], ["q quit"], 33)) == (
        " cable in  ·  age 0.1 s   q quit"
    )
    assert "quit" not in text_of(ends(["cable in", "age 0.1 s"], ["q quit"], 30))

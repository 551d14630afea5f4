"""The screen of a calibration: the next block is large, the curve is true, nothing overflows."""

from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len

from daq.calibration.guided import ErrorCurve
from daq.screen.calibration_plot import BOTH, DOWN, FEWEST_ROWS, REPEAT, UP, plot_rows
from daq.screen.calibration_rows import calibration_rows, plain_calibration_line
from daq.screen.calibration_view import KEYS, CalibrationView, large_headline
from daq.screen.view import BenchView

STEP_MM = Decimal("0.001")


def curve(up=(), down=(), repeat=(), limit="0.004"):
    """An error curve over 10 mm, fixed zero; points as (travel, error) in text."""
    exact = [
        tuple((Decimal(travel), Decimal(error)) for travel, error in series)
        for series in (up, down, repeat)
    ]
    limit_mm = Decimal(limit)
    return ErrorCurve(
        run="as found",
        up=exact[0],
        down=exact[1],
        repeat=exact[2],
        to_mm=Decimal(10),
        limit_mm=limit_mm,
        zero="fixed",
        lower_mm=-limit_mm,
        upper_mm=limit_mm,
    )


ASKED = CalibrationView(
    kind="point",
    title="DI-7, as found",
    words="Blocks 5 + 2.5 mm: up to 7.5 mm (7 of 11).",
    large=("BLOCKS 5 + 2.5", "5 + 2.5"),
    more=("Let it rest for 10 s before it is read.",),
    done=6,
    of=32,
    bench=BenchView(gauge_label="DI-7", age_s=0.1, deviation_mm=Decimal("7.501"), motion="at rest"),
    curve=curve(up=[("0", "0"), ("5", "0.002")]),
    last="Last: 5 mm up, error +0.0020 mm",
)
CONDITIONS = CalibrationView(
    kind="conditions",
    title="DI-7, as found",
    words="Measure the temperature of gauge and standard and type it in.",
    large=("TEMPERATURE",),
    more=("The plan allows 19 to 21 °C.",),
    of=32,
)
LONG = replace(ASKED, notice="It reads 2.501 mm on blocks 5 + 2.5 mm (7.5 mm). " * 4)
SIZES = [(1, 1), (20, 5), (40, 12), (80, 24), (110, 34), (200, 60)]


def text_of(view, width, height, **options):
    rows = calibration_rows(view, width, height, **options)
    return "\n".join("".join(text for text, _ in row) for row in rows)


def plotted(drawn, width=60, height=12):
    rows = plot_rows(drawn, width, height, STEP_MM)
    assert len(rows) == height
    return ["".join(text for text, _ in row) for row in rows]


@pytest.mark.parametrize(("width", "height"), SIZES)
@pytest.mark.parametrize("view", [ASKED, CONDITIONS, LONG], ids=["point", "conditions", "long"])
@pytest.mark.parametrize("ascii_only", [False, True])
def test_it_fills_the_terminal_exactly(view, width, height, ascii_only):
    rows = calibration_rows(view, width, height, ascii_only=ascii_only)
    assert len(rows) == height
    assert {sum(cell_len(text) for text, _ in row) for row in rows} == {width}
    if ascii_only:
        assert text_of(view, width, height, ascii_only=True).isascii()


def test_at_the_usual_size_everything_has_its_place():
    rows = text_of(ASKED, 80, 24).splitlines()
    assert rows[0].startswith(" DI-7, as found")
    assert rows[0].rstrip().endswith("6 of 32 points")
    assert rows[1].strip() == ASKED.words
    assert "█" in "".join(rows[2:9])
    assert any("at rest" in row for row in rows)
    assert any("─ limit" in row for row in rows)
    assert rows[-3].strip() == ASKED.last
    assert rows[-1].strip() == KEYS["point"]


def test_nothing_moves_when_something_is_refused():
    quiet = text_of(ASKED, 80, 24).splitlines()
    refused = text_of(replace(ASKED, notice="It looks like block 5 mm."), 80, 24).splitlines()
    assert [n for n in range(24) if quiet[n] != refused[n]] == [22]


def test_a_long_refusal_is_wrapped_and_never_cut():
    flowing = " ".join(text_of(LONG, 80, 24).split())
    assert flowing.count("on blocks 5 + 2.5 mm (7.5 mm).") == 4


def test_a_short_screen_keeps_the_task_and_the_keys():
    rows = text_of(ASKED, 80, 3).splitlines()
    assert (rows[1].strip(), rows[2].strip()) == (ASKED.words, KEYS["point"])


def test_a_value_that_was_just_taken_or_refused_stands_large_for_a_moment():
    taken = replace(ASKED, bench=replace(ASKED.bench, captured=1, captured_ago_s=0.2))
    refused = replace(ASKED, bench=replace(ASKED.bench, refused_ago_s=0.2))
    assert large_headline(ASKED).texts == ASKED.large
    assert large_headline(taken).texts == ("CAPTURED",)
    assert large_headline(refused).texts == ("REFUSED",)


def test_what_hides_the_reading_stands_in_its_place():
    out = replace(ASKED, bench=replace(ASKED.bench, link_state="cable out"))
    assert "at rest" not in text_of(out, 80, 24)


def test_an_output_that_is_no_terminal_gets_one_line():
    assert plain_calibration_line(replace(ASKED, notice="Wait.")) == (
        "6/32  DI-7, as found: Blocks 5 + 2.5 mm: up to 7.5 mm (7 of 11).  [Wait.]"
    )


# The curve.


def test_up_down_and_again_have_signs_of_their_own():
    rows = plotted(
        curve(
            up=[("0", "0"), ("5", "0.002")],
            down=[("5", "0.002"), ("10", "-0.002")],
            repeat=[("2", "0.001")],
        )
    )
    drawn = "\n".join(rows[:-1])
    assert [drawn.count(sign) for sign in (UP, DOWN, BOTH, REPEAT)] == [1, 1, 1, 1]


def test_travel_runs_to_the_right_and_errors_upwards():
    rows = plotted(curve(up=[("0", "-0.003"), ("10", "0.003")]))
    places = [(row, text.index(UP)) for row, text in enumerate(rows[:-1]) if UP in text]
    (high, right), (low, left) = places
    assert high < low
    assert left < right == len(rows[0]) - 1


def test_without_room_there_is_no_curve():
    assert plotted(curve(up=[("0", "0")]), height=FEWEST_ROWS - 1) == [""] * (FEWEST_ROWS - 1)
    assert plotted(curve(up=[("0", "0")]), width=20) == [""] * 12


NEAR = ("0.004", "0.0041", "-0.004", "-0.0041")
ERRORS = st.sampled_from([Decimal(each) for each in NEAR]) | st.decimals("-0.02", "0.02", places=4)


@given(st.lists(st.tuples(st.integers(0, 10), ERRORS), min_size=1, max_size=12), st.integers(6, 30))
def test_a_point_lies_between_the_limits_just_if_its_error_does(points, height):
    for travel, error in points:
        rows = plotted(curve(up=[(travel, error)]), height=height)
        upper, lower = (n for n, text in enumerate(rows[:-1]) if text.count("─") > 20)
        (at,) = (n for n, text in enumerate(rows[:-1]) if UP in text)
        assert (upper <= at <= lower) == (abs(error) <= Decimal("0.004"))

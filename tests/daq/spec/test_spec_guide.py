"""Adjuster guidance: which way, how far, in words a hand can follow."""

import csv
from decimal import Decimal
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from daq.spec import Adjuster, Spec, SpecError, dead_band_mm, guide, pitch_mm

TABLE = Path(__file__).parents[2] / "data" / "thread_pitch_turns.csv"
ROWS = list(
    csv.DictReader(
        line for line in TABLE.read_text(encoding="utf-8").splitlines() if line[:2] != "# "
    )
)


def screw(thread="M10x1.5", clockwise="lowers", **more):
    return Adjuster(thread=thread, clockwise=clockwise, **more)


def test_the_table_has_all_its_threads():
    assert len(ROWS) == 26


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["thread"])
def test_turns_agree_with_the_thread_table(row):
    """Pitches after ISO 261/724 and ASME B1.1 (from memory); turns = length / (pitch · ratio)."""
    thread = row["thread"]
    assert pitch_mm(thread) == Fraction(row["pitch_mm_exact"])
    assert float(pitch_mm(thread)) == pytest.approx(float(row["pitch_mm"]), abs=5e-7)
    tenth = guide(Decimal("0.1"), screw(thread))
    assert float(tenth.turns) == pytest.approx(float(row["turns_per_0.1mm_ratio1"]), abs=5e-7)
    assert tenth.degrees == pytest.approx(float(row["degrees_per_0.1mm_ratio1"]), abs=5e-5)
    thou = guide(Decimal("0.0254"), screw(thread))
    assert thou.degrees == pytest.approx(float(row["degrees_per_0.001in_ratio1"]), abs=5e-5)
    gap = guide(Decimal("0.30"), screw(thread, lever_ratio="1.5"))
    assert float(gap.turns) == pytest.approx(float(row["turns_for_0.30mm_gap_ratio_1.5"]), abs=5e-7)


def test_a_gap_of_0_30_mm_on_m10x1_5_through_a_lever_of_1_5_is_48_degrees():
    """0.30 / (1.5 · 1.5) = 2/15 turn, exactly 48 degrees."""
    guidance = guide(Decimal("0.30"), screw(lever_ratio="1.5"))
    assert guidance.turns == Fraction(2, 15)
    assert guidance.degrees == 48.0
    assert guidance.words == "clockwise about 1/8 turn (48°)"


@pytest.mark.parametrize("tpi", [10, 13, 20, 28, 32, 40])
def test_an_inch_thread_turns_0_36_degrees_a_thou_for_each_thread_per_inch(tpi):
    """360° · 0.001 in · n per inch, exact arithmetic."""
    assert guide(Decimal("0.0254"), screw(f"{tpi} tpi")).turns == Fraction(tpi, 1000)


@pytest.mark.parametrize(
    ("thread", "pitch"),
    [
        ("M10x1.5", "3/2"),
        ("M10 × 1.5", "3/2"),
        ("M1.6x0.35", "7/20"),
        ("#10-32", "127/160"),
        ("1/4-28", "127/140"),
        ("1-8 UNC", "127/40"),
        ("1 1/8-12 UNF", "127/60"),
        ("2-4.5 UNC", "254/45"),
        ("pitch 0.75 mm", "3/4"),
        ("40 tpi", "127/200"),
    ],
)
def test_a_thread_is_read_from_its_designation(thread, pitch):
    assert pitch_mm(thread) == Fraction(pitch)


@pytest.mark.parametrize(
    "thread",
    [
        "",
        "M10",
        "M10x15",
        "M10x5",
        "M10x1,5",
        "M10x0",
        "M10x-1.5",
        "10x1.5",
        "M10x1.5x20",
        "1/3-20",
        "1/4-0 UNF",
        "1/4-28 ABC",
        "1/4",
        "pitch 75 mm",
        "pitch nan mm",
        "pitch 0.75",
        "28",
    ],
)
def test_a_thread_without_a_clear_pitch_is_refused(thread):
    with pytest.raises(SpecError, match=r"thread|pitch|size"):
        pitch_mm(thread)
    with pytest.raises(ValidationError):
        screw(thread)


@pytest.mark.parametrize(
    ("deviation", "clockwise", "must", "direction"),
    [
        ("0.1", "lowers", "fall", "clockwise"),
        ("0.1", "raises", "fall", "anticlockwise"),
        ("-0.1", "lowers", "rise", "anticlockwise"),
        ("-0.1", "raises", "rise", "clockwise"),
    ],
)
def test_too_high_is_lowered_and_too_low_is_raised(deviation, clockwise, must, direction):
    guidance = guide(Decimal(deviation), screw(clockwise=clockwise))
    assert (guidance.reading_must, guidance.direction) == (must, direction)
    assert guidance.words.startswith(direction)


@pytest.mark.parametrize(
    ("degrees", "clicks_per_turn", "words"),
    [
        ("4", None, "a hair clockwise (4°)"),
        ("0.2", None, "a hair clockwise (under 1°)"),
        ("14.9", None, "a hair clockwise (15°)"),
        ("16", None, "clockwise about 1/16 turn (16°)"),
        ("22.5", None, "clockwise 1/16 turn (22°)"),
        ("45", 24, "clockwise 1/8 turn (45°), about 3 clicks"),
        ("44", None, "clockwise 1/8 turn (44°)"),
        ("90", None, "clockwise 1/4 turn (90°)"),
        ("120", None, "clockwise 1/3 turn (120°)"),
        ("180", None, "clockwise 1/2 turn (180°)"),
        ("358", None, "clockwise about 1 turn (358°)"),
        ("360", 12, "clockwise 1 turn (360°), about 12 clicks"),
        ("450", None, "clockwise 1 1/4 turns (450°)"),
        ("710", None, "clockwise about 2 turns (710°)"),
        ("4", 24, "a hair clockwise (4°), less than half a click"),
        ("14", 24, "a hair clockwise (14°), about 1 click"),
    ],
)
def test_the_words_are_those_of_a_hand_on_a_screwdriver(degrees, clicks_per_turn, words):
    # A pitch of 0.36 mm makes a degree just 0.001 mm.
    adjuster = screw("pitch 0.36 mm", clicks_per_turn=clicks_per_turn)
    assert guide(Decimal(degrees) / 1000, adjuster).words == words


def test_more_than_twenty_turns_are_doubted():
    assert "check the gauge's unit" in guide(Decimal(31), screw()).words
    assert "check" not in guide(Decimal(29), screw()).words


def test_near_enough_is_left_alone():
    for deviation in ("0", "0.005", "-0.005"):
        guidance = guide(Decimal(deviation), screw(), dead_band_mm=Decimal("0.005"))
        assert guidance.words == "leave it"
        assert (guidance.reading_must, guidance.direction, guidance.turns) == ("stay", "none", 0)
    assert guide(Decimal("0.0051"), screw(), dead_band_mm=Decimal("0.005")).turns > 0


@pytest.mark.parametrize(
    ("limits", "step", "band"),
    [
        ("± 0.02 mm", "0.001", "0.002"),  # a tenth of the room to a limit
        ("± 0.02 mm", "0.01", "0.005"),  # half a step
        ("+0.05 -0.01 mm", "0.001", "0.001"),  # the nearer limit counts
        ("± 0.002 mm", "0.01", "0.002"),  # never beyond the limit
        ("+0.50 +0.30 mm", "0.001", "0.01"),  # around the aim, not the nominal
        ("max +0.05 mm", "0.001", "0.005"),
    ],
)
def test_the_dead_band_is_half_a_step_or_a_tenth_of_the_room(limits, step, band):
    spec = Spec.of("x", nominal="10 mm", limits=limits, source="a test")
    assert dead_band_mm(spec, Decimal(step)) == Decimal(band)


@pytest.mark.parametrize(
    ("deviation", "unit", "step", "words"),
    [
        ("0.08", "mm", "0.01", "lower 0.08 mm"),
        ("-0.08", "mm", "0.01", "raise 0.08 mm"),
        ("-0.0254", "in", "0.0127", "raise 0.0010 in"),
        ("0.004", "mm", "0.01", "lower a hair"),
        ("0", "mm", "0.01", "leave it"),
    ],
)
def test_without_an_adjuster_it_says_how_far_the_reading_must_move(deviation, unit, step, words):
    guidance = guide(Decimal(deviation), unit=unit, step_mm=Decimal(step))
    assert guidance.words == words
    assert (guidance.direction, guidance.clicks) == ("none", None)


def test_a_binary_float_turns_as_far_as_its_digits_say():
    assert guide(0.30, screw(lever_ratio="1.5")).turns == Fraction(2, 15)


@pytest.mark.parametrize("deviation", [float("nan"), float("inf"), Decimal("NaN")])
def test_a_deviation_that_is_none_is_refused(deviation):
    with pytest.raises(SpecError):
        guide(deviation, screw())


@pytest.mark.parametrize("band", ["-0.001", "NaN"])
def test_a_dead_band_that_is_none_is_refused(band):
    with pytest.raises(SpecError, match="dead band"):
        guide(Decimal("0.1"), screw(), dead_band_mm=Decimal(band))


@pytest.mark.parametrize(
    "facts",
    [
        {"lever_ratio": 1.5},
        {"lever_ratio": "0"},
        {"lever_ratio": "-1"},
        {"lever_ratio": "nan"},
        {"clicks_per_turn": 0},
        {"clicks_per_turn": 24.5},
        {"clockwise": "up"},
        {"pitch": "1.5"},
    ],
)
def test_an_adjuster_that_makes_no_sense_is_refused(facts):
    with pytest.raises(SpecError) as refusal:
        Adjuster.of(**{"thread": "M10x1.5", "clockwise": "raises", **facts})
    (field,) = facts
    assert str(refusal.value).startswith(f"{field}: ")


def test_an_adjuster_comes_back_from_json():
    adjuster = screw(lever_ratio="1.50", clicks_per_turn=24)
    assert Adjuster.model_validate_json(adjuster.model_dump_json()) == adjuster


@given(
    st.decimals("-20", "20", places=4).filter(bool),
    st.sampled_from([row["thread"] for row in ROWS]),
    st.decimals("0.1", "10", places=2),
    st.sampled_from(["raises", "lowers"]),
)
def test_doing_exactly_what_it_says_brings_the_deviation_to_zero(deviation, thread, ratio, sense):
    adjuster = screw(thread, sense, lever_ratio=ratio)
    guidance = guide(deviation, adjuster)
    up = (guidance.direction == "clockwise") == (sense == "raises")
    moved = guidance.turns * adjuster.mm_per_turn * (1 if up else -1)
    assert Fraction(deviation) + moved == 0

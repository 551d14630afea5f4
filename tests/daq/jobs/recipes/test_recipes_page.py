"""The page on recipes says what the program does: every table and example is worked out again."""

import re
from pathlib import Path

import pytest

from daq.jobs import learning
from daq.jobs.learning import Move, learn
from daq.jobs.recipes import (
    POSITIONS,
    Body,
    Component,
    Deflection,
    EqualHeights,
    Field,
    Length,
    Play,
    RunOut,
    SliderCrank,
    Temperature,
    Tilt,
    corrected,
)
from daq.jobs.recipes.chance import highest_of, safety_factor
from daq.spec import Adjuster
from tests.daq.jobs.recipes.making import settled

PAGE = (Path(__file__).parents[4] / "docs" / "recipes.md").read_text(encoding="utf-8")
SECTIONS = dict(re.findall(r"^## (.+)\n((?:(?!^## ).*\n?)*)", PAGE, re.MULTILINE))
SAID = {
    title: re.findall(r"\*\*([^*]+)\*\*", " ".join(text.split()))
    for title, text in SECTIONS.items()
}


def rows(text, heading):
    """The rows of the table whose first cell this is, as lists of cells."""
    for block in re.findall(r"(?:^\|.*\n)+", text, re.MULTILINE):
        found = [[cell.strip() for cell in row.strip("|").split("|")] for row in block.splitlines()]
        if found[0][0] == heading:
            return found[2:]
    raise AssertionError(f"no table begins with {heading}")


def points(title, heading, where=""):
    """Settled values from a table of place, reading and u."""
    made = []
    for place, reads, u in rows(SECTIONS[title], heading):
        at = {where: float(place[:-1]) if where == "angle_deg" else place} if where else {}
        made.append(settled(float(reads), float(u), **at))
    return made


def says(title, *sentences):
    """Hold figures in bold in a section against those worked out."""
    for sentence in sentences:
        assert sentence in SAID[title], f"{title}: {sentence} of {SAID[title]}"


def test_the_page_has_its_sections():
    assert list(SECTIONS) == [
        "Length",
        "Play",
        "Run-out",
        "Set of points",
        "Crank-web deflection",
        "True top dead centre",
        "Corrections",
        "What an adjuster really does",
    ]


def test_safety_factors():
    for values, factor in rows(PAGE, "values"):
        assert f"{safety_factor(int(values) - 1):.1f}" == factor


def test_length():
    made = Length(3, common=(Component("mastering", 0.001),)).result(points("Length", "repeat"))
    says("Length", f"{made.value:.4f} mm, u = {made.u:.4f} mm")


def test_play():
    rests = points("Play", "rest")
    made = Play(3).result(rests)
    says("Play", f"{made.value:.4f} mm, u = {made.u:.4f} mm")
    says("Play", f"{made.part('drift of the zero').value:+.3f} mm")
    says("Play", f"{Play(3, ratio=0.8).result(rests).value:.4f} mm")
    assert made.remarks[0].startswith("rests 3 to 4 are at the same stop")


def test_run_out():
    turn = points("Run-out", "angle", "angle_deg")
    made = RunOut().result(turn)
    part = made.part("eccentricity")
    says(
        "Run-out",
        f"{made.value:.4f} mm, u = {made.u:.4f} mm",
        f"{part.value:.4f} mm, u = {part.u:.4f} mm",
        f"{made.part('high spot').value:.1f}°",
        f"{made.part('form, peak to valley').value:.4f} mm",
        f"{RunOut(face_radius_mm=200).result(turn).part('tilt').value:.3f} mm/m",
    )
    flowing = " ".join(SECTIONS["Run-out"].split())
    assert f"{highest_of(8):.2f} u for eight" in flowing
    assert f"({RunOut().u_angle_deg:g}° unless said otherwise)" in flowing


def test_set_of_points():
    table = rows(SECTIONS["Set of points"], "liner")
    places = ("front", "exhaust", "rear", "intake")
    taken = [
        settled(float(height), group=liner, position=place)
        for liner, *heights in table
        for place, height in zip(places, heights, strict=True)
    ]
    made = Field(places, (("1", "2", "3"),)).result(taken)
    figures = [
        *(f"{made.part('mean', of).value:.3f}" for of in "123"),
        *(f"{made.part('range within', of).value:.3f}" for of in "123"),
        *(f"{made.part('step to neighbour', of).value:+.3f}" for of in ("1 to 2", "2 to 3")),
        *(
            f"{made.part(name, '1 to 3').value:.3f}"
            for name in ("spread of the means", "departure from a line")
        ),
    ]
    shown = [each.removesuffix(" mm") for each in SAID["Set of points"]]
    assert shown[-len(figures) :] == figures


def test_deflection():
    taken = points("Crank-web deflection", "crank pin", "position")
    assert tuple(point.position for point in taken) == (*POSITIONS, POSITIONS[0])
    made = Deflection().result(taken)
    vertical, horizontal = made.part("vertical"), made.part("horizontal")
    says(
        "Crank-web deflection",
        f"{vertical.value:+.4f} mm, u = {vertical.u:.4f} mm",
        f"{horizontal.value:+.3f} mm, u = {horizontal.u:.4f} mm",
        f"{made.part('vertical, dead centre to dead centre').value:+.4f} mm",
        f"{made.part('second harmonic, upright').value:+.4f} mm",
    )
    assert made.doubts == ()


def test_dead_centre():
    crank, title = SliderCrank(70, 240), "True top dead centre"
    for angle, drop, slope in rows(SECTIONS[title], "from the top"):
        assert f"{crank.drop_mm(float(angle[:-1])):.3f}" == drop
        assert f"{crank.slope_mm_per_deg(float(angle[:-1])):.3f}" == slope
    taken = [
        settled(float(reads), float(u), position=side, angle_deg=float(angle[:-1]))
        for side, angle, reads, u in rows(SECTIONS[title], "side")
    ]
    made = EqualHeights(crank, 0.1).result(taken)
    says(title, f"{made.value:.2f}° after the mark, u = {made.u:.2f}°")
    assert made.doubts == ()


STEEL = (11.5e-6, 1.2e-6)


CORRECTIONS = (
    Tilt(5, 1),
    Tilt(0, 2),
    Temperature(Body(20, 0.5, *STEEL), Body(25, 0.5, *STEEL)),
)


@pytest.mark.parametrize("number", range(3))
def test_corrections(number):
    table = rows(SECTIONS["Corrections"], "correction")
    assert len(table) == len(CORRECTIONS)
    _, reads, amount_um, u_um = table[number]
    made = corrected(Length(), [settled(float(reads), 0.0)], [CORRECTIONS[number]])
    assert f"{made.corrections[0].amount * 1000:.1f}" == amount_um
    assert f"{made.u * 1000:.1f}" == u_um


def test_learning():
    screw = Adjuster.of(thread="M10x1", clockwise="lowers", clicks_per_turn=40)
    moves = [
        Move(float(before), 0.0007, float(after), 0.0007, int(clicks) / 40)
        for clicks, before, after in rows(SECTIONS["What an adjuster really does"], "told, clicks")
    ]
    says("What an adjuster really does", learn(screw, moves).words)
    flowing = " ".join(SECTIONS["What an adjuster really does"].split())
    assert f"counts with {learning.SHEET_SHARE:.0%}".replace("%", " %") in flowing
    assert f"{learning.HAND_SHARE:.0%}".replace("%", " %") in flowing
    assert f"or {learning.HAND_DEG:.0f}°" in flowing

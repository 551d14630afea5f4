"""The look of the pages, from their style sheets: contrast, and nothing from elsewhere.

Contrast after WCAG 2.2: text 4.5 (1.4.3), edges, walls and the focus 3 (1.4.11); relative luminance
as defined there. The smallest of the text colours on ground and panel is 5.70 (faint, light
scheme), of the words at a glance 7.03 (turn, light scheme), of edges and walls 3.43 (wall, light
scheme).
"""

import re
from itertools import product
from pathlib import Path

import pytest

STATIC = Path(__file__).parents[3] / "daq" / "page" / "static"
SHEET = (STATIC / "style.css").read_text("utf-8")

TEXTS = ("ink", "small", "faint", "turn", "wait", "good", "stop")
MARKS = ("edge", "wall", "wait")
SURFACES = ("ground", "panel")


def colours(rule):
    """The colours that a rule sets, by name."""
    body = SHEET[SHEET.index(rule) :]
    body = body[: body.index("}")]
    return dict(re.findall(r"--(\w+): (#[0-9a-f]{6});", body))


SCHEMES = {
    "light": colours(":root {"),
    "dark, as the device": colours(':root:not([data-scheme="light"]) {'),
    "dark, chosen": colours(':root[data-scheme="dark"] {'),
}


def luminance(colour):
    """Relative luminance of sRGB, WCAG 2.2."""
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one, other):
    """Contrast ratio, WCAG 2.2: from 1 to 21."""
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def test_the_contrast_of_black_and_white_is_that_of_the_standard():
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#777777", "#777777") == 1


@pytest.mark.parametrize("scheme", SCHEMES)
def test_every_text_can_be_read_on_every_surface(scheme):
    of = SCHEMES[scheme]
    poor = {
        (text, surface): contrast(of[text], of[surface])
        for text, surface in product(TEXTS, SURFACES)
        if contrast(of[text], of[surface]) < 4.5
    }
    assert not poor


@pytest.mark.parametrize("scheme", SCHEMES)
def test_what_is_read_at_a_glance_has_the_contrast_of_level_aaa(scheme):
    of = SCHEMES[scheme]
    words = ("ink", "small", "turn", "wait", "good", "stop")
    assert min(contrast(of[word], of["ground"]) for word in words) >= 7


@pytest.mark.parametrize("scheme", SCHEMES)
def test_edges_and_walls_can_be_told_from_what_they_stand_on(scheme):
    of = SCHEMES[scheme]
    assert min(contrast(of[m], of[s]) for m, s in product(MARKS, SURFACES)) >= 3


@pytest.mark.parametrize("scheme", SCHEMES)
def test_letters_cut_out_of_a_slab_can_be_read(scheme):
    of = SCHEMES[scheme]
    assert min(contrast(of["ground"], of[slab]) for slab in ("good", "turn", "ink")) >= 4.5
    assert contrast(of["panel"], of["good"]) >= 4.5


def test_the_two_dark_schemes_are_the_same():
    assert SCHEMES["dark, as the device"] == SCHEMES["dark, chosen"]
    assert set(SCHEMES["light"]) == set(SCHEMES["dark, chosen"])


@pytest.mark.parametrize("page", sorted(path.name for path in STATIC.glob("*.html")))
def test_a_page_has_nothing_inline_and_asks_no_other_host(page):
    text = (STATIC / page).read_text("utf-8")
    assert not re.search(r"<style|\sstyle=|\son\w+=|javascript:|https?:|//\w", text)
    assert all("src=" in tag for tag in re.findall(r"<script[^>]*>", text))
    assert re.search(r'<html lang="en"', text)
    assert len(re.findall(r"<h1[ >]", text)) == 1
    assert len(re.findall(r"<main[ >]", text)) == 1


@pytest.mark.parametrize("script", sorted(path.name for path in STATIC.glob("*.js")))
def test_a_script_turns_no_text_into_markup_or_code(script):
    text = (STATIC / script).read_text("utf-8")
    assert not re.search(r"innerHTML|outerHTML|insertAdjacentHTML|document\.write|\beval\(", text)
    assert not re.search(r"new Function|setAttribute\(.style", text)


@pytest.mark.parametrize("sheet", sorted(path.name for path in STATIC.glob("*.css")))
def test_a_style_sheet_loads_nothing(sheet):
    assert not re.search(r"url\(|@import|@font-face", (STATIC / sheet).read_text("utf-8"))

"""The sheet that is shipped: sound, whole, and openly invented."""

from importlib.resources import files
from pathlib import Path

import pytest

from daq.jobs.sheet import demo_sheet, remarks_on, targets_of

PATH = Path(str(files("daq.jobs") / "sheets" / "ferry-auxiliary.toml"))


@pytest.fixture(scope="module")
def sheet():
    return demo_sheet()


def test_it_says_that_its_figures_are_invented(sheet):
    head = PATH.read_text("utf-8").split("[sheet]")[0]
    assert "every figure on it are invented" in " ".join(head.replace("#", " ").split())
    for variant in sheet.variants:
        for planned in sheet.for_variant(variant.name):
            assert planned.spec.source.startswith("Figures invented for this demonstration")
    assert "invented" in sheet.engine.source
    assert any("invented" in caution for caution in sheet.heading.cautions)


def test_it_has_two_variants_and_the_set_up_in_its_order(sheet):
    assert len(sheet.variants) == 2
    order = [planned.name for planned in sheet.for_variant(sheet.variants[0].name)]
    set_up = ["rack reference", "timing height", "intake clearance", "full-load stop"]
    assert [name for name in order if name in set_up] == set_up


def test_every_recipe_but_the_dead_centre_is_in_it(sheet):
    recipes = {step.recipe for step in sheet.steps}
    assert recipes == {"length", "play", "run-out", "points", "deflection"}


def test_what_an_injector_needs_is_set_on_all_six(sheet):
    for name in ("rack reference", "timing height"):
        step = next(step for step in sheet.steps if step.name == name)
        assert len(targets_of(step.for_each, sheet.engine)) == 6
        assert step.lock
        assert step.adjuster is not None


def test_nothing_on_it_is_left_unused(sheet):
    assert not [remark for remark in remarks_on(sheet) if remark.startswith("No step")]


def test_no_limits_on_it_are_narrow_for_the_gauge(sheet):
    assert not [remark for remark in remarks_on(sheet) if "display steps" in remark]

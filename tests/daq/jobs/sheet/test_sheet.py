"""What a sound sheet gives: figures by variant, sources written out, steps in order."""

import dataclasses
from decimal import Decimal
from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daq.jobs.sheet import SheetError, Target, neighbours, sheet_from_bytes, targets_of
from daq.jobs.sheet.order import circles, in_order
from daq.spec import GuardBand
from tests.daq.jobs.engines import engine, two_stroke
from tests.daq.jobs.sheet.planted import BASE, problems_of


@pytest.fixture(scope="module")
def sheet():
    return sheet_from_bytes(BASE.encode(), "s.toml")


def planned(sheet, variant, name):
    return next(each for each in sheet.for_variant(variant) if each.name == name)


def test_figures_are_those_of_the_variant_exactly_as_written(sheet):
    slow, fast = (planned(sheet, name, "height").spec for name in ("slow", "fast"))
    assert (slow.nominal_mm, slow.lower_mm, slow.upper_mm) == (
        Decimal("61.35"), Decimal("-0.04"), Decimal("0.04")
    )  # fmt: skip
    assert (fast.nominal_mm, fast.lower_mm, fast.upper_mm) == (
        Decimal("60.90"), Decimal("-0.03"), Decimal("0.05")
    )  # fmt: skip
    assert str(fast.nominal_mm) == "60.90"


def test_a_source_is_written_out_with_its_revision_and_place(sheet):
    assert planned(sheet, "slow", "height").spec.source == "Invented manual, revision 3, p. 12"
    assert planned(sheet, "fast", "height").spec.source == "Invented bulletin, revision 1, p. 2"


def test_the_condition_holds_the_temperature(sheet):
    assert planned(sheet, "slow", "height").spec.condition == "cold, 10 to 30 °C"
    assert planned(sheet, "slow", "float").spec.condition == ""


def test_steps_without_figures_by_variant_are_the_same_in_all(sheet):
    slow, fast = (sheet.for_variant(name) for name in ("slow", "fast"))
    differ = [one.name for one, other in zip(slow, fast, strict=True) if one != other]
    assert differ == ["height"]


def test_a_limit_on_one_side_leaves_the_other_open(sheet):
    spec = planned(sheet, "slow", "run-out").spec
    assert (spec.lower_mm, spec.upper_mm) == (None, Decimal("0.16"))


def test_a_variant_or_a_role_that_there_is_not_gets_a_suggestion(sheet):
    with pytest.raises(SheetError, match="did you mean 'slow'"):
        sheet.for_variant("solw")
    with pytest.raises(SheetError, match="there are: slow; fast"):
        sheet.variant("1800")
    with pytest.raises(SheetError, match="there are: fine, deep, coarse"):
        sheet.role("thick")


def test_the_heading_is_given(sheet):
    assert (sheet.title, sheet.revision) == ("Invented set-up", "C")
    assert sheet.rule == GuardBand(r=Decimal(1))
    assert sheet.heading.cautions == ("Mind the flywheel.",)
    assert sheet.variant("fast").plate == "1500 1/min"


def test_what_is_left_out_has_its_usual_value(sheet):
    rack, intake, exhaust = (planned(sheet, "slow", n).step for n in ("rack", "intake", "exhaust"))
    assert (rack.exercise, rack.times, rack.lock) == (3, 1, True)
    assert (intake.exercise, intake.times, intake.lock) == (0, 3, False)
    assert exhaust.times == 3  # a play is measured by three visits to each stop


def test_a_lever_ratio_may_be_a_plain_number():
    text = BASE.replace('lever_ratio = "1.4"', "lever_ratio = 1.4")
    adjuster = planned(sheet_from_bytes(text.encode(), "s.toml"), "slow", "exhaust").step.adjuster
    assert adjuster.lever_ratio == Decimal("1.4")
    assert adjuster.mm_per_turn == Fraction(7, 5)


def test_a_ratio_is_taken_with_or_without_quotes_exactly_as_written():
    for written in ('"0.80"', "0.80", "0.8"):
        text = BASE.replace("repeats = 3", f"ratio = {written}\nu_ratio = 0.01")
        step = planned(sheet_from_bytes(text.encode(), "s.toml"), "slow", "intake").step
        assert (step.ratio, step.u_ratio) == (Decimal("0.8"), Decimal("0.01"))


@pytest.mark.parametrize(
    ("written", "low", "high"),
    [("20 ± 5 °C", 15, 25), ("-5 to 10.5 °C", -5, Decimal("10.5")), ("−5 °C to 30 °C", -5, 30)],
)
def test_a_temperature_is_a_range_in_either_way_of_writing(written, low, high):
    text = BASE.replace("10 to 30 °C", written)
    step = planned(sheet_from_bytes(text.encode(), "s.toml"), "slow", "height").step
    assert (step.temperature.low_c, step.temperature.high_c) == (low, high)


def test_forms_may_be_made_from_their_own_values():
    text = BASE.replace("repeats = 3", "ratio = 0.8")
    sheet = sheet_from_bytes((text + GEAR).encode(), "s.toml")
    for part in (*sheet.steps, *sheet.gauges, *sheet.variants, *sheet.sources, sheet.heading):
        assert type(part).model_validate(dict(part)) == part


def test_inches_stay_what_they_were_written_in():
    text = BASE.replace('nominal = "1.20 mm"', 'nominal = "0.047 in"')
    text = text.replace('limits = "± 0.20 mm"', 'limits = "± 8 thou"')
    each = planned(sheet_from_bytes(text.encode(), "s.toml"), "slow", "recession")
    assert (each.spec.nominal_mm, each.spec.upper_mm) == (Decimal("1.1938"), Decimal("0.2032"))
    assert each.spec.unit == "in"
    assert str(each.step.nominal) == "0.047 in"
    asked = text.replace('nominal = "0.047 in"', 'unit = "mm"\nnominal = "0.047 in"')
    each = planned(sheet_from_bytes(asked.encode(), "s.toml"), "slow", "recession")
    assert each.spec.unit == "mm"


def test_a_length_out_of_range_is_told_in_the_unit_of_the_step():
    text = BASE.replace('nominal = "1.20 mm"', 'nominal = "6.5 in"')
    (told,) = problems_of(text)
    # 6.5 in + 0.2 mm = 165.3 mm = 6.50787 in, shown to 0.000005 in.
    assert "the upper limit is at 6.507875 in" in told


def test_the_same_mistake_in_two_variants_is_told_at_both():
    text = BASE.replace(
        '"± 0.04 mm"\n\n[steps.by_variant."fast"]', '"± 1 µm"\n\n[steps.by_variant."fast"]'
    )
    text = text.replace('"+0.05 mm -0.03 mm"', '"± 1 µm"')
    told = problems_of(text)
    assert [problem.split(": ")[1] for problem in told] == [
        "steps.2.by_variant.slow.limits", "steps.2.by_variant.fast.limits"
    ]  # fmt: skip


# ── targets ──────────────────────────────────────────────────────────────────────────────────────


def names(for_each, made_for, places=()):
    return [target.name for target in targets_of(for_each, made_for, places)]


def test_a_step_is_done_on_everything_of_its_kind():
    three = engine("1-2-3", exhaust_valves=2)
    assert names("engine", three) == ["engine"]
    assert names("cylinder", three) == ["cylinder 1", "cylinder 2", "cylinder 3"]
    assert names("intake valve", three) == ["intake 1", "intake 2", "intake 3"]
    assert names("exhaust valve", three)[:3] == ["exhaust 1.1", "exhaust 1.2", "exhaust 2.1"]
    assert len(names("valve", three)) == 9
    assert names("injector", three) == ["injector 1", "injector 2", "injector 3"]
    assert names("bank", three) == []
    assert names("place", three, ("drive end", "free end")) == ["drive end", "free end"]
    assert names("intake valve", two_stroke(3)) == []


def test_a_target_knows_its_words_its_cylinder_and_its_item():
    (*_, last) = targets_of("exhaust valve", engine("1-2", exhaust_valves=2))
    assert last.words == "exhaust valve 2.2"
    assert last.cylinder == "2"
    assert str(last.item) == "exhaust 2.2"
    (whole,) = targets_of("engine", engine("1-2"))
    assert whole == Target("engine", "the engine")


V4 = {"banks": [{"name": "left", "cylinders": "A1-A2"}, {"name": "right", "cylinders": "B1-B2"}]}


def test_neighbours_stand_side_by_side_in_one_bank():
    v4 = engine("A1-B2-A2-B1", **V4)
    assert names("bank", v4) == ["bank left", "bank right"]
    for thing in ("cylinder", "injector"):
        pairs = neighbours(targets_of(thing, v4))
        assert [(one.cylinder, other.cylinder) for one, other in pairs] == [
            ("A1", "A2"), ("B1", "B2")
        ]  # fmt: skip
    assert neighbours(targets_of("valve", v4)) == ()
    assert neighbours(targets_of("engine", v4)) == ()


@given(st.integers(1, 12), st.integers(0, 4), st.integers(1, 4), st.integers(0, 2))
def test_targets_are_as_many_as_the_engine_has_and_each_has_its_own_name(
    cylinders, intakes, exhausts, injectors
):
    made_for = two_stroke(
        cylinders, intake_valves=intakes, exhaust_valves=exhausts, injectors=injectors
    )
    expected = {
        "engine": 1,
        "cylinder": cylinders,
        "intake valve": cylinders * intakes,
        "exhaust valve": cylinders * exhausts,
        "valve": cylinders * (intakes + exhausts),
        "injector": cylinders * injectors,
        "bank": 0,
    }
    for thing, count in expected.items():
        found = names(thing, made_for)
        assert len(found) == len(set(found)) == count, thing


# ── order ────────────────────────────────────────────────────────────────────────────────────────

WAITS = st.dictionaries(st.sampled_from("abcdefg"), st.lists(st.sampled_from("abcdefgxy")))


def test_steps_come_as_written_where_nothing_else_is_asked(sheet):
    assert [each.name for each in sheet.for_variant("slow")] == [step.name for step in sheet.steps]
    assert in_order({"c": ["a"], "b": [], "a": [], "d": ["c"]}) == ("b", "a", "c", "d")


def test_the_first_as_written_is_not_overtaken_by_what_it_frees():
    assert in_order({"b": ["a"], "a": [], "c": []}) == ("a", "b", "c")


@given(WAITS)
def test_every_step_comes_after_those_it_waits_for(waits):
    order = in_order(waits)
    for place, step in enumerate(order):
        assert all(order.index(w) < place for w in waits[step] if w in waits)


@given(WAITS)
def test_there_is_an_order_for_all_unless_there_is_a_circle(waits):
    assert (len(in_order(waits)) == len(waits)) == (not list(circles(waits)))


@given(WAITS)
def test_a_circle_is_one(waits):
    found = list(circles(waits))
    for chain in found:
        assert chain[0] == chain[-1]
        for step, waits_for in pairwise(chain):
            assert waits_for in waits[step]
    inside = [step for chain in found for step in chain[1:]]
    assert len(inside) == len(set(inside))


def test_each_of_two_circles_is_told():
    waits = {"a": ["b"], "b": ["a"], "c": ["d"], "d": ["e"], "e": ["c"], "f": ["a", "e"]}
    assert list(circles(waits)) == [("a", "b", "a"), ("c", "d", "e", "c")]


# ── the crank ────────────────────────────────────────────────────────────────────────────────────


def need(words):
    text = BASE.replace('crank = "cylinder 1 at firing TDC"', f'crank = "{words}"')
    return planned(sheet_from_bytes(text.encode(), "s.toml"), "slow", "stop").step.crank


@pytest.mark.parametrize(
    ("words", "crank_deg"),
    [
        # By hand: 1-5-3-6-2-4 fires every 120°, so 3 fires at 240° and changes over at 600°.
        ("cylinder 1 at firing TDC", 0),
        ("cylinder 3 at firing TDC", 240),
        ("cylinder 3 firing TDC", 240),
        ("cylinder 3 at overlap TDC", 600),
        ("cylinder 3 30° before firing TDC", 210),
        ("cylinder 1 15.5 before firing TDC", Fraction("704.5")),
        ("cylinder 2 10 deg after overlap TDC", 130),
    ],
)
def test_a_place_of_the_crank_is_taken_as_the_trade_writes_it(sheet, words, crank_deg):
    assert need(words).position(sheet.engine).crank_deg == crank_deg


def test_own_means_the_targets_own_cylinder(sheet):
    own = planned(sheet, "slow", "height").step.crank
    assert own.manner == "own"
    assert own.position(sheet.engine, "5").words == "cylinder 5 at firing TDC"
    assert own.position(sheet.engine) is None
    assert need("any").position(sheet.engine, "5") is None


TWO_STROKE = """\
[engine]
source = "invented"
stroke = "two"
cylinders = 3
firing_order = "1-2-3"
rotation = "clockwise"
seen_from = "free end"
intake_valves = 0
exhaust_valves = 2
injectors = 1
"""


def of_two_stroke(crank, for_each="cylinder"):
    """A sheet of one step for a two-stroke."""
    head, _, rest = BASE.partition("[engine]")
    middle = rest[rest.index("[[variants]]") : rest.index("[[steps]]")]
    step = BASE[BASE.index("[[steps]] # recession") : BASE.index("[[steps]] # float")]
    step = step.replace('for_each = "valve"', f'for_each = "{for_each}"')
    return head + TWO_STROKE + middle + step.replace('crank = "any"', f'crank = "{crank}"')


def test_a_two_stroke_has_no_overlap_and_may_have_no_intake_valves():
    assert problems_of(of_two_stroke("own firing TDC")) == []
    (told,) = problems_of(of_two_stroke("own overlap TDC"))
    assert 'a two-stroke fires at every TDC and has no overlap TDC; write "own firing TDC"' in told
    (told,) = problems_of(of_two_stroke("any", "intake valve"))
    assert "for_each: this engine has no intake valves" in told


def test_a_plan_that_cannot_be_made_is_told():
    table = BASE[BASE.index("[[engine.valve_table]]") : BASE.index("[[variants]]")]
    uneven = BASE.replace(table, "").replace(
        'rotation = "anticlockwise"',
        'rotation = "anticlockwise"\nintervals = [150, 90, 150, 90, 150, 90]',
    )
    told = problems_of(uneven)
    assert len(told) == 2  # the steps of the intake and of the exhaust
    assert "crank: there is no plan for it: This engine fires unevenly" in told[0]


# ── a dead centre ────────────────────────────────────────────────────────────────────────────────

GEAR = """\
[[steps]]
name = "top"
what = "Mark for top dead centre, along the rim"
for_each = "cylinder"
recipe = "dead centre"
nominal = "0 mm"
limits = "± 1.0 mm"
source = "manual, p. 21"
crank = "own firing TDC"
gauge = "coarse"

[steps.crank_gear]
stroke = "140 mm"
rod = "250 mm"
rim = "600 mm"
u_angle = 0.1
"""


def test_a_dead_centre_is_written_with_its_crank_gear():
    sheet = sheet_from_bytes((BASE + GEAR).encode(), "s.toml")
    gear = planned(sheet, "slow", "top").step.crank_gear
    assert (gear.stroke.mm, gear.angles) == (140, (40, 30))
    assert gear.u_angle == Decimal("0.1")


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        # By hand: r = 70, l = 250, at 60°: 320 - (35 + sqrt(62500 - 3675)) = 42.46.
        ("u_angle = 0.1", "u_angle = 0.1\nangles = [60]", "the piston drops by 42.5 mm"),
        ('rod = "250 mm"', 'rod = "70 mm"', "a rod of 70 mm cannot turn with a stroke of 140 mm"),
        ("u_angle = 0.1", "u_angle = 0", "must be above 0"),
        ("u_angle = 0.1", "u_angle = 0.1\nangles = [40, 1]", "must be above 2"),
        ("own firing TDC", "any", 'write "own firing TDC"'),
        ("own firing TDC", "own 10° after firing TDC", 'write "own firing TDC"'),
        ('for_each = "cylinder"', 'for_each = "engine"', "it goes with for_each = cylinder"),
    ],
)
def test_what_cannot_be_right_with_a_dead_centre_is_told(old, new, told):
    assert GEAR.count(old) == 1
    (problem,) = problems_of(BASE + GEAR.replace(old, new))
    assert told in problem


def test_limits_along_the_rim_are_not_held_against_the_gauge_on_the_piston():
    assert problems_of(BASE + GEAR.replace("± 1.0 mm", "± 0.02 mm")) == []


def test_a_dead_centre_without_its_crank_gear_is_told():
    (problem,) = problems_of(BASE + GEAR[: GEAR.index("[steps.crank_gear]")])
    assert "add [steps.crank_gear] with stroke, rod, rim and u_angle" in problem


def test_a_sheet_cannot_be_changed(sheet):
    with pytest.raises(dataclasses.FrozenInstanceError):
        sheet.fingerprint = "0"

"""Specifications: what they refuse, and what they keep."""

from decimal import Decimal

import pytest
from pydantic import ValidationError

from daq.spec import Spec, SpecError, limits_mm

SOURCE = "Workshop manual 4, revision C"


def spec(**changes):
    facts = {"name": "rack", "nominal": "76.20 mm", "limits": "± 0.02 mm", "source": SOURCE}
    return Spec.of(**{**facts, **changes})


@pytest.mark.parametrize(
    ("text", "lower", "upper"),
    [
        ("+0.02 mm -0.01 mm", "-0.01", "0.02"),
        ("+0.02 -0.01 mm", "-0.01", "0.02"),
        ("+0.02/-0.01 mm", "-0.01", "0.02"),
        ("+0.02 mm / -0.01 mm", "-0.01", "0.02"),
        ("+ 0.02 mm; − 0.01 mm", "-0.01", "0.02"),
        ("0/-0.041 mm", "-0.041", "0"),
        ("+0.3 mm 0 mm", "0", "0.3"),
        ("-0.020 -0.041 mm", "-0.041", "-0.020"),
        ("+0.30 +0.10 mm", "0.10", "0.30"),
        ("± 0.05 mm", "-0.05", "0.05"),
        ("±2 thou", "-0.0508", "0.0508"),
        ("+/- 0.05 mm", "-0.05", "0.05"),
        ("+-0.05mm", "-0.05", "0.05"),
        ("+0.001 in -0.02 mm", "-0.02", "0.0254"),
        ("max +0.05 mm", None, "0.05"),
        ("min -0.05 mm", "-0.05", None),
    ],
)
def test_limits_are_read_as_a_drawing_prints_them(text, lower, upper):
    expected = tuple(None if end is None else Decimal(end) for end in (lower, upper))
    assert limits_mm(text) == expected


@pytest.mark.parametrize(
    ("text", "advice"),
    [
        ("-0.01 mm +0.02 mm", "swapped"),
        ("+0.10 +0.30 mm", "swapped"),
        ("+0.02 mm +0.02 mm", "swapped or equal"),
        ("± 0 mm", "no room"),
        ("± 0.05", "has no unit"),
        ("+0.02 -0.01", "has no unit"),
        ("+0.02 mm -0.01", "has no unit"),
        ("0.02 mm -0.01 mm", "has no sign"),
        ("max 0.05 mm", "has no sign"),
        ("± nan mm", "not a finite length"),
        ("± inf mm", "not a finite length"),
        ("± -0.05 mm", "does not name limits"),
        ("+nan mm -0.01 mm", "does not name limits"),
        ("0.02 mm", "does not name limits"),
        ("+0.02-0.01 mm", "does not name limits"),
        ("", "does not name limits"),
        ("+0,02 mm -0,01 mm", "use a point: +0.02 mm"),
        ("± 0.05 kg", "not a unit of length"),
        (0.05, "has no unit"),
    ],
)
def test_limits_that_are_none_are_refused_with_advice(text, advice):
    with pytest.raises(SpecError) as refusal:
        limits_mm(text)
    assert advice in str(refusal.value)


def test_a_spec_keeps_exact_figures_and_where_they_are_from():
    made = spec(limits="+0.02 mm -0.01 mm", condition="cold, 20 °C")
    assert (made.nominal_mm, made.lower_mm, made.upper_mm) == (
        Decimal("76.20"),
        Decimal("-0.01"),
        Decimal("0.02"),
    )
    assert (made.source, made.condition, made.unit) == (SOURCE, "cold, 20 °C", "mm")
    assert made.width_mm == Decimal("0.03")


def test_a_spec_in_inches_is_shown_in_inches_unless_told_otherwise():
    assert spec(nominal="3 in").unit == "in"
    assert spec(nominal="3 in").nominal_mm == Decimal("76.2")
    assert spec(nominal="3 in", unit="mm").unit == "mm"


def test_every_mistake_is_told_at_once():
    with pytest.raises(SpecError) as refusal:
        Spec.of(" ", nominal="76.20", limits="+0.01 mm +0.02 mm", source="", unit="cm")
    fields = [problem.partition(":")[0] for problem in refusal.value.problems]
    assert sorted(fields) == ["limits", "name", "nominal", "source", "unit"]


def test_a_spec_without_a_source_is_refused():
    with pytest.raises(SpecError, match="source: it is empty; say the document and its revision"):
        spec(source="  ")


@pytest.mark.parametrize("field", ["nominal_mm", "lower_mm", "upper_mm"])
@pytest.mark.parametrize(
    "bad",
    [
        0.1,
        float("nan"),
        "NaN",
        "inf",
        Decimal("NaN"),
        Decimal("Infinity"),
        True,
        "1_0",
        "1e9",
        Decimal("1e-30"),
        "200000",
    ],
)
def test_a_figure_that_is_not_exact_and_finite_is_refused(field, bad):
    facts = {"name": "x", "nominal_mm": "10", "lower_mm": "-1", "upper_mm": "1", "source": SOURCE}
    Spec.model_validate(facts)
    with pytest.raises(ValidationError) as refusal:
        Spec.model_validate({**facts, field: bad})
    assert field in str(refusal.value)


def test_a_tenth_in_a_spec_is_a_tenth():
    facts = {"name": "x", "nominal_mm": "0.1", "lower_mm": "-0.1", "upper_mm": 1, "source": SOURCE}
    assert Spec.model_validate(facts).nominal_mm == Decimal(1) / Decimal(10)


def test_swapped_limits_and_no_limits_are_refused_by_the_model_too():
    facts = {"name": "x", "nominal_mm": "10", "source": SOURCE}
    with pytest.raises(ValidationError, match="must be below the upper one"):
        Spec.model_validate({**facts, "lower_mm": "0.1", "upper_mm": "-0.1"})
    with pytest.raises(ValidationError, match="must be below the upper one"):
        Spec.model_validate({**facts, "lower_mm": "0.1", "upper_mm": "0.1"})
    with pytest.raises(ValidationError, match="no limit at all"):
        Spec.model_validate({**facts, "lower_mm": None, "upper_mm": None})


def test_unknown_facts_are_refused_and_a_spec_cannot_be_changed():
    with pytest.raises(ValidationError, match="Extra inputs"):
        Spec.model_validate({**spec().model_dump(), "tolerance": "0.1"})
    with pytest.raises(ValidationError, match="frozen"):
        spec().nominal_mm = Decimal(1)


def test_a_spec_comes_back_from_json_with_every_digit():
    made = spec(limits="max +0.0500 mm")
    back = Spec.model_validate_json(made.model_dump_json())
    assert back == made
    assert str(back.upper_mm) == "0.0500"


def test_a_float_in_json_is_refused():
    text = spec().model_dump_json().replace('"76.20"', "76.2")
    with pytest.raises(ValidationError, match="no exact number"):
        Spec.model_validate_json(text)


@pytest.mark.parametrize(
    ("limits", "aim"),
    [
        ("± 0.02 mm", "0"),
        ("+0.02 mm 0 mm", "0"),
        ("+0.30 +0.10 mm", "0.20"),
        ("-0.020 -0.041 mm", "-0.0305"),
        ("max +0.05 mm", "0"),
        ("max -0.05 mm", "-0.05"),
        ("min +0.05 mm", "0.05"),
    ],
)
def test_the_aim_is_the_nominal_unless_that_is_outside_its_own_limits(limits, aim):
    assert spec(limits=limits).aim_mm == Decimal(aim)

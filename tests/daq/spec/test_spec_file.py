"""Specification files: read whole, refused whole, with every line named."""

from decimal import Decimal

import pytest

from daq.spec import SpecError, load_spec

GOOD = """\
# an invented figure
name = "rack reference, cylinder 1"
nominal = "76.20 mm"
limits = "+0.02 mm -0.01 mm"
source = "Workshop manual 4, revision C, page 12"
condition = "cold"
"""


@pytest.fixture
def write(tmp_path):
    def _write(text):
        path = tmp_path / "spec.toml"
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return path

    return _write


def problems_of(path):
    with pytest.raises(SpecError) as refusal:
        load_spec(path)
    return [problem.removeprefix(f"{path}:") for problem in refusal.value.problems]


def test_a_good_file_is_read(write):
    spec = load_spec(write(GOOD))
    assert spec.name == "rack reference, cylinder 1"
    assert (spec.nominal_mm, spec.lower_mm, spec.upper_mm) == (
        Decimal("76.20"),
        Decimal("-0.01"),
        Decimal("0.02"),
    )
    assert spec.condition == "cold"


def test_a_byte_order_mark_in_front_does_no_harm(write):
    assert load_spec(write(b"\xef\xbb\xbf" + GOOD.encode())).unit == "mm"


def test_every_mistake_is_told_with_its_line_and_what_would_be_right(write):
    bad = """\
nominel = "1 mm"
nominal = "76,20 mm"
limits = "-0.02 mm +0.02 mm"

source = " "
unit = "cm"
condition = 20
"""
    assert problems_of(write(bad)) == [
        "1: name: it is missing; say what is measured, in quotes",
        "1: nominel: there is no such field; did you mean nominal?",
        "2: nominal: '76,20 mm' has a decimal comma; use a point: 76.20 mm",
        "3: limits: '-0.02 mm +0.02 mm' has its limits swapped or equal: "
        "the upper one comes first, and is larger",
        "5: source: it is empty; say the document and its revision",
        "6: unit: 'cm' is no unit to show it in; write mm or in",
        "7: condition: 20 is not text; write it in quotes",
    ]


@pytest.mark.parametrize("figure", ["76.2", "76", "nan", "inf", '"76.2"', '"nan mm"'])
def test_a_bare_number_is_refused_at_its_line(write, figure):
    (problem,) = problems_of(write(GOOD.replace('"76.20 mm"', figure)))
    assert problem.startswith("3: nominal: ")
    assert "no unit" in problem or "not a finite length" in problem


@pytest.mark.parametrize("field", ["name", "nominal", "limits", "source"])
def test_a_missing_field_is_named(write, field):
    kept = "\n".join(line for line in GOOD.splitlines() if not line.startswith(f"{field} ="))
    (problem,) = problems_of(write(kept))
    assert problem.startswith(f"1: {field}: it is missing; ")


def test_a_table_is_no_field(write):
    (problem,) = problems_of(write(GOOD + "\n[gauge]\nport = 'x'\n"))
    assert problem.startswith("8: gauge: there is no such field; known: name, nominal")


def test_broken_toml_is_told_with_its_line(write):
    (problem,) = problems_of(write(GOOD + "unit = mm\n"))
    assert problem.startswith("7: file: it is not TOML")
    (problem,) = problems_of(write(GOOD + "unit = '"))
    assert problem.startswith("7: file: it is not TOML")


def test_a_file_that_is_no_text_is_told_with_its_line(write):
    (problem,) = problems_of(write(GOOD.encode() + b"unit = '\xb5m'\n"))
    assert problem.startswith("7: file: it is not UTF-8 text")


def test_a_file_that_is_not_there_is_told(tmp_path):
    with pytest.raises(SpecError, match="cannot be read"):
        load_spec(tmp_path / "no.toml")


def test_a_file_far_too_large_is_not_read(write):
    with pytest.raises(SpecError, match="far too large"):
        load_spec(write("#" * 200_000))

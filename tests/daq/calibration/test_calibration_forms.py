"""What is written down of standards and gauges: exact, consistent, and back as it was written."""

from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from daq.calibration.forms import CertifiedLength
from tests.daq.calibration.invented import bench, flat, gauge, standard


def said(make, **changes):
    with pytest.raises(ValidationError) as told:
        make(**changes)
    return " ".join(each["msg"] for each in told.value.errors())


def limits(**changes):
    facts = {"source": "own rule", "over_range": "0.010 mm"}
    return {"limits": facts | changes}


def test_the_standard_uncertainty_is_the_expanded_one_over_its_own_k():
    value = CertifiedLength.model_validate(
        {"nominal": "5 mm", "length": "5.00012 mm", "expanded_u": "0.00009 mm", "k": 3}
    )
    assert value.u_mm == Decimal("0.00003")
    assert value.deviation_mm == Decimal("0.00012")


def test_no_digit_of_a_certificate_is_lost():
    value = {"nominal": "0.1 in", "length": "2.5400100 mm", "expanded_u": "0.000070 mm", "k": 2}
    read = CertifiedLength.model_validate(value)
    assert read.nominal_mm == Decimal("2.54")
    assert str(read.length_mm) == "2.5400100"


@pytest.mark.parametrize("made", [standard(), bench(), flat(), gauge()], ids=lambda m: m.kind)
def test_the_text_form_reads_back_as_the_same(made):
    again = type(made).model_validate(made.model_dump(mode="json", by_alias=True))
    assert again == made
    assert type(made).model_validate_json(made.model_dump_json(by_alias=True)) == made


def test_lengths_go_out_as_text_with_their_unit_and_every_digit():
    dumped = gauge(step="0.0010 mm").model_dump(mode="json", by_alias=True)
    assert dumped["step"] == "0.0010 mm"
    assert dumped["expansion"] == "11.5"


@pytest.mark.parametrize(
    ("day", "words"),
    [
        (date(2026, 1, 9), "has a certificate from 2026-01-10 on, and it is 2026-01-09"),
        (date(2026, 1, 10), ""),
        (date(2028, 1, 10), ""),
        (date(2028, 1, 11), "was due on 2028-01-10"),
    ],
)
def test_a_standard_may_be_used_from_its_first_day_to_its_last(day, words):
    why = standard().why_unusable(day)
    assert words in why
    assert bool(words) == bool(why)


@pytest.mark.parametrize(
    ("make", "changes", "words"),
    [
        (standard, {"due": "2026-01-10"}, "due: 2026-01-10 is not after 2026-01-10"),
        (standard, {"due": "2027-13-01"}, "no day 2027-13-01"),
        (standard, {"due": "soon"}, "no date; write year, month, day"),
        (standard, {"expansion": 1150}, "out of all proportion"),
        (standard, {"expansion": -1}, "no plain number"),
        (standard, {"drift_per_year": "5"}, "has no unit"),
        (flat, {"values": bench().model_dump(by_alias=True)["values"]}, "a flat has one value"),
        (bench, {"values": flat().model_dump(by_alias=True)["values"]}, "its first value and its"),
        (gauge, {"step": "2 mm"}, "too coarse for a range of 10 mm"),
        (gauge, {"range": "0 mm"}, "must be above zero"),
        (gauge, limits(hysteresis="0.0005 mm"), "no reading could show it kept"),
        (gauge, limits(over_partial="0.005 mm"), "partial: is missing"),
        (gauge, limits(partial="1 mm"), "over_partial: is missing"),
        (gauge, limits(partial="1 mm", over_partial="0.02 mm"), "it could never be exceeded"),
        (gauge, limits(partial="10 mm", over_partial="0.01 mm"), "no part of a range"),
    ],
)
def test_what_contradicts_itself_is_refused_with_why(make, changes, words):
    assert words in said(make, **changes)


def test_over_a_part_more_may_be_allowed_where_the_zero_is_fixed():
    # A span may be up to twice the largest error from a fixed zero.
    made = gauge(**limits(zero="fixed", partial="1 mm", over_partial="0.015 mm"))
    assert made.limits.over_partial_mm == Decimal("0.015")


def test_a_calibrated_length_far_from_its_nominal_is_a_slip_of_the_pen():
    value = {"nominal": "5 mm", "length": "5.1 mm", "expanded_u": "0.0001 mm", "k": 2}
    with pytest.raises(ValidationError, match=r"0\.1 mm from its nominal 5 mm"):
        CertifiedLength.model_validate(value)


@pytest.mark.parametrize(
    ("interval", "words"),
    [
        ({"kind": "fixed", "months": 0}, "greater than or equal to 1"),
        ({"kind": "fixed", "months": 12.0}, "valid integer"),
        (
            {"kind": "reactive", "months": 30, "least": 3, "most": 24} | dict.fromkeys(
                ("longer_by", "shorter_by"), 3
            ),
            "months: 30 is not from least, 3, to most, 24",
        ),
        (
            {"kind": "reactive", "months": 12, "least": 24, "most": 6} | dict.fromkeys(
                ("longer_by", "shorter_by"), 3
            ),
            "least: 24 months is more than most, 6; check both",
        ),
        (
            {"kind": "reliability", "months": 12, "least": 3, "most": 24, "reliability": 0.9},
            "no per cent from 50 to 99.9",
        ),
    ],
)  # fmt: skip
def test_an_interval_that_makes_no_sense_is_refused(interval, words):
    assert words in said(gauge, interval=interval)


def test_a_gauge_without_a_policy_is_due_every_year():
    assert gauge().interval.months == 12


ANYTHING = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=12) | st.dates(),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner),
    max_leaves=4,
)


@pytest.mark.parametrize("made", [standard(), gauge()], ids=["standard", "gauge"])
@given(data=st.data())
def test_nothing_in_any_field_raises_anything_else(made, data):
    facts = made.model_dump(by_alias=True)
    key = data.draw(st.sampled_from(sorted(facts)))
    try:
        type(made).model_validate(facts | {key: data.draw(ANYTHING)})
    except ValidationError:
        return


def test_the_forms_refuse_names_that_they_do_not_know():
    for made in (standard(), gauge()):
        with pytest.raises(ValidationError, match="Extra inputs"):
            type(made).model_validate(made.model_dump(by_alias=True) | {"surprise": 1})

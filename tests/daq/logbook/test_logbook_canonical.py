"""Canonical JSON against RFC 8785: its published files, its appendix B, and what it refuses."""

import csv
import json
import math
import re
import struct
from collections import OrderedDict
from decimal import Decimal
from enum import IntEnum
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daq.logbook import NotCanonicalError
from daq.logbook.canonical import canonical, number_text

DATA = Path(__file__).parents[2] / "data" / "rfc8785"

with open(DATA / "numbers.csv", newline="") as file:
    NUMBERS = [(row["ieee754_hex"], row["expected"]) for row in csv.DictReader(file)]


def float_of(bits):
    return struct.unpack(">d", bytes.fromhex(bits))[0]


JSON_VALUES = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-(2**53) + 1, 2**53 - 1)
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(), inner, max_size=4),
    max_leaves=20,
)


@pytest.mark.parametrize("name", ["arrays", "french", "structures", "unicode", "values", "weird"])
def test_the_published_file_comes_out_byte_for_byte(name):
    """RFC 8785: test files published with it."""
    value = json.loads((DATA / "input" / f"{name}.json").read_text(encoding="utf-8"))
    assert canonical(value) == (DATA / "output" / f"{name}.json").read_bytes()


@pytest.mark.parametrize(("bits", "text"), NUMBERS, ids=[bits for bits, _ in NUMBERS])
def test_a_number_is_printed_as_appendix_b_says(bits, text):
    """RFC 8785, appendix B: 24 numbers, and three that are refused."""
    if text.endswith("(error)"):
        with pytest.raises(NotCanonicalError, match="no number"):
            canonical(float_of(bits))
    else:
        assert canonical(float_of(bits)) == text.encode()


def test_appendix_b_is_all_there():
    assert len(NUMBERS) == 27
    assert sum(text.endswith("(error)") for _, text in NUMBERS) == 3


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_a_number_reads_back_as_itself_in_the_notation_of_ecmascript(value):
    """ECMA-262, Number::toString: no exponent from 1e-6 up to below 1e21, sign on an exponent."""
    text = number_text(value)
    assert float(text) == value
    plain, scientific = r"-?(0|[1-9]\d*)(\.\d*[1-9])?", r"-?[1-9](\.\d*[1-9])?e[+-][1-9]\d*"
    is_plain = value == 0 or 1e-6 <= abs(value) < 1e21
    assert re.fullmatch(plain if is_plain else scientific, text)


@given(JSON_VALUES)
def test_the_canonical_form_says_the_same_and_is_its_own_canonical_form(value):
    form = canonical(value)
    # To JSON every number is a float64: an integer-valued one beyond 2**53 is no integer of ours.
    again = json.loads(form, parse_int=float)
    assert again == value
    assert canonical(again) == form


@given(st.dictionaries(st.text(), st.integers(0, 9), min_size=2))
def test_the_order_in_which_members_were_put_in_does_not_matter(members):
    assert canonical(dict(reversed(members.items()))) == canonical(members)


def test_keys_are_sorted_by_utf16_units_not_by_code_points():
    """RFC 8785, 3.2.3: U+1F602 begins with the unit D83D, below FB33."""
    form = canonical({"\ufb33": 1, "\U0001f602": 2})
    assert form == '{"\U0001f602":2,"\ufb33":1}'.encode()


@pytest.mark.parametrize(
    "value",
    [
        2**53,
        -(2**53),
        math.nan,
        math.inf,
        "lone \ud800",
        {"lone \udfff": 1},
        {1: "key"},
        {None: "key"},
        Decimal("1.5"),
        b"bytes",
        {1, 2},
    ],
    ids=repr,
)
def test_what_has_no_canonical_form_is_refused_wherever_it_stands(value):
    with pytest.raises(NotCanonicalError):
        canonical(value)
    with pytest.raises(NotCanonicalError):
        canonical({"deep": [1, {"deeper": value}]})


class Level(IntEnum):
    HIGH = 3


class Measured(float):
    def __repr__(self):
        return f"Measured({float(self)})"


class Label(str):
    __slots__ = ()


def test_a_value_of_a_derived_type_is_written_as_the_one_it_derives_from():
    value = {Label("z"): Level.HIGH, "a": [Measured(0.5), Measured(100), OrderedDict(b=True)]}
    assert canonical(value) == b'{"a":[0.5,100,{"b":true}],"z":3}'


def test_the_largest_integers_every_reader_keeps_are_taken():
    assert canonical([2**53 - 1, -(2**53) + 1]) == b"[9007199254740991,-9007199254740991]"

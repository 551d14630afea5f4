"""The wire form: what screens are told, and what they may say, whatever they send."""

import json
from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daq.page.errors import MessageError
from daq.page.messages import (
    MOST_BYTES,
    State,
    bench_message,
    encoded,
    refused,
    state_message,
    wish_from,
    withheld,
)
from tests.daq.screen.bench_views import STATES, at_rest, bench_view

OF_THE_NUMBER = (
    "digits",
    "deviation_mm",
    "length",
    "motion",
    "settled",
    "U",
    "n",
    "outcome",
    "way",
)


def told(view, **more):
    return bench_message(view, **more)


def test_a_value_at_rest_is_told_in_the_digits_of_every_other_screen():
    said = told(STATES["in"])
    assert said["digits"] == " +0.002"
    assert said["deviation_mm"] == 0.002
    assert said["length"] == "12.302 mm"
    assert said["nominal"] == "12.300 mm"
    assert (said["lower"], said["upper"], said["aim"]) == ("-0.050 mm", "+0.050 mm", "0.000 mm")
    assert said["limits"] == "limits -0.050 mm to +0.050 mm"
    assert said["spec"] == "rack reference"
    assert (said["settled"], said["U"], said["n"]) == ("+0.0020 mm", "0.0012 mm", 41)
    assert said["headline"] == {
        "texts": ["LEAVE IT"],
        "mood": "good",
        "mark": "✓",
        "is_news": False,
    }


@pytest.mark.parametrize("name", ["no-signal", "cable-out"])
def test_without_a_fresh_number_nothing_is_sent_that_follows_from_it(name):
    said = told(STATES[name])
    assert not said["fresh"]
    assert [said[each] for each in OF_THE_NUMBER] == [None] * len(OF_THE_NUMBER)
    assert (said["guide"], said["amount"], said["can_capture"]) == ("", "", False)
    assert STATES[name].amount not in json.dumps(said["headline"])


def test_while_there_is_a_doubt_no_turn_is_told_and_nothing_can_be_captured():
    said = told(STATES["doubt"])
    assert said["doubt"]
    assert (said["way"], said["guide"], said["amount"]) == (None, "", "")
    assert not said["can_capture"]


def test_while_it_moves_a_press_is_offered_and_answered_with_the_reason():
    assert told(STATES["moving"])["can_capture"]
    assert not told(STATES["moving"], captures=False)["can_capture"]


def test_without_a_specification_there_are_no_limits_and_no_aim():
    view = replace(bench_view("1.000"), nominal_mm=None, lower_mm=None, upper_mm=None)
    said = told(view)
    assert (said["nominal"], said["limits"], said["lower"], said["aim"]) == (None, "", "", "")
    assert (said["lower_mm"], said["upper_mm"], said["aim_mm"]) == (None, None, None)


def test_inches_are_told_in_inches_and_drawn_in_millimetres():
    said = told(STATES["inch"])
    assert said["unit"] == "in"
    assert said["digits"].strip() == "+0.0031"
    assert said["deviation_mm"] == pytest.approx(0.0031 * 25.4)


def test_an_age_that_no_clock_can_say_is_none_and_the_message_is_still_json():
    view = bench_view("0.1", age_s=float("nan"))
    assert told(view)["age_s"] is None
    assert json.loads(encoded(told(view)))["digits"] is None


def test_withheld_a_state_has_no_number_left_whatever_it_had():
    state = State(work="live", gauge="BENCH 3", view=told(at_rest("0.0125", "in")))
    said = withheld(state, "busy")
    text = encoded(state_message(said, 7, may_act=True))
    assert "0.012" not in text
    assert "0.0125" in encoded(state_message(state, 7, may_act=True))
    assert said.view["notice"] == "busy"
    assert [said.view[each] for each in OF_THE_NUMBER] == [None] * len(OF_THE_NUMBER)
    assert said.view.keys() == state.view.keys()
    assert withheld(State(work="job"), "busy") == State(work="job")


def test_every_message_has_its_version_and_kind():
    state = state_message(State(work="job", gauges=("A", "B"), gauge="B"), 3, may_act=False)
    assert (state["v"], state["kind"], state["n"], state["may_act"]) == (1, "state", 3, False)
    assert (state["gauges"], state["gauge"]) == (["A", "B"], "B")
    assert refused("why", "capture") == {"v": 1, "kind": "refused", "why": "why", "did": "capture"}


def wish(**fields):
    return wish_from(json.dumps({"v": 1, "do": "capture", **fields}))


def test_a_wish_is_understood_with_everything_that_goes_with_it():
    said = wish(do="skip", reason="  seized ", by="M. Rode", figures=["36.5", "-2"], n=12)
    assert (said.do, said.reason, said.by, said.n) == ("skip", "seized", "M. Rode", 12)
    assert said.numbers == (Decimal("36.5"), Decimal("-2"))


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"v": 2}, "another version"),
        ({"v": "1"}, "another version"),
        ({"do": "delete"}, "not in the form of this page"),
        ({"more": 1}, "not in the form of this page"),
        ({"figures": ["1e5"]}, "plain number"),
        ({"figures": ["NaN"]}, "plain number"),
        ({"figures": [36.5]}, "plain number"),
        ({"figures": ["1", "2", "3", "4", "5"]}, "plain number"),
        ({"reason": "x" * 401}, "'reason'"),
        ({"reason": 5}, "'reason'"),
        ({"reason": "a\nb"}, "cannot be printed"),
        ({"by": "\u202eevil"}, "cannot be printed"),
        ({"uid": "../../etc"}, "'uid'"),
        ({"n": -1}, "'n'"),
        ({"n": True}, "'n'"),
    ],
)
def test_what_is_not_in_the_form_is_refused_with_the_reason(fields, words):
    with pytest.raises(MessageError, match=words):
        wish(**fields)


@pytest.mark.parametrize("text", ["", "[]", "null", "{", '{"v":1}', "\ud800", b"\xff\xfe", '"go"'])
def test_what_is_no_message_is_refused(text):
    with pytest.raises(MessageError):
        wish_from(text)


def test_a_message_of_too_many_bytes_is_refused_before_it_is_read():
    text = json.dumps({"v": 1, "do": "capture"})
    assert wish_from(text + " " * (MOST_BYTES - len(text))).do == "capture"
    with pytest.raises(MessageError, match="2048 bytes"):
        wish_from(text + " " * (MOST_BYTES + 1 - len(text)))


@given(st.one_of(st.text(max_size=300), st.binary(max_size=300)))
def test_whatever_is_sent_nothing_but_a_refusal_comes_of_it(sent):
    with pytest.raises(MessageError) as refusal:
        wish_from(sent)
    assert len(str(refusal.value)) < 300


ANYTHING = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=20),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner),
    max_leaves=8,
)
FIELDS = ("v", "do", "reason", "by", "figures", "target", "uid", "gauge", "n", "x")


@given(st.dictionaries(st.sampled_from(FIELDS), ANYTHING))
def test_whatever_stands_in_the_fields_it_is_a_wish_or_a_refusal_that_repeats_nothing(fields):
    marked = {**fields, "reason": "<script>\u0000"}
    with pytest.raises(MessageError) as refusal:
        wish_from(json.dumps({"v": 1, "do": "go", **marked}))
    assert "script" not in str(refusal.value)
    try:
        found = wish_from(json.dumps({"v": 1, "do": "capture", **fields}))
    except MessageError:
        return
    assert found.v == 1
    assert len(found.figures) <= 4

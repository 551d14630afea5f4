"""Records: exact digits, strict fields, mistakes refused, every version read, nothing dropped."""

import json
import math
from datetime import UTC, datetime, timedelta, timezone
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from daq.logbook import (
    Capture,
    CapturedGauge,
    CapturedReading,
    CapturedSpec,
    CapturedVerdict,
    UnknownRecord,
    exact,
    new_uid,
)
from daq.logbook.canonical import canonical
from daq.logbook.fields import number_shown, time_text
from daq.logbook.records import body_of, record_from

LENGTHS = st.decimals("-9999.9999", "9999.9999", places=4)
WORDS = st.text(st.characters(exclude_categories=["Cs"]), max_size=20)


@st.composite
def fields(draw):
    """What a capture may say: any length, words and number of readings; without a spec."""
    value, count = draw(LENGTHS), draw(st.integers(1, 5))
    start = draw(st.floats(0, 1e9))
    times = sorted(start + draw(st.floats(0, 10)) for _ in range(count))
    return {
        "operator": draw(WORDS),
        "station": draw(WORDS),
        "note": draw(WORDS),
        "at": draw(st.datetimes(timezones=st.timezones(), min_value=datetime(1971, 1, 1))),
        "spec": None,
        "deviation_mm": None,
        "verdict": None,
        "value_mm": value,
        "u_mm": draw(st.decimals("0.00001", "9", places=5)),
        "n": count,
        "span_readings": count,
        "readings": tuple(
            CapturedReading(t_s=t, text=str(value), unit="mm", status=("held",)) for t in times
        ),
        "frames": (draw(st.binary(min_size=1, max_size=20)).hex(),) * count,
        "since_s": times[0],
        "until_s": times[-1],
        "monotonic_s": times[-1],
    }


def test_lengths_stand_in_the_record_as_text_with_every_digit(capture):
    said = json.loads(body_of(capture(value_mm=Decimal("12.3400"), u_mm=Decimal("0.00120"))))
    assert said["value_mm"] == "12.3400"
    assert said["u_mm"] == "0.00120"
    assert said["spec"]["lower_mm"] == "-0.100"
    assert said["readings"][0]["text"] == "+0012.339"


def test_no_number_in_a_record_is_a_length(capture):
    """A JSON number passes through float64 in most readers; times and counts may, lengths not."""
    said = json.loads(body_of(capture()))
    numbers = {name for name, value in said.items() if isinstance(value, int | float)}
    assert numbers == {
        "format",
        "monotonic_s",
        "n",
        "rest_seen",
        "since_s",
        "until_s",
        "span_readings",
        "bad_frames",
    }


@given(fields())
def test_a_record_reads_back_equal_and_is_written_again_byte_for_byte(capture, changes):
    record = capture(**changes)
    body = body_of(record)
    assert body == canonical(record.model_dump(mode="json"))
    again = record_from(body.decode())
    assert again == record
    assert body_of(again) == body


def test_a_time_is_kept_in_utc_with_six_decimals_whatever_zone_it_came_in(capture):
    east = timezone(timedelta(hours=5, minutes=30))
    at = datetime(2026, 3, 1, 13, 45, 30, tzinfo=east)
    said = json.loads(body_of(capture(at=at)))
    assert said["at"] == time_text(at) == "2026-03-01T08:15:30.000000Z"


def test_a_time_of_a_derived_type_is_kept_as_a_time_not_as_a_day(capture):
    class Stamp(datetime):
        pass

    said = json.loads(body_of(capture(at=Stamp(2026, 3, 1, 8, 15, 30, tzinfo=UTC))))
    assert said["at"] == "2026-03-01T08:15:30.000000Z"


SPEC = CapturedSpec(
    name="rack length",
    nominal_mm=Decimal("12.300"),
    lower_mm=Decimal("-0.100"),
    upper_mm=Decimal("0.100"),
    unit="mm",
    source="",
)
INCH_READING = CapturedReading(t_s=100.1, text="0.5", unit="in", status=())
MISTAKES = [
    ({"value_mm": 12.34}, "a float is not exact"),
    ({"value_mm": 12}, "a int is not exact"),
    ({"value_mm": Decimal("NaN")}, "not a finite number"),
    ({"u_mm": Decimal("Infinity")}, "not a finite number"),
    ({"value_mm": Decimal("1e40")}, "more than 30 places"),
    ({"value_mm": "12,34"}, "not a decimal"),
    ({"value_mm": "1e1"}, "not a decimal"),
    ({"value_mm": Decimal("13.340"), "deviation_mm": Decimal("1.040")}, "the readings lie in"),
    ({"value_mm": Decimal("0.486"), "deviation_mm": Decimal("-11.814")}, "the readings lie in"),
    ({"deviation_mm": Decimal("-0.040")}, "deviation_mm is -0.040, but"),
    ({"deviation_mm": None}, "a spec, but no deviation"),
    ({"spec": None}, "needs the spec"),
    ({"u_mm": Decimal("0")}, "an uncertainty is above 0"),
    ({"resolution_mm": Decimal("0")}, "a resolution is above 0"),
    ({"n": 0}, "greater than or equal to 1"),
    ({"rest_seen": False}, "n is 3, but no rest was seen"),
    ({"span_readings": 4}, "3 readings are kept of the 4 in the span, where 4 are due"),
    ({"span_readings": 2}, "3 readings are kept of the 2 in the span, where 2 are due"),
    ({"span_readings": 501}, "where 500 are due"),
    ({"readings": (), "frames": ()}, "at least 1 item"),
    ({"frames": ("2b",)}, "1 frames, but 3 readings"),
    ({"frames": ("2B", "2b", "2b")}, "should match pattern"),
    ({"frames": ("2b3", "2b", "2b")}, "should match pattern"),
    ({"unit_shown": "in"}, "unit_shown is in"),
    ({"since_s": 100.05}, "lies outside"),
    ({"until_s": 100.1}, "lies outside"),
    ({"since_s": 103.0, "until_s": 102.0}, "lies outside"),
    ({"monotonic_s": 99.0}, "earlier than the readings"),
    ({"monotonic_s": math.nan}, "finite number"),
    ({"at": datetime(2026, 3, 1)}, "time zone"),
    ({"at": "2026-03-01T08:15:30Z"}, "not a time such as"),
    ({"bad_frames": -1}, "greater than or equal to 0"),
    ({"bad_frames": True}, "valid integer"),
    ({"uid": "17"}, "should match pattern"),
    ({"trigger": "by magic"}, "'settled', 'data key' or 'key'"),
    ({"colour": "red"}, "Extra inputs"),
]


@pytest.mark.parametrize(("changes", "message"), MISTAKES, ids=lambda case: str(case)[:60])
def test_a_mistake_is_refused_with_its_reason(capture, changes, message):
    with pytest.raises(ValidationError, match=message):
        capture(**changes)


@pytest.mark.parametrize(
    ("outcome", "deviation"),
    [("in", "0.101"), ("in", "-0.101"), ("low", "0.050"), ("high", "-0.050"), ("high", "0")],
)
def test_a_verdict_its_own_deviation_contradicts_is_refused(capture, outcome, deviation):
    with pytest.raises(ValidationError, match=f"the verdict is '{outcome}'"):
        judged(capture, outcome, deviation)


@pytest.mark.parametrize(
    ("outcome", "deviation"),
    [
        ("in", "0.100"),
        ("in", "-0.100"),
        ("low", "-0.099"),
        ("high", "0.101"),
        ("too close to call", "0.099"),
        ("too close to call", "0.101"),
    ],
)
def test_a_verdict_some_rule_could_give_is_kept(capture, outcome, deviation):
    assert judged(capture, outcome, deviation).verdict.outcome == outcome


def judged(capture, outcome, deviation):
    value = SPEC.nominal_mm + Decimal(deviation)
    return capture(
        value_mm=value,
        deviation_mm=Decimal(deviation),
        verdict=CapturedVerdict(outcome=outcome, rule="some rule", guard_mm=Decimal("0.001")),
        readings=tuple(
            CapturedReading(t_s=t, text=str(value), unit="mm", status=())
            for t in (100.0, 100.1, 100.2)
        ),
    )


def one_sided(lower, upper):
    """A spec with a limit on one side only."""
    return CapturedSpec(
        **(SPEC.model_dump() | {"lower_mm": lower and Decimal(lower), "upper_mm": upper})
    )


@pytest.mark.parametrize(("outcome", "held"), [("in", True), ("high", True), ("low", False)])
def test_a_side_without_a_limit_is_never_too_far(capture, outcome, held):
    verdict = CapturedVerdict(outcome=outcome, rule="some rule", guard_mm=None)
    spec = one_sided(None, Decimal("0.040"))
    if held:
        assert capture(spec=spec, verdict=verdict).verdict == verdict
    else:
        with pytest.raises(ValidationError, match="the verdict is 'low'"):
            capture(spec=spec, verdict=verdict)


def test_a_spec_without_any_limit_is_refused():
    with pytest.raises(ValidationError, match="no limit at all"):
        one_sided(None, None)


def test_a_mean_may_lie_outside_the_newest_readings_if_older_ones_are_not_kept(capture):
    whole = capture()
    times = [100.0 + i / 5000 for i in range(500)]
    newest = {
        "readings": tuple(whole.readings[0].model_copy(update={"t_s": t}) for t in times),
        "frames": (whole.frames[0],) * 500,
        "value_mm": Decimal("12.345"),
        "deviation_mm": Decimal("0.045"),
    }
    assert capture(**newest, span_readings=501).value_mm == Decimal("12.345")
    with pytest.raises(ValidationError, match="the readings lie in"):
        capture(**newest, span_readings=500)


def test_a_rounded_mean_may_lie_a_display_step_beside_its_readings(capture):
    kept = capture(value_mm=Decimal("12.3405"), deviation_mm=Decimal("0.0405"))
    assert kept.value_mm == Decimal("12.3405")


def test_float_noise_in_a_deviation_is_not_a_mistake(capture):
    assert capture(deviation_mm=Decimal("0.03999999999999915")).deviation_mm > 0


def test_readings_whose_times_run_backwards_are_refused(capture):
    whole = capture()
    with pytest.raises(ValidationError, match="run backwards"):
        capture(readings=(whole.readings[0], whole.readings[2], whole.readings[1]))


def test_readings_in_two_units_are_refused(capture):
    whole = capture()
    with pytest.raises(ValidationError, match="the readings are in"):
        capture(readings=(whole.readings[0], INCH_READING, whole.readings[2]))


def test_limits_the_wrong_way_round_are_refused():
    with pytest.raises(ValidationError, match="must be below"):
        CapturedSpec(**(SPEC.model_dump() | {"lower_mm": Decimal("0.1")}))


def test_an_inch_reading_is_taken_at_25_4_exactly():
    assert INCH_READING.value_mm == Decimal("12.7")


@pytest.mark.parametrize(
    ("text", "number"),
    [
        ("+0012.345", "12.345"),
        ("-0.000", "0"),
        ("   12.3 ", "12.3"),
        ("+  12.3", "12.3"),
        ("-8.9456E2", "-894.56"),
        (".5", "0.5"),
        ("12.", "12"),
    ],
)
def test_a_number_is_read_as_gauges_send_it(text, number):
    assert number_shown(text) == Decimal(number)


@pytest.mark.parametrize(
    "text", ["", " ", "Err", "nan", "inf", "12,345", "1_000", "1 2", "--1", "١٢", "1e9999", "+."]
)
def test_what_is_no_number_is_not_taken_for_one(text):
    with pytest.raises(ValueError, match="is not a number"):
        number_shown(text)
    with pytest.raises(ValidationError, match="is not a number"):
        CapturedReading(t_s=0.0, text=text, unit="mm", status=())


@given(st.floats(allow_nan=False, allow_infinity=False, min_value=-1e12, max_value=1e12))
def test_a_computed_length_becomes_the_shortest_decimal_that_reads_back(value):
    if value == 0 or abs(value) > 1e-12:
        assert float(exact(value)) == value


def test_a_computed_length_keeps_no_more_digits_than_it_has():
    assert str(exact(0.1 + 0.2)) == "0.30000000000000004"
    assert str(exact(12.345)) == "12.345"


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_a_computed_length_that_is_no_number_is_refused(value):
    with pytest.raises(ValueError, match="not a finite number"):
        exact(value)


def test_a_name_with_undecodable_bytes_does_not_stop_a_capture(capture):
    port = b"gauge \xff".decode("utf-8", "surrogateescape")
    kept = capture(gauge=CapturedGauge(label="", profile="p", identity="", port=port))
    assert record_from(body_of(kept).decode()).gauge.port == "gauge \\udcff"


def test_a_withdrawal_must_say_what_it_takes_back(note):
    assert note(purpose="withdrawal", about=new_uid()).about is not None
    with pytest.raises(ValidationError, match="must say which record"):
        note(purpose="withdrawal")


@pytest.mark.parametrize(
    ("change", "why"),
    [
        ({"kind": "audit"}, "knows no 'audit' of format 1"),
        ({"format": 2}, "knows no 'capture' of format 2"),
        ({"value_mm": 12.34}, "value_mm: Value error, a float is not exact"),
        ({"n": None}, "n: Input should be a valid integer"),
        ({"colour": "red"}, "colour: Extra inputs"),
    ],
)
def test_a_record_that_cannot_be_read_is_kept_with_the_reason(capture, change, why):
    body = json.dumps(json.loads(body_of(capture())) | change)
    kept = record_from(body)
    assert isinstance(kept, UnknownRecord)
    assert kept.body == body
    assert kept.at == "2026-03-01T08:15:30.250000Z"
    assert why in kept.why


def test_a_field_that_is_missing_is_not_filled_in(capture):
    whole = json.loads(body_of(capture()))
    for name in whole:
        kept = record_from(json.dumps({key: whole[key] for key in whole if key != name}))
        assert isinstance(kept, UnknownRecord), name


@given(st.text() | st.recursive(st.none() | st.text(), st.lists).map(json.dumps))
def test_no_body_makes_the_reader_raise(body):
    assert isinstance(record_from(body), UnknownRecord)


@pytest.mark.parametrize(
    "body",
    [
        "[" * 100_000,
        '{"format":' + "9" * 5000 + "}",
        '{"kind":"\\ud800","format":1}',
        '{"kind":NaN}',
        '{"kind":"note","format":[1]}',
        '{"kind":["note"],"format":1}',
        '{"kind":"note","format":true}',
    ],
    ids=["deep", "long number", "lone surrogate", "NaN", "format list", "kind list", "format bool"],
)
def test_a_hostile_body_is_kept_as_unknown_and_can_be_shown(body):
    kept = record_from(body)
    assert isinstance(kept, UnknownRecord)
    f"{kept.kind} {kept.why}".encode()


def test_a_record_cannot_be_changed_once_made(capture):
    with pytest.raises(ValidationError, match="frozen"):
        capture().value_mm = Decimal("1")


def test_the_json_schema_of_a_record_asks_for_lengths_as_text():
    length = Capture.model_json_schema()["properties"]["value_mm"]
    assert length["type"] == "string"

"""A register file: read whole, or refused with every mistake at its line."""

import hashlib
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from daq.calibration.errors import CalibrationError, RegisterError
from daq.calibration.register_file import register_from_bytes
from tests.daq.calibration.planted import VALUES, Mistake, with_mistakes

BASE = (Path(__file__).parent / "register.toml").read_text("utf-8")
LINES = BASE.split("\n")

MISTAKES = [
    Mistake(
        'kind = "block set"',
        'kind = "blocks"',
        'standards.1.kind: "blocks" is not one of "block set", "bench" or "flat"',
    ),
    Mistake(
        'certificate = "INV-2026-014"',
        'certificat = "INV-2026-014"',
        'standards.1.certificat: unknown name; did you mean "certificate"?',
        alone=True,  # the missing name is told as well
    ),
    Mistake(
        "u_expansion = 0.6",
        "u_expansion = true",
        "standards.1.u_expansion: True is no plain number such as 11.5",
    ),
    Mistake(
        'drift_per_year = "0.00002 mm"',
        'drift_per_year = "0.00002"',
        "standards.1.drift_per_year: '0.00002' has no unit; write 0.00002 mm or 0.00002 in",
    ),
    Mistake(
        "due = 2028-01-10",
        'due = "10.1.2028"',
        "standards.1.due: '10.1.2028' is no date; write year, month, day, such as 2027-05-31",
    ),
    Mistake(
        'length = "1.99998 mm"',
        'length = "19.9998 mm"',
        "standards.1.values.2.length: it is 17.9998 mm from its nominal 2 mm; check both",
    ),
    Mistake(
        'expanded_u = "0.00008 mm"',
        'expanded_u = "0 mm"',
        'standards.1.values.3.expanded_u: "0 mm" must be above zero',
    ),
    Mistake(
        'nominal = "2 mm", length = "1.99998 mm"',
        'nominal = "1 mm", length = "0.99998 mm"',
        "standards.1.values.2.nominal: 1 mm stands twice; take one out",
        alone=True,  # a rule over one table, which others' mistakes in it hide
    ),
    Mistake(
        "due = 2027-02-01",
        "due = 2026-02-01",
        "standards.2.due: 2026-02-01 is not after 2026-02-01, the first day; check both",
    ),
    Mistake(
        'id = "bench"',
        'id = "blocks-1"  # again',
        'standards.2.id: "blocks-1" stands twice; give each a name of its own',
        alone=True,
    ),
    Mistake(
        "k = 2.1",
        "k = 21",
        "standards.2.values.2.k: a coverage factor of 21 is none; certificates mostly have 2",
        alone=True,
    ),
    Mistake(
        'range = "12.7 mm"',
        'range = "12,7 mm"',
        "gauges.1.range: '12,7 mm' has a decimal comma; use a point: 12.7 mm",
    ),
    Mistake(
        'hysteresis = "0.003 mm"',
        'hysterisis = "0.003 mm"',
        'gauges.1.limits.hysterisis: unknown name; did you mean "hysteresis"?',
    ),
    Mistake(
        "least = 6",
        "least = 18",
        "gauges.1.interval.months: 12 is not from least, 18, to most, 24; check them",
        at="months = 12",
    ),
    Mistake(
        'over_range = "0.03 mm"',
        'over_range = "0.003 mm"',
        "gauges.2.limits.over_range: 0.003 mm is less than the display step (0.01 mm), and no "
        "reading could show it kept",
    ),
    Mistake(
        'zero = "fixed"',
        'zero = "fixed"\npartial = "5 mm"',
        'gauges.2.limits.over_partial: is missing; add the limit: over_partial = "…"',
        at="# of the second",
        alone=True,
    ),
    Mistake(
        'label = "DG-2"',
        'label = "DI-7"  # again',
        'gauges.2.label: "DI-7" stands twice; give each a name of its own',
        alone=True,
    ),
    Mistake(
        'label = "DG-2"',
        'label = "DG-2"\nidentity = "A7"',
        'gauges.2.identity: "A7" is no adapter\'s; write it as restpoint find prints it: usb:…',
        at='identity = "A7"',
        alone=True,
    ),
    Mistake(
        'label = "DG-2"',
        'label = "DG-2"\nidentity = "usb:1209:0001:A7"  # again',
        'gauges.2.identity: "usb:1209:0001:A7" stands twice; an adapter serves one gauge, so check '
        "which",
        alone=True,
    ),
]  # fmt: skip


def problems_of(text):
    try:
        register_from_bytes(text.encode(), "r.toml")
    except RegisterError as error:
        return list(error.problems)
    return []


def test_a_sound_register_is_read_whole():
    register = register_from_bytes(BASE.encode(), "r.toml")
    assert [each.id for each in register.standards] == ["blocks-1", "bench"]
    assert register.standard("blocks-1").due == date(2028, 1, 10)
    assert register.gauge("DI-7").range_mm == Decimal("12.7")
    assert register.gauge("DI-7").interval.kind == "reactive"
    assert register.fingerprint == hashlib.sha256(BASE.encode()).hexdigest()
    assert register.text == BASE


@pytest.mark.parametrize("mistake", MISTAKES, ids=lambda mistake: mistake.told[:45])
def test_a_mistake_alone_is_told_at_its_line_with_what_would_be_right(mistake):
    text = with_mistakes(BASE, [mistake])
    told = problems_of(text)
    assert f"r.toml:{mistake.line_in(text)}: {mistake.told}" in told
    assert len(told) == (2 if "certificat:" in mistake.told else 1)


def test_mistakes_all_in_one_file_are_told_at_once_in_the_order_of_the_lines():
    together = [each for each in MISTAKES if not each.alone]
    assert len(together) >= 10
    text = with_mistakes(BASE, together)
    told = problems_of(text)
    assert set(told) == {f"r.toml:{each.line_in(text)}: {each.told}" for each in together}
    lines = [int(problem.split(":")[1]) for problem in told]
    assert lines == sorted(lines)


def test_a_mistake_in_one_table_does_not_hide_a_name_that_stands_twice_in_two_others():
    text = BASE.replace("expansion = 11.5", "expansion = true")
    text = text.replace('label = "DG-2"', 'label = "DI-7"')
    assert [problem.split(": ")[1] for problem in problems_of(text)] == [
        "standards.1.expansion",
        "gauges.2.label",
    ]


def test_an_unknown_name_is_answered_with_what_may_have_been_meant():
    register = register_from_bytes(BASE.encode(), "r.toml")
    with pytest.raises(RegisterError, match="no standard 'block-1'; did you mean \"blocks-1\""):
        register.standard("block-1")
    with pytest.raises(RegisterError, match=r"no gauge 'X'; there are: DI-7, DG-2"):
        register.gauge("X")


def test_a_gauge_is_known_by_its_adapter_and_no_adapter_is_no_gauge():
    register = register_from_bytes(BASE.encode(), "r.toml")
    assert register.gauge_by_identity("usb:1209:0001:A7").label == "DI-7"
    assert register.gauge_by_identity("usb:1209:0001:A8") is None
    assert register.gauge_by_identity("") is None


def test_a_file_with_nothing_in_it_is_no_register():
    assert problems_of("") == [
        "r.toml:1: standards: there is nothing in it; add [[standards]] or [[gauges]]"
    ]


def test_an_editor_s_mark_before_the_text_does_no_harm():
    assert register_from_bytes(b"\xef\xbb\xbf" + BASE.encode(), "r.toml").text == BASE


def test_a_file_that_is_far_too_large_is_refused_unread():
    with pytest.raises(RegisterError, match="far too large"):
        register_from_bytes(b"#" * 600_000, "r.toml")


@settings(deadline=None, max_examples=50)
@given(st.text())
def test_no_text_at_all_breaks_it(text):
    last = len(text.split("\n"))
    for problem in problems_of(text):
        assert 1 <= int(problem.split(":")[1]) <= last


@settings(deadline=None, max_examples=50)
@given(st.binary(max_size=200))
def test_no_bytes_at_all_break_it(raw):
    with pytest.raises(CalibrationError):
        register_from_bytes(raw, "r.toml")


@settings(deadline=None, max_examples=80)
@given(st.data())
def test_no_value_in_the_wrong_place_breaks_it(data):
    lines = list(LINES)
    settable = [number for number, line in enumerate(lines) if " = " in line]
    for number in data.draw(st.lists(st.sampled_from(settable), min_size=1, max_size=4)):
        key = lines[number].partition(" = ")[0]
        lines[number] = f"{key} = {data.draw(st.sampled_from(VALUES))}"
    for problem in problems_of("\n".join(lines)):
        assert 1 <= int(problem.split(":")[1]) <= len(lines)

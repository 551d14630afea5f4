"""A session keeps what has come to rest, and refuses everything that could be wrong."""

from decimal import Decimal
from itertools import pairwise

import pytest

from daq.measure.events import AtRest, Captured, Moved, Refused
from daq.measure.session import Session
from daq.spec import Outcome, SimpleAcceptance, Spec
from drivers.profiles import load_profile
from drivers.reading import BadFrame, NoNumber, Reading, Shown, Status, Unit


def test_a_steady_reading_comes_to_rest_once_with_its_verdict(fed):
    rests = [e for _ in range(60) for e in fed.shows("12.345") if isinstance(e, AtRest)]
    assert len(rests) == 1
    assert rests[0].value_mm == pytest.approx(12.345)
    assert rests[0].verdict.outcome is Outcome.IN
    assert float(rests[0].verdict.deviation_mm) == pytest.approx(0.045)


def test_the_uncertainty_of_constant_digits_is_the_display_step_over_root_12(fed):
    """JCGM 100:2008, F.2.2.1: a step of width d alone gives u = d/sqrt(12)."""
    fed.shows("12.345", times=60)
    assert fed.session.rest.u_mm == pytest.approx(0.001 / 12**0.5, rel=0.05)


def test_a_capture_holds_every_reading_of_the_settled_span(fed):
    fed.shows("12.345", times=60)
    captured = fed.captures()
    assert isinstance(captured, Captured)
    rest = captured.rest
    assert captured.readings[0].t_s >= rest.since_s
    assert captured.readings[-1].t_s <= rest.until_s
    assert len(captured.readings) == rest.n
    assert all(str(r.value) == "12.345" for r in captured.readings)
    assert all(r.raw == b"+0012.345 mm\r\n" for r in captured.readings)


def test_nothing_is_captured_while_the_part_moves(fed):
    for hundredths in range(1230, 1300):
        fed.shows(f"{hundredths / 100:.3f}")
    assert fed.captures() == Refused("the reading is still moving; hold still until it rests")


def test_leaving_a_rest_is_an_event_and_ends_it(fed):
    fed.shows("12.345", times=60)
    events = [e for n in range(8) for e in fed.shows(f"12.{400 + 9 * n}")]
    assert any(isinstance(e, Moved) for e in events)
    assert fed.session.rest is None


def test_a_reading_older_than_half_a_second_is_not_captured(fed):
    fed.shows("12.345", times=60)
    assert isinstance(fed.captures(after_s=0.45), Captured)
    refused = fed.captures(after_s=0.55)
    assert isinstance(refused, Refused)
    assert "is 0.6 s old" in refused.reason or "is 0.5 s old" in refused.reason


def test_after_a_change_of_unit_nothing_is_captured_until_it_is_put_right(fed):
    fed.shows("12.345", times=60)
    fed.shows("0.48600", Unit.INCH, times=60)
    refused = fed.captures()
    assert isinstance(refused, Refused)
    assert "changed from mm to in" in refused.reason
    fed.shows("12.345", times=60)
    assert isinstance(fed.captures(), Captured)


def test_a_new_unit_may_be_confirmed_and_reads_as_the_same_length(fed):
    fed.shows("12.345", times=60)
    fed.shows("0.48600", Unit.INCH, times=60)
    fed.session.confirm()
    captured = fed.captures()
    assert captured.rest.value_mm == pytest.approx(0.486 * 25.4)
    fed.shows("12.345", times=60)
    assert "changed from in to mm" in fed.captures().reason


def test_readings_of_two_units_are_never_averaged(fed):
    fed.shows("12.345", times=30)
    fed.shows("0.48600", Unit.INCH, times=60)
    fed.session.confirm()
    assert {r.unit for r in fed.captures().readings} == {Unit.INCH}


def test_a_jump_by_25_4_is_suspected_where_the_frame_has_no_unit(feed):
    fed = feed("counts-sum")
    fed.shows("12.7000", times=60)
    fed.shows("0.5000", times=60)
    refused = fed.captures()
    assert "factor of 25.4" in refused.reason
    fed.session.confirm()
    assert isinstance(fed.captures(), Captured)


@pytest.mark.parametrize(
    ("status", "words"),
    [(Status.BATTERY_LOW, "battery low"), (Status.HELD, "held")],
)
def test_a_gauge_that_reports_trouble_is_not_captured(fed_fields, status, words):
    fed_fields.shows("12.3450", times=60)
    fed_fields.shows("12.3450", status=[status])
    refused = fed_fields.captures()
    assert isinstance(refused, Refused)
    assert words in refused.reason


def test_one_reading_with_trouble_spoils_the_span_it_is_in(fed_fields):
    fed_fields.shows("12.3450", times=60)
    fed_fields.shows("12.3450", status=[Status.BATTERY_LOW])
    fed_fields.shows("12.3450", times=3)
    assert "battery low" in fed_fields.captures().reason


def test_after_a_lost_origin_the_master_is_asked_for(fed_fields):
    fed_fields.shows("12.3450", status=[Status.ORIGIN_LOST])
    fed_fields.shows("12.3450", times=60)
    assert "check it on the master" in fed_fields.captures().reason


def test_a_unit_key_that_is_pressed_back_leaves_the_doubt_of_the_origin(fed_fields):
    """Each doubt is looked into by itself: one that passes takes no other with it."""
    fed_fields.shows("12.3450", status=[Status.ORIGIN_LOST])
    fed_fields.shows("0.48600", Unit.INCH, times=5)
    fed_fields.shows("12.3450", times=60)
    assert "check it on the master" in fed_fields.captures().reason
    fed_fields.session.confirm()
    assert isinstance(fed_fields.captures(), Captured)


def test_doubts_are_confirmed_one_by_one_the_oldest_first(fed_fields):
    fed_fields.shows("12.3450", status=[Status.ORIGIN_LOST])
    fed_fields.shows("0.48600", Unit.INCH, times=60)
    assert "check it on the master" in fed_fields.captures().reason
    fed_fields.session.confirm()
    assert "the display changed from mm to in:" in fed_fields.captures().reason
    fed_fields.session.confirm()
    assert isinstance(fed_fields.captures(), Captured)


def test_overspeed_asks_for_the_master_even_when_numbers_come_again(feed):
    fed = feed("marked-crc")
    fed.shows("1.0000")
    fed.shows(None, status=[Status.OVERSPEED])
    fed.shows("1.0000", times=60)
    assert "overspeed: its zero may have moved" in fed.captures().reason


def test_the_step_is_that_of_the_unit_shown(fed):
    fed.shows("12.345")
    assert fed.session.step_mm == Decimal("0.001")
    fed.shows("0.48600", Unit.INCH)
    assert fed.session.step_mm == Decimal("0.00127")


def test_an_error_display_ends_the_rest_and_is_no_reading(fed):
    fed.shows("12.345", times=60)
    events = fed.shows(None, status=[Status.ERROR])
    assert [type(e) for e in events] == [NoNumber, Moved]
    assert fed.session.shows_no_number
    assert isinstance(fed.captures(), Refused)


def test_bad_frames_are_counted_and_change_no_number(fed):
    fed.shows("12.345", times=60)
    before = fed.session.rest
    events = fed.sends(b"+0012.34 mm\r\n")
    assert isinstance(events[0], BadFrame)
    assert fed.session.bad_frames == 1
    assert fed.session.rest == before
    assert fed.captures().bad_frames == 1


def test_bad_frames_are_counted_since_the_last_capture_that_was_kept(fed):
    fed.shows("12.345", times=60)
    fed.sends(b"+0012.34 mm\r\n")
    captured = fed.captures()
    assert fed.captures().bad_frames == 1
    fed.session.kept(captured)
    assert fed.captures().bad_frames == 0
    assert not fed.session.is_new_rest


def test_a_frame_that_came_twice_counts_once(fed_fields):
    fed_fields.shows("12.3450", times=3)
    wire = fed_fields.session.reading.raw
    assert isinstance(fed_fields.sends(wire)[0], BadFrame)
    fed_fields.shows("12.3455")
    assert isinstance(fed_fields.events[0], Reading)


def test_readings_that_arrive_in_bunches_all_count_at_their_own_times(feed):
    """A USB adapter hands bytes over every 16 ms or so, whatever the gauge's rate."""
    fed = feed("counts-sum")
    fed.sends(fed.profile.encode(Shown(Decimal("1.0000"), sequence=0)))
    for bunch in range(1, 12):
        frames = (Shown(Decimal("1.0000"), sequence=(50 * bunch + n) % 256) for n in range(50))
        fed.sends(b"".join(map(fed.profile.encode, frames)))
    captured = fed.captures()
    times = [r.t_s for r in captured.readings]
    assert captured.rest.n == len(times) > 400
    assert all(0 < later - earlier < 0.005 for earlier, later in pairwise(times))
    assert fed.t_s - times[-1] < 0.1


def test_a_pulled_cable_ends_the_rest_and_forgets_half_a_frame(fed):
    fed.shows("12.345", times=60)
    fed.sends(b"+0012.3")
    events = fed.session.lost(fed.t_s)
    assert [type(e) for e in events] == [Moved]
    assert "cable is out" in fed.captures().reason
    fed.session.opened(fed.t_s)
    assert fed.sends(b"45 mm\r\n") == []
    fed.shows("12.345", times=60)
    assert isinstance(fed.captures(), Captured)


def test_a_press_of_the_data_key_is_one_reading_whose_rest_nobody_saw():
    session = Session(load_profile("marked-xor"), opened_t_s=0.0)
    wire = session.profile.samples[0].wire
    events = session.receive(wire, 1.0)
    assert [type(e) for e in events] == [Reading, AtRest]
    captured = session.capture(1.1, "data key")
    assert captured.rest.n == 1
    assert not captured.rest_seen
    assert captured.rest.value_mm == pytest.approx(12.34)
    assert captured.rest.u_mm == pytest.approx(0.01 / 12**0.5)


def test_nothing_is_captured_before_anything_came(spec):
    session = Session(load_profile("decimal-line"), spec, SimpleAcceptance())
    assert session.capture(1.0, "key") == Refused("nothing has come from the gauge yet")


def test_a_specification_without_a_rule_is_refused(spec):
    with pytest.raises(ValueError, match="decision rule"):
        Session(load_profile("decimal-line"), spec)


def test_what_matters_follows_from_the_limits(feed, spec):
    """Wide limits let a small drift pass that narrow ones do not."""
    wide = Spec.of("height", nominal="12.3 mm", limits="± 2 mm", source="sheet 1")
    rests = []
    for limits in (wide, spec):
        one = feed("decimal-line", limits)
        for n in range(80):
            one.shows(f"{12.3 + 0.003 * n:.3f}")
        rests.append(one.session.rest is not None)
    assert rests == [True, False]

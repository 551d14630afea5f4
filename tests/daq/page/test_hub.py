"""The hub: the newest state alone, for every screen; wishes in order, none too late."""

import json
import threading

import pytest

from daq.page.hub import (
    GONE_ON,
    LEAST_S,
    MOST_ANSWERS,
    MOST_SCREENS,
    MOST_WISHES,
    OLD_WISH_S,
    REPEAT_S,
    SILENT_S,
    WISHES_A_SECOND,
    Hub,
)
from daq.page.messages import State, bench_message
from tests.daq.screen.bench_views import bench_view


class Clock:
    def __init__(self):
        self.now_s = 100.0

    def __call__(self):
        return self.now_s

    def pass_(self, s):
        self.now_s += s


@pytest.fixture
def clock():
    return Clock()


@pytest.fixture
def hub(clock):
    return Hub(clock)


def state(deviation="0.010", place=("here",), **more):
    return State(work="live", view=bench_message(bench_view(deviation, **more)), place=place)


def publish(hub, clock, *states):
    for each in states:
        clock.pass_(LEAST_S + 0.001)
        hub.publish(each)


def joined(hub, may_act=True):
    screen = hub.join(lambda: None, may_act=may_act)
    assert screen is not None
    return screen


def heard(hub, screen, do="capture", **fields):
    hub.heard(screen, json.dumps({"v": 1, "do": do, **fields}))


def messages(hub, screen):
    return [json.loads(text) for text in hub.texts_for(screen)]


def newest(hub, screen):
    (message,) = messages(hub, screen)
    return message


def digits(message):
    return message["view"]["digits"].strip()


def test_a_screen_that_is_slow_gets_the_newest_state_alone(hub, clock):
    quick, slow = joined(hub), joined(hub)
    seen = []
    for number in range(50):
        publish(hub, clock, state(f"0.0{number:02}"))
        seen.append(digits(newest(hub, quick)))
    assert len(set(seen)) == 50
    assert digits(newest(hub, slow)) == "+0.049"
    assert hub.texts_for(slow) == []


def test_the_first_state_is_shown_however_soon_it_comes(hub):
    screen = joined(hub)
    hub.publish(state("0.001"))
    assert digits(newest(hub, screen)) == "+0.001"


def test_while_nobody_looks_a_state_is_wanted_ten_times_a_second_and_else_always(hub, clock):
    publish(hub, clock, state("0.001"))
    assert not hub.is_due()
    clock.pass_(1.01 * REPEAT_S)
    assert hub.is_due()
    hub.publish(state("0.002"))
    assert not hub.is_due()
    screen = joined(hub)
    assert hub.is_due()
    hub.leave(screen)
    assert not hub.is_due()


def test_states_are_numbered_upwards_and_are_the_same_for_all(hub, clock):
    one, two = joined(hub), joined(hub)
    publish(hub, clock, state("0.001"))
    first = newest(hub, one)
    assert newest(hub, two) == first
    publish(hub, clock, state("0.002"))
    assert newest(hub, one)["n"] > first["n"]


def test_who_may_act_is_told_so_and_who_may_only_look_too(hub, clock):
    hand, viewer = joined(hub), joined(hub, may_act=False)
    publish(hub, clock, state())
    assert newest(hub, hand)["may_act"] is True
    assert newest(hub, viewer)["may_act"] is False


def test_when_nothing_changes_but_ages_a_state_comes_again_within_200_ms(hub, clock):
    screen = joined(hub)
    publish(hub, clock, state(age_s=0.01))
    newest(hub, screen)
    clock.pass_(REPEAT_S * 0.51)
    hub.publish(state(age_s=0.06))
    assert hub.texts_for(screen) == []
    clock.pass_(REPEAT_S * 0.51)
    hub.publish(state(age_s=0.11))
    assert newest(hub, screen)["view"]["age_s"] == 0.11
    assert REPEAT_S <= 0.2


def test_a_loop_that_is_silent_takes_the_number_from_every_screen(hub, clock):
    """As while somebody types at the terminal: nobody reads the gauge, and states go on."""
    screen = joined(hub)
    publish(hub, clock, state())
    assert newest(hub, screen)["view"]["fresh"]
    clock.pass_(SILENT_S + 0.01)
    said = newest(hub, screen)["view"]
    assert (said["fresh"], said["digits"], said["can_capture"]) == (False, None, False)
    assert "busy" in said["notice"]
    clock.pass_(REPEAT_S + 0.001)
    assert newest(hub, screen)["view"]["digits"] is None
    hub.publish(state())
    assert digits(newest(hub, screen)) == "+0.010"


def test_a_wish_comes_to_the_loop_with_what_was_said(hub, clock):
    screen = joined(hub)
    publish(hub, clock, state())
    heard(hub, screen, "skip", reason="seized", by="M. Rode", n=newest(hub, screen)["n"])
    asking = hub.next_wish(("here",))
    assert (asking.wish.do, asking.wish.reason, asking.wish.by) == ("skip", "seized", "M. Rode")
    assert hub.next_wish(("here",)) is None


def test_a_viewer_is_refused_and_the_loop_never_hears_of_it(hub):
    screen = joined(hub, may_act=False)
    heard(hub, screen)
    assert hub.next_wish(()) is None
    assert messages(hub, screen)[0] == {
        "v": 1,
        "kind": "refused",
        "why": "This screen may only look on.",
        "did": "capture",
    }


def test_what_was_asked_of_another_place_is_refused(hub, clock):
    """Two screens press at the same task: the first press moves on, the second does nothing."""
    one, two = joined(hub), joined(hub)
    publish(hub, clock, state(place=("task", 1)))
    n = newest(hub, one)["n"]
    newest(hub, two)
    heard(hub, one, "go", n=n)
    heard(hub, two, "go", n=n)
    assert hub.next_wish(("task", 1)).screen is one
    assert hub.next_wish(("task", 2)) is None
    assert messages(hub, two)[0]["why"] == GONE_ON
    assert [each["kind"] for each in messages(hub, one)] == []


def test_a_later_state_of_the_same_place_may_be_answered(hub, clock):
    screen = joined(hub)
    publish(hub, clock, state("0.001"), state("0.002"), state("0.003"))
    n = newest(hub, screen)["n"]
    publish(hub, clock, state("0.004"))
    for number in (n, n - 1, 0):
        heard(hub, screen, n=number)
        assert hub.next_wish(("here",)) is not None
    for number in (n + 50, 1):
        heard(hub, screen, n=number)
        assert hub.next_wish(("here",)) is None
    assert [each["why"] for each in messages(hub, screen)[:2]] == [GONE_ON, GONE_ON]


def test_what_nobody_took_in_time_is_not_done(hub, clock):
    screen = joined(hub)
    heard(hub, screen)
    clock.pass_(OLD_WISH_S + 0.01)
    assert hub.next_wish(()) is None
    assert "busy" in messages(hub, screen)[0]["why"]


def test_what_a_screen_asked_for_goes_with_it(hub):
    stays, goes = joined(hub), joined(hub)
    heard(hub, goes)
    heard(hub, stays, "confirm")
    hub.leave(goes)
    assert hub.next_wish(()).wish.do == "confirm"
    assert hub.next_wish(()) is None


def test_malformed_messages_are_answered_and_never_raise(hub):
    screen = joined(hub)
    hub.heard(screen, "{")
    hub.heard(screen, b"\xff")
    assert [each["kind"] for each in messages(hub, screen)[:2]] == ["refused", "refused"]


def test_a_flood_is_refused_and_stops_nobody_else(hub, clock):
    loud, calm = joined(hub), joined(hub)
    for _ in range(1000):
        heard(hub, loud)
    taken = 0
    while hub.next_wish(()) is not None:
        taken += 1
    assert taken == MOST_WISHES
    heard(hub, calm)
    assert hub.next_wish(()).screen is calm
    answers = messages(hub, loud)[:-1]
    assert len(answers) == MOST_ANSWERS
    assert "too often" in answers[-1]["why"]
    clock.pass_(1.0)
    for _ in range(WISHES_A_SECOND // 2):
        heard(hub, loud)
    assert hub.next_wish(()) is not None


def test_there_are_so_many_screens_and_no_more(hub):
    screens = [joined(hub) for _ in range(MOST_SCREENS)]
    assert hub.join(lambda: None, may_act=True) is None
    hub.leave(screens[0])
    hub.leave(screens[0])
    assert hub.screens == MOST_SCREENS - 1
    assert hub.join(lambda: None, may_act=True) is not None


def test_at_the_end_every_screen_is_told_why_and_then_no_more(hub, clock):
    screen = joined(hub)
    publish(hub, clock, state())
    hub.close("It has ended.")
    assert newest(hub, screen) == {"v": 1, "kind": "bye", "why": "It has ended."}
    assert screen.is_over


def test_every_screen_is_woken_by_news_and_one_that_has_ended_stops_nobody(hub, clock):
    woken = threading.Event()

    def ended():
        raise RuntimeError("its loop is closed")

    assert hub.join(ended, may_act=True)
    assert hub.join(woken.set, may_act=True)
    publish(hub, clock, state())
    assert woken.is_set()


def test_states_that_follow_each_other_too_fast_are_passed_over_but_the_last_comes(hub, clock):
    screen = joined(hub)
    publish(hub, clock, state("0.001"))
    hub.publish(state("0.002"))
    assert digits(newest(hub, screen)) == "+0.001"
    clock.pass_(LEAST_S + 0.001)
    hub.publish(state("0.002"))
    assert digits(newest(hub, screen)) == "+0.002"

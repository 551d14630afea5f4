"""Screens of the page as a part of the loops: what they are shown, what comes of their wishes."""

import json

import pytest

from daq.cli.taking_part import Part, together, with_notice
from daq.jobs.task import Task
from daq.page.hub import LEAST_S, Hub
from daq.page.parts import JobPart, LivePart
from daq.screen.choosing import Choosing
from daq.screen.job_view import JobView
from tests.daq.screen.bench_views import bench_view


class Clock:
    now_s = 100.0

    def __call__(self):
        self.now_s += LEAST_S + 0.001
        return self.now_s


@pytest.fixture
def hub():
    return Hub(Clock())


@pytest.fixture
def screen(hub):
    return hub.join(lambda: None, may_act=True)


def state(hub, screen):
    return next(m for m in messages(hub, screen) if m["kind"] == "state")


def messages(hub, screen):
    return [json.loads(text) for text in hub.texts_for(screen)]


def ask(hub, screen, do, **fields):
    hub.heard(screen, json.dumps({"v": 1, "do": do, **fields}))


def test_of_several_gauges_a_screen_chooses_the_one_that_is_shown(hub, screen):
    choosing = Choosing(("BENCH 3", "BENCH 4"))
    part = LivePart(hub, choosing)
    part.show(bench_view("0.01"), 0.0)
    said = state(hub, screen)
    assert (said["work"], said["gauges"]) == ("live", ["BENCH 3", "BENCH 4"])
    assert said["gauge"] == "BENCH 3"
    ask(hub, screen, "choose", gauge="BENCH 4", n=said["n"])
    assert list(part.commands()) == []
    assert choosing.label == "BENCH 4"
    ask(hub, screen, "choose", gauge="BENCH 9")
    assert list(part.commands()) == []
    assert choosing.label == "BENCH 4"
    assert "no such gauge" in messages(hub, screen)[0]["why"]


def test_one_thing_a_turn_is_done_so_that_the_next_is_asked_of_what_can_be_seen(hub, screen):
    part = LivePart(hub, Choosing(("BENCH 3",)))
    part.show(bench_view("0.01", captured=3), 0.0)
    n = state(hub, screen)["n"]
    ask(hub, screen, "capture", n=n)
    ask(hub, screen, "capture", n=n)
    assert list(part.commands()) == ["capture"]
    part.show(bench_view("0.01", captured=4), 0.0)
    assert list(part.commands()) == []
    assert messages(hub, screen)[0]["kind"] == "refused"


def test_a_doubt_that_has_only_just_come_up_is_not_confirmed_by_an_earlier_press(hub, screen):
    part = LivePart(hub, Choosing(("BENCH 3",)))
    part.show(bench_view("0.01"), 0.0)
    n = state(hub, screen)["n"]
    part.show(bench_view("0.01", doubt="the origin is lost"), 0.0)
    ask(hub, screen, "confirm", n=n)
    assert list(part.commands()) == []
    ask(hub, screen, "confirm", n=state(hub, screen)["n"])
    assert list(part.commands()) == ["confirm"]


def test_a_press_for_a_task_that_is_over_does_nothing_to_the_next(hub, screen):
    part = JobPart(hub, ("G-1",), lambda view: {"title": view.title})
    task = Task(kind="confirm", title="Plate", words="Read it")
    view = JobView(kind="confirm", sign="plate", title="Plate", words="Read it")
    part.told(task)
    part.show(view, 0.0)
    said = state(hub, screen)
    assert (said["work"], said["job"], said["view"]) == ("job", {"title": "Plate"}, None)
    ask(hub, screen, "go", n=said["n"])
    ask(hub, screen, "go", n=said["n"])
    assert [each.kind for each in part.commands()] == ["go"]
    part.told(task)
    assert list(part.commands()) == []
    part.show(view, 0.0)
    ask(hub, screen, "go", n=state(hub, screen)["n"])
    assert [each.kind for each in part.commands()] == ["go"]


def test_a_page_that_fails_is_silent_says_so_and_stops_nothing(hub, screen):
    def fails(_view):
        raise ZeroDivisionError

    part = JobPart(hub, ("G-1",), fails)
    view = JobView(kind="confirm", sign="plate", title="Plate", words="Read it")
    seen = []
    own = Part(lambda shown, _: seen.append(shown.notice), lambda: iter(["go"]))
    every = together(
        Part(part.show, part.commands, part.told), with_notice(own, lambda: part.trouble)
    )
    every.show(view, 0.0)
    assert "ZeroDivisionError" in seen[-1]
    assert list(every.commands()) == ["go"]
    every.told(Task(kind="confirm", title="Plate", words="Read it"))
    every.show(view, 0.0)


def test_everybody_sees_everything_and_a_notice_of_the_work_is_not_covered():
    one, two = [], []
    every = together(
        with_notice(Part(lambda view, _: one.append(view.notice)), lambda: "the page is gone"),
        Part(lambda view, _: two.append(view.notice)),
    )
    every.show(bench_view("0.01"), 0.0)
    every.show(bench_view("0.01", notice="refused"), 0.0)
    assert (one, two) == (["the page is gone", "refused"], ["", "refused"])


def test_what_comes_after_an_answer_is_not_asked_for_before_it_can_be_seen():
    asked = []

    def commands(name):
        def ask():
            asked.append(name)
            yield name

        return ask

    every = together(*(Part(lambda *_: None, commands(name)) for name in ("one", "two")))
    assert next(iter(every.commands())) == "one"
    assert asked == ["one"]


def test_choosing_goes_round_and_knows_its_gauges():
    choosing = Choosing(("A", "B", "C"))
    seen = []
    for _ in range(4):
        seen.append(choosing.label)
        choosing.next()
    assert seen == ["A", "B", "C", "A"]
    assert not choosing.choose("D")
    assert choosing.choose("C")
    assert choosing.label == "C"

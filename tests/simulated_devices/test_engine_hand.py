"""The hand at an engine: it errs as it was told to, and no more."""

import math

from simulated_devices.engine_hand import EngineHand, Flaws


class Screws:
    """Remembers what was turned and tightened."""

    def __init__(self):
        self.turned, self.tightened = [], []

    def turn(self, place, turns):
        self.turned.append((place, turns))

    def loosen(self, place):
        pass

    def tighten(self, place, shifts_mm=0.0):
        self.tightened.append((place, shifts_mm))


def hand(**more):
    screws = Screws()
    return screws, EngineHand(screws, **more)


def test_it_turns_too_far_or_too_little_by_about_its_clumsiness():
    screws, clumsy = hand(clumsiness=0.1)
    gave = [clumsy.turn("a", 0.5) for _ in range(400)]
    assert gave == [turns for _, turns in screws.turned]
    shares = [turns / 0.5 for turns in gave]
    mean = sum(shares) / 400
    sd = math.sqrt(sum((each - mean) ** 2 for each in shares) / 399)
    assert abs(mean - 1) < 0.02  # 4 standard deviations of the mean
    assert 0.085 < sd < 0.115
    assert min(shares) > 0


def test_it_turns_the_wrong_way_as_often_as_was_said_and_only_there():
    _, wrong = hand(flaws=Flaws(wrong_way={"a": 2}))
    signs = [math.copysign(1, wrong.turn("a", 0.2)) for _ in range(4)]
    assert signs == [-1, -1, 1, 1]
    assert wrong.turn("b", -0.2) < 0


def test_a_nut_slips_once_and_shifts_a_little_afterwards():
    screws, slipping = hand(nut_mm=0.002, flaws=Flaws(slips_mm={"a": 0.03}))
    for place in ("b", "a", "a"):
        slipping.tighten(place)
    shifts = [shift for _, shift in screws.tightened]
    assert shifts[1] == 0.03
    assert 0 < max(abs(shifts[0]), abs(shifts[2])) < 0.01


def test_each_mistake_is_made_once_at_its_place():
    _, careless = hand(flaws=Flaws(mistakes=(("bumps", "a"), ("knocks", "b"))))
    assert not careless.does("bumps", "b")
    assert [careless.does("bumps", "a"), careless.does("bumps", "a")] == [True, False]
    assert careless.does("knocks", "b")


def test_the_same_seed_errs_alike():
    def errs(seed):
        screws, same = hand(seed=seed)
        same.turn("a", 1.0)
        same.tighten("a")
        return screws.turned, screws.tightened, same.misses_mm(), same.begins_after_s()

    assert errs(1) == errs(1) != errs(2)


def test_it_is_slow_to_begin():
    _, slow = hand(reaction_s=0.2)
    waits = [slow.begins_after_s() for _ in range(100)]
    assert 0.2 <= min(waits) < max(waits) <= 0.6

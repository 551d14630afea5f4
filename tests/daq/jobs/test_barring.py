"""Barring: never backwards, and no shorter way exists (every way is tried, for small engines)."""

import itertools
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from daq.jobs.barring import shortest_route

CYCLE = 720
ANGLES = st.sampled_from([0, 100, 260, 360, 610])
OPTIONS = st.lists(st.frozensets(ANGLES, min_size=1, max_size=3), min_size=1, max_size=5).map(
    lambda sets: dict(enumerate(sets))
)
STARTS = st.none() | st.integers(0, CYCLE - 1)


def route_for(options, start):
    exact = {thing: map(Fraction, places) for thing, places in options.items()}
    return shortest_route(exact, CYCLE, None if start is None else Fraction(start))


def every_way(options, start):
    """(degrees, visits) of every choice of angles in every order, barred forwards only."""
    angles = sorted(set().union(*options.values()))
    for size in range(1, len(angles) + 1):
        for visits in itertools.permutations(angles, size):
            if all(places & set(visits) for places in options.values()):
                here = visits[0] if start is None else start
                yield sum((b - a) % CYCLE for a, b in itertools.pairwise((here, *visits))), size


@given(OPTIONS, STARTS)
@settings(max_examples=80, deadline=None)
def test_no_other_way_is_shorter_or_as_short_with_fewer_stops(options, start):
    route = route_for(options, start)
    assert (route.total_deg, len(route.visits_deg)) == min(every_way(options, start))


@given(OPTIONS, STARTS)
def test_barring_is_never_backwards_and_leads_where_it_says(options, start):
    route = route_for(options, start)
    assert all(bar >= 0 for bar in route.bars_deg)
    assert all(bar > 0 for bar in route.bars_deg[1:])
    assert len(route.bars_deg) == len(route.visits_deg)
    here = route.visits_deg[0] if start is None else start
    for bar, there in zip(route.bars_deg, route.visits_deg, strict=True):
        here = (here + bar) % CYCLE
        assert here == there
    assert all(places & set(route.visits_deg) for places in options.values())
    assert route.total_deg < CYCLE


@pytest.mark.parametrize(
    ("places", "start", "visits", "total"),
    [
        ([0, 360], None, [0, 360], 360),
        ([0, 360], 0, [0, 360], 360),
        ([0, 360], 10, [360, 0], 710),
        ([0, 360], 300, [360, 0], 420),
        ([0, 90, 240], None, [0, 90, 240], 240),
        ([0, 90, 600], None, [600, 0, 90], 210),
        ([100], 100, [100], 0),
        ([100], 101, [100], 719),
    ],
)
def test_a_case_worked_by_hand(places, start, visits, total):
    route = route_for({place: [place] for place in places}, start)
    assert (list(route.visits_deg), route.total_deg) == (visits, total)


@pytest.mark.parametrize(
    ("options", "start", "visits"),
    [
        # One stop at 20 does for the first two.
        ({"a": [10, 20], "b": [20, 30], "c": [100]}, 0, [20, 100]),
        # 100° from 0 and from 360, but the one from 0 needs three stops.
        ({"a": [0, 360], "b": [100, 460], "c": [50, 460]}, None, [360, 460]),
    ],
)
def test_among_ways_of_the_same_length_the_one_with_fewer_stops_is_taken(options, start, visits):
    assert list(route_for(options, start).visits_deg) == visits


def test_nothing_to_do_needs_no_barring():
    assert shortest_route({}, CYCLE).visits_deg == ()


def test_what_can_be_done_nowhere_has_no_route():
    assert shortest_route({"a": [Fraction(0)], "b": []}, CYCLE) is None

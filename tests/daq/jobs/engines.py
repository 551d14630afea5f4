"""Invented engines for the tests: plain facts with what a test wants to be different."""

import pytest

from daq.jobs import Engine, EngineError, Item, Plan, ValveTiming, engine_from_toml

TYPICAL = ValveTiming(
    ivo="15 before TDC", ivc="40 after BDC", evo="50 before BDC", evc="15 after TDC"
)


def timing(ivo, ivc, evo, evc, **more):
    """A four-stroke timing from plain degrees, as the trade counts them."""
    return ValveTiming(
        ivo=f"{ivo} before TDC",
        ivc=f"{ivc} after BDC",
        evo=f"{evo} before BDC",
        evc=f"{evc} after TDC",
        **more,
    )


def facts(order, **different):
    """The facts of a four-stroke engine with this firing order, one valve of each kind."""
    words = order.split("-") if isinstance(order, str) else [str(name) for name in order]
    return {
        "source": "invented for a test",
        "stroke": "four",
        "cylinders": len(words),
        "firing_order": words,
        "rotation": "anticlockwise",
        "seen_from": "flywheel end",
        "intake_valves": 1,
        "exhaust_valves": 1,
        "injectors": 1,
        **different,
    }


def engine(order, **different):
    return Engine(**facts(order, **different))


def two_stroke(cylinders, **different):
    """A two-stroke with ports for the intake and valves for the exhaust."""
    order = range(1, cylinders + 1)
    return engine(order, **{"stroke": "two", "intake_valves": 0, **different})


def valves(words):
    """Items from a line of a table: ``intake 1 2; exhaust 1 3``."""
    parts = [part.split() for part in words.split(";")]
    return {Item(kind, cylinder) for kind, *cylinders in parts for cylinder in cylinders}


def every_item_once(plan: Plan, wanted):
    """Whether the steps of a plan set each of these, once."""
    done = [item for step in plan.steps for item in step.items]
    return len(done) == len(set(done)) and set(done) == set(wanted)


def by_hand_open(kind, phase, ivo, ivc, evo, evc):
    """The phase model of a four-stroke again: both ends of the open arc count as open."""
    opens, closes = (360 - ivo, 540 + ivc) if kind == "intake" else (180 - evo, 360 + evc)
    return opens <= phase <= closes


V6 = """\
# an invented V6 that fires unevenly
[engine]
source = "invented sheet 7, revision 2"
stroke = "four"
cylinders = 6
firing_order = "1-6-5-4-3-2"
intervals = [150, 90, 150, 90, 150, 90]
rotation = "clockwise"
seen_from = "free end"
intake_valves = 1
exhaust_valves = 1
injectors = 1

[engine.timing]
ivo = "15 before TDC"
ivc = "40 after BDC"
evo = "50 before BDC"
evc = "15 after TDC"

[[engine.valve_table]]
cylinder = 1
intake = "1 2 3"
exhaust = "1 5 6"

[[engine.valve_table]]
cylinder = 4
intake = "4 5 6"
exhaust = "2 3 4"
"""


def problems_of(text):
    """What is said of a file that must be refused."""
    with pytest.raises(EngineError) as refusal:
        engine_from_toml(text, "v6.toml")
    return list(refusal.value.problems)


def changed(old, new):
    """The V6 with one thing different."""
    assert V6.count(old) == 1, old
    return V6.replace(old, new)

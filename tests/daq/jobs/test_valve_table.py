"""A maker's table for any engine: refused for what is wrong with it, and for nothing else."""

import itertools

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from daq.jobs import Method, plan
from tests.daq.jobs.engines import by_hand_open, engine, every_item_once, timing

KINDS = ("intake", "exhaust")
FIGURES = st.tuples(st.integers(0, 80), st.integers(0, 80), st.integers(20, 80), st.integers(0, 80))


@st.composite
def uneven(draw):
    """A firing order of 1 to 8 and its intervals in whole degrees."""
    count = draw(st.integers(1, 8))
    cuts = draw(st.sets(st.integers(1, 719), min_size=count - 1, max_size=count - 1))
    order = draw(st.permutations(range(1, count + 1)))
    return order, [b - a for a, b in itertools.pairwise([0, *sorted(cuts), 720])]


def rows_of(order, where):
    """A table with a row for each cylinder that anything is set at: (kind, cylinder) to row."""
    rows = [{"cylinder": at} for at in order if at in where.values()]
    for (kind, cylinder), at in where.items():
        (row,) = [row for row in rows if row["cylinder"] == at]
        row[kind] = [*row.get(kind, []), cylinder]
    return rows


@given(uneven(), FIGURES, st.data())
@settings(max_examples=60, deadline=None)
def test_exactly_the_valves_that_are_open_are_named(drawn, figures, data):
    order, intervals = drawn
    where = {
        (kind, cylinder): data.draw(st.sampled_from(order)) for kind in KINDS for cylinder in order
    }
    rows = rows_of(order, where)
    fires = dict(zip(order, itertools.accumulate(intervals, initial=0), strict=False))
    expected = {
        f"{kind} {cylinder} is open"
        for (kind, cylinder), at in where.items()
        if by_hand_open(kind, (fires[at] - fires[cylinder]) % 720, *figures)
    }
    made_for = {"intervals": intervals, "timing": timing(*figures), "valve_table": rows}
    if not expected:
        made = plan(engine(order, **made_for))
        assert made.method is Method.TABLE
        assert every_item_once(made, engine(order).items(*KINDS))
        return
    with pytest.raises(ValidationError) as refusal:
        engine(order, **made_for)
    said = str(refusal.value).splitlines()
    named = {line.split(": ", 1)[1].split(" with ")[0] for line in said if " is open with " in line}
    assert named == expected


@given(uneven(), FIGURES, st.data())
@settings(max_examples=40, deadline=None)
def test_a_sound_table_is_taken_and_one_slip_in_it_is_named(drawn, figures, data):
    order, intervals = drawn
    where = {(kind, cylinder): cylinder for kind in KINDS for cylinder in order}
    made_for = {"intervals": intervals, "timing": timing(*figures)}
    sound = engine(order, **made_for, valve_table=rows_of(order, where))
    made = plan(sound)
    assert made.method is Method.TABLE
    assert every_item_once(made, sound.items(*KINDS))
    longest = max(intervals) if len(order) > 1 else 720
    assert made.total_deg == 720 - longest

    kind, cylinder = data.draw(st.sampled_from(sorted(where)))
    place = order.index(cylinder)
    slip, said = data.draw(
        st.sampled_from(
            [
                ([], f"valve_table: {kind} {cylinder} is missing"),
                (
                    [cylinder, cylinder],
                    f"valve_table.{place + 1}.{kind}: {kind} {cylinder} is set in row {place + 1}",
                ),
                (
                    [cylinder, 99],
                    f"valve_table.{place + 1}.{kind}: {kind} 99: there is no cylinder 99",
                ),
            ]
        )
    )
    rows = rows_of(order, where)
    rows[place][kind] = slip
    with pytest.raises(ValidationError) as refusal:
        engine(order, **made_for, valve_table=rows)
    assert said in str(refusal.value)

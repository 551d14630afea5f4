"""Captures summed up, against the same worked out row by row."""

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from daq.audit.kernel import CAPTURES, CaptureKernel, Windows
from daq.audit.kernel.shifts import shifts
from tests.daq.audit.fleet import fleet

NONE = np.zeros(0, dtype=np.int64)


def kernel(windows=None):
    return CaptureKernel(windows or Windows(NONE, NONE, NONE, NONE, NONE))


def block_of(made):
    names = [name for name in CAPTURES if name in made["captures"]]
    (block,) = made.blocks("captures", names, 99)
    return block


times = st.lists(st.integers(0, 60), min_size=1, max_size=12)
spans = st.lists(st.tuples(st.integers(0, 3), st.integers(-5, 65), st.integers(0, 30)), max_size=12)


@settings(max_examples=120)
@given(st.lists(times, min_size=1, max_size=3), spans, st.booleans())
def test_windows_have_the_captures_that_lie_in_them(gauges, spans, clocks_go_back):
    rows = [
        (gauge, seq, at)
        for gauge, times in enumerate(gauges)
        for seq, at in enumerate(times if clocks_go_back else sorted(times), start=1)
    ]
    gauge, seq, at = (np.array(each, dtype=np.int64) for each in zip(*rows, strict=True))
    spans = sorted(spans)
    windows = Windows(
        *(
            np.array(each, dtype=np.int64)
            for each in (
                [s[0] for s in spans],
                [0] * len(spans),
                list(range(len(spans))),
                [s[1] for s in spans],
                [s[1] + s[2] for s in spans],
            )
        )
    )
    starts = np.flatnonzero(np.append(True, gauge[1:] != gauge[:-1]))
    in_order = not any(a[0] == b[0] and b[2] < a[2] for a, b in itertools.pairwise(rows))
    found = windows.count(gauge, seq, at, starts, in_order)
    expected = []
    for number, (whose, since, long) in enumerate(spans):
        inside = [(s, t) for g, s, t in rows if g == whose and since <= t < since + long]
        if inside:
            seqs, ats = zip(*inside, strict=True)
            expected.append((number, len(inside), min(seqs), max(seqs), min(ats), max(ats)))
    names = ("run", "captures", "seq_lo", "seq_hi", "first_us", "last_us")
    assert sorted(zip(*(found[n].tolist() for n in names), strict=True)) == expected


def test_equal_values_in_a_row_are_a_stretch_with_what_else_has_that_value():
    made = fleet(gauges=2)
    own = made.rows_of("captures", "G01")
    made["captures"]["value_nm"][own[20:32]] = 4_990_000
    made["captures"]["value_nm"][own[[50, 60]]] = 4_990_000
    made["captures"]["value_nm"][own[[19, 32]]] = 5_000_000
    found = kernel().of(block_of(made)).stills
    assert [found[n].tolist() for n in ("seq_lo", "seq_hi", "length", "others")] == [
        [21],
        [32],
        [12],
        [138],
    ]
    assert (
        found["like_"][0] == np.count_nonzero(made["captures"]["value_nm"][own] == 4_990_000) - 12
    )


def test_a_stretch_does_not_go_over_into_another_feature_or_gauge():
    made = fleet(gauges=2)
    made["captures"]["value_nm"][:] = 5_000_000
    made["captures"]["feature"][75:] = "shaft"
    found = kernel().of(block_of(made)).stills
    assert found["length"].tolist() == [75, 75, 150]


@pytest.mark.parametrize("factor", [25.4, 1 / 25.4])
def test_inches_are_told_one_way_and_the_other(factor):
    made = fleet(gauges=2)
    own = made.rows_of("captures", "G01")[30:35]
    made["captures"]["value_nm"][own] = np.rint(made["captures"]["value_nm"][own] * factor)
    found = kernel().of(block_of(made)).inches
    assert [found[n].tolist() for n in ("seq_lo", "seq_hi", "length")] == [[31], [35], [5]]


def test_a_value_far_out_that_is_no_inch_is_not_told_as_one():
    made = fleet(gauges=1)
    made["captures"]["value_nm"][10:15] *= 3
    assert not kernel().of(block_of(made)).inches["gauge"].size


def test_without_limits_nothing_is_told_of_inches_and_shifts_are_still_found():
    made = fleet(gauges=2)
    own = made.rows_of("captures", "G01")[40:90]
    made["captures"]["value_nm"][own] += 60_000
    made.without("captures", "lower_nm", "upper_nm")
    found = kernel().of(block_of(made))
    assert not found.inches["gauge"].size
    assert found.shifts["size"].max() > 1.2


def test_a_shift_is_found_where_it_is_and_wild_values_neither_hide_nor_make_one():
    rng = np.random.default_rng(5)
    place = rng.normal(0, 1, 300)
    place[100:160] += 2.5
    place[[10, 200]] = 1e6
    rows = np.arange(300)
    found = shifts(np.zeros(300, int), rows + 1, place, np.array([0]))
    assert found["size"].size == 1
    assert 1.5 < found["size"][0] < 3.2
    assert 80 <= found["seq_lo"][0] <= 105
    assert 155 <= found["seq_hi"][0] <= 180
    calm = rng.normal(0, 1, 300)
    calm[7] = 1e6
    quiet = shifts(np.zeros(300, int), rows + 1, calm, np.array([0]))
    assert not (np.abs(quiet["size"]) > 1.2).any()


def test_few_captures_and_captures_without_spread_have_no_shift():
    few, same = np.random.default_rng(1).normal(0, 1, 59), np.full(100, 3.0)
    for place in (few, same):
        rows = np.arange(len(place))
        found = shifts(np.zeros(len(place), int), rows, place, np.array([0]))
        assert not found["gauge"].size

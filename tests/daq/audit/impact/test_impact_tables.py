"""Impact from tables: who says that a gauge is out, and every capture against a plain loop."""

import math
from itertools import pairwise

import numpy as np
import pytest

from daq.audit.impact import GROUPS, Judges, impact_of
from daq.audit.layout import ENDS, FOUND, NULL, WAYS, WORDS

NOMINALS = [0, 2_500_000, 5_000_000, 7_500_000, 10_000_000]
UP, DOWN = WAYS.index("up"), WAYS.index("down")


def table(rows, *names):
    return {
        name: np.array([row[i] for row in rows], dtype=np.int64) for i, name in enumerate(names)
    }


def points(*runs):
    """Runs of (gauge, run, time, found, errors up, errors down), errors in nm at the nominals."""
    rows = []
    for gauge, run, at_us, found, up, down in runs:
        visited = [*zip(NOMINALS, up, [UP] * 5, strict=True)]
        visited += reversed([*zip(NOMINALS, down, [DOWN] * 5, strict=True)])
        rows += [
            (gauge, run, at_us + i, FOUND.index(found), way, n, n + 300, n + 300 + error, 400)
            for i, (n, error, way) in enumerate(visited)
        ]
    return table(
        rows, "gauge", "run", "at_us", "found", "way", "nominal_nm", "reference_nm",
        "indicated_nm", "u_reference_nm",
    )  # fmt: skip


def captures(*rows):
    """Rows of (gauge, seq, time, value, lower, upper), lengths in nm."""
    return table(rows, "gauge", "seq", "at_us", "value_nm", "lower_nm", "upper_nm")


def gauges(*rows):
    return table(rows, "gauge", "limit_nm", "step_nm")


def decisions(*rows):
    found = [
        (gauge, run, ENDS.index(ended), *(WORDS.index(each) for each in words))
        for gauge, run, ended, *words in rows
    ]
    return table(found, "gauge", "run", "ended", "found_word", "left_word")


GOOD, BAD = [1_000] * 5, [15_000] * 5
RUNS = [
    (7, 1, 1_000, "as found", GOOD, GOOD),
    (7, 2, 2_000, "as found", BAD, BAD),
    (7, 2, 2_500, "as left", GOOD, GOOD),
]
LIMITS = gauges((7, 10_000, 1_000))
ONE = captures((7, 1, 1_500, 5_000_000, 4_990_000, 5_100_000))


def told(runs, judges, taken=ONE):
    found = impact_of(points(*runs), taken, judges)
    return [
        (each.period.what, each.period.run.run, [GROUPS[i] for i in each.group])
        for each in found.touched
    ]


def test_an_error_beyond_the_permissible_one_is_out_of_limits():
    assert told(RUNS, Judges(LIMITS, {})) == [("found", "2", ["flips"])]
    assert told(RUNS, Judges(gauges((7, 15_000, 1_000)), {})) == []


def test_the_calibrations_own_decision_comes_before_the_figures():
    passed = decisions((7, 1, "complete", "pass", ""), (7, 2, "complete", "pass", "pass"))
    assert told(RUNS, Judges(LIMITS, passed)) == []
    failed = decisions((7, 1, "complete", "conditional fail", "pass"))
    assert told(RUNS[:1], Judges(LIMITS, failed)) == [("found", "1", [])]


def test_a_gauge_with_nothing_as_left_was_left_as_it_was_found():
    kept = decisions((7, 1, "complete", "pass", ""), (7, 2, "complete", "fail", ""))
    both = [("found", "2"), ("left", "2")]
    assert [each[:2] for each in told(RUNS[:2], Judges(LIMITS, kept))] == both
    assert [each[:2] for each in told(RUNS[:2], Judges(LIMITS, {}))] == both


def test_without_a_word_as_left_the_points_as_left_say_it():
    kept = decisions((7, 1, "complete", "pass", ""), (7, 2, "complete", "fail", ""))
    assert told(RUNS, Judges(LIMITS, kept)) == [("found", "2", ["flips"])]


def test_what_was_not_judged_goes_by_the_figures():
    words = decisions((7, 2, "complete", "not judged", "not judged"))
    assert told(RUNS, Judges(LIMITS, words)) == [("found", "2", ["flips"])]


def test_a_calibration_that_was_broken_off_says_nothing():
    assert told(RUNS, Judges(LIMITS, decisions((7, 2, "broken off", "", "")))) == []


def test_without_a_limit_or_a_decision_nothing_is_out():
    assert told(RUNS, Judges({}, {})) == []
    assert told(RUNS, Judges(gauges((7, NULL, NULL)), {})) == []


def test_of_several_entries_of_a_gauge_the_last_counts():
    both = gauges((7, 10_000, 1_000), (7, 20_000, 1_000))
    assert told(RUNS, Judges(both, {})) == []


def test_no_rows_touch_nothing():
    assert impact_of(points(), captures(), Judges({}, {})).touched == ()


def test_a_bad_gauge_without_captures_is_told_all_the_same():
    assert told(RUNS, Judges(LIMITS, {}), captures()) == [("found", "2", [])]


def test_names_are_asked_for_once_a_column():
    asked = []

    def names(column, codes):
        asked.append(column)
        return [f"{column} {code}" for code in codes]

    taken = {**ONE, "job": np.array([3]), "feature": np.array([4])}
    found = impact_of(points(*RUNS), taken, Judges(LIMITS, {}), names=names)
    (only,) = found.touched
    assert (only.period.gauge, only.period.run.run) == ("gauge 7", "run 2")
    assert (only.captures.job[0], only.captures.feature[0]) == ("job 3", "feature 4")
    assert sorted(asked) == ["feature", "gauge", "job", "run"]


def test_the_uncertainty_of_the_error_is_that_of_the_reference_and_of_a_step():
    (only,) = impact_of(points(*RUNS), ONE, Judges(LIMITS, {})).touched
    expected = math.hypot(0.0004, 0.001 / math.sqrt(12))
    assert only.period.curve.u_mm == pytest.approx([expected] * 5, rel=1e-12)


def fleet(seed):
    """Forty gauges with five runs each, every third of them bad once, and captures all along."""
    draw = np.random.default_rng(seed)
    runs, taken = [], []
    for gauge in range(40):
        for run in range(5):
            level = 14_000 if gauge % 3 == 0 and run == 1 + gauge % 4 else 2_000
            up, down = (level + draw.integers(-5, 6, 5) * 500 for _ in range(2))
            at_us = 10_000 * (run + 1)
            runs.append((gauge, 10 * gauge + run, at_us, "as found", up, down))
            if level > 10_000:
                runs.append((gauge, 10 * gauge + run, at_us + 100, "as left", [0] * 5, [0] * 5))
        at = np.sort(draw.integers(5_000, 60_000, 200)).tolist()
        middle = int(draw.integers(2_000, 8_000)) * 1_000
        values = middle + draw.integers(-40, 41, 200) * 1_000
        limits = (middle - 30_000, middle + 30_000)
        pairs = enumerate(zip(at, values.tolist(), strict=True), 1)
        taken += [(gauge, i, t, v, *limits) for i, (t, v) in pairs]
    return runs, taken


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_every_capture_comes_out_as_a_plain_loop_has_it(seed):
    runs, taken = fleet(seed)
    limits = gauges(*((gauge, 10_000, 1_000) for gauge in range(40)))
    found = impact_of(points(*runs), captures(*taken), Judges(limits, {}))
    ours = {
        (each.period.gauge, int(seq)): (corrected, GROUPS[group] == "flips")
        for each in found.touched
        for seq, corrected, group in zip(
            each.captures.seq, each.corrected_mm, each.group, strict=True
        )
    }
    plain = dict(by_a_plain_loop(runs, taken))
    assert ours.keys() == plain.keys()
    assert any(flips for _, flips in plain.values())
    for key, (corrected, flips) in plain.items():
        assert ours[key][0] == pytest.approx(corrected, abs=1e-12)
        assert ours[key][1] == flips


def by_a_plain_loop(runs, taken):
    """Each touched capture: its corrected value in mm, and whether its verdict turns."""
    for before, bad in pairwise(runs):
        mean = [(up + down) / 2e6 for up, down in zip(bad[4], bad[5], strict=True)]
        if bad[0] != before[0] or bad[3] == "as left" or max(mean) < 0.009:
            continue
        for gauge, seq, at_us, value, lower, upper in taken:
            if gauge == bad[0] and before[2] + 9 < at_us <= bad[2]:
                mm = value / 1e6
                piece = min(int(mm / 2.5), 3)
                share = mm / 2.5 - piece
                corrected = mm - (mean[piece] * (1 - share) + mean[piece + 1] * share)
                stood = lower <= value <= upper
                yield (
                    (str(gauge), seq),
                    (corrected, stood != (lower / 1e6 <= corrected <= upper / 1e6)),
                )

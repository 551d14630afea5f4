"""What an adjuster really does, learned from moves; and when it does nothing, or wrong."""

import math
import random
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daq.jobs.learning import (
    HAND_CLICKS,
    HAND_DEG,
    HAND_SHARE,
    MOVES_NEEDED,
    SHEET_SHARE,
    Move,
    learn,
)
from daq.jobs.recipes import RecipeError
from daq.spec import Adjuster, guide

PLAIN = Adjuster.of(thread="M10x1.25", clockwise="raises")
CLICKS = Adjuster.of(thread="M10x1", clockwise="lowers", clicks_per_turn=40, lever_ratio="1")
"""Invented: 0.025 mm a click."""

U = 0.0007
TRIALS = 2000


def move(adjuster, told_turns, times=1.0, u_mm=U, change_mm=None):
    """A move whose effect is ``times`` what the sheet says, or ``change_mm``."""
    sense = 1 if adjuster.clockwise == "raises" else -1
    if change_mm is None:
        change_mm = sense * float(adjuster.mm_per_turn) * told_turns * times
    return Move(5.0, u_mm, 5.0 + change_mm, u_mm, told_turns)


def moves(adjuster, times, *turns):
    return [move(adjuster, each, times) for each in turns]


def test_without_moves_the_sheet_is_all_there_is():
    known = learn(PLAIN, [])
    assert known.adjuster is PLAIN
    assert (known.ratio, known.u_ratio, known.moves) == (1, SHEET_SHARE, 0)
    assert (known.mm_per_turn, known.u_mm_per_turn) == (1.25, pytest.approx(1.25 * SHEET_SHARE))
    assert (known.changed, known.words, known.trouble, known.warnings) == (False, "", "", ())


def test_moves_that_do_what_the_sheet_says_leave_it():
    known = learn(PLAIN, moves(PLAIN, 1.0, 0.25, -0.5, 0.125, 0.5))
    assert known.adjuster is PLAIN
    assert known.ratio == pytest.approx(1)
    assert known.u_ratio < 0.1
    assert not known.changed


def test_a_click_that_moves_less_than_the_sheet_says():
    known = learn(CLICKS, moves(CLICKS, 0.68, *(k / 40 for k in (8, -5, 6, -4))))
    assert known.words == "one click moves 0.017 mm, not 0.025 mm as the sheet says, from 4 moves"
    assert known.changed
    assert known.adjuster.lever_ratio == pytest.approx(Decimal("0.68"), rel=Decimal("0.01"))
    # Which is what the hand is then told: 0.034 mm too high is about 2 clicks, not 1.4.
    words = guide(Decimal("0.034"), known.adjuster).words
    assert words.endswith("about 2 clicks")
    assert words.startswith("clockwise")


def test_a_turn_that_moves_more_than_the_sheet_says():
    known = learn(PLAIN, moves(PLAIN, 1.6, 0.5, -0.5, 0.5, -0.25, 0.5))
    # Five moves say 2.0 mm; the sheet still weighs a little.
    assert known.words == "one turn moves 1.9 mm, not 1.25 mm as the sheet says, from 5 moves"
    assert known.adjuster.thread == PLAIN.thread
    assert known.adjuster.clockwise == PLAIN.clockwise


def test_the_estimate_is_the_weighted_mean_of_sheet_and_moves():
    """Two equal moves, closed form: u of each = hypot(rests, hand); weights are 1/u²."""
    known = learn(CLICKS, moves(CLICKS, 0.8, 0.25, 0.25))
    hand = known.ratio * HAND_CLICKS / 40
    each = math.hypot(math.sqrt(2) * U, hand) / 0.25
    weight_of_moves, weight_of_sheet = 2 / each**2, 1 / SHEET_SHARE**2
    total = weight_of_moves + weight_of_sheet
    assert known.ratio == pytest.approx((0.8 * weight_of_moves + weight_of_sheet) / total)
    assert known.u_ratio == pytest.approx(1 / math.sqrt(total))
    assert known.u_mm_per_turn == pytest.approx(known.u_ratio * 1.0)


def test_the_hand_is_trusted_to_a_share_of_the_turn_but_never_better_than_some_degrees():
    for turns, u_turns in ((1.0, HAND_SHARE), (0.125, HAND_DEG / 360)):
        known = learn(PLAIN, moves(PLAIN, 1.0, turns))
        of_move = math.hypot(math.sqrt(2) * U / 1.25, u_turns) / turns
        expected = 1 / math.sqrt(1 / of_move**2 + 1 / SHEET_SHARE**2)
        assert known.u_ratio == pytest.approx(expected)


@pytest.mark.parametrize("times", [0.3, 0.5, 2.0, 3.0])
def test_guidance_never_changes_before_three_moves(times):
    assert MOVES_NEEDED == 3
    every = moves(CLICKS, times, 0.25, -0.25, 0.25)
    assert [learn(CLICKS, every[:n]).changed for n in (1, 2, 3)] == [False, False, True]
    assert learn(CLICKS, every[:2]).adjuster is CLICKS


def test_a_difference_too_small_for_a_hand_to_matter_is_left():
    known = learn(CLICKS, moves(CLICKS, 1.06, *[0.5, -0.5] * 10))
    assert known.ratio == pytest.approx(1.06, abs=0.005)
    assert known.ratio - 1 > 2 * known.u_ratio
    assert not known.changed


def test_a_difference_beyond_twice_its_u_and_a_tenth_changes_the_guidance():
    near = learn(CLICKS, moves(CLICKS, 0.85, 0.15, -0.15, 0.15))
    assert 2 < (1 - near.ratio) / near.u_ratio < 4
    assert near.changed
    far = learn(CLICKS, moves(CLICKS, 1.15, *[0.5, -0.5] * 6))
    assert 0.1 < far.ratio - 1 < 0.2
    assert far.changed


def test_moves_that_scatter_do_not_change_the_guidance():
    every = [move(CLICKS, 0.25, times) for times in (0.3, 1.5, 0.3, 0.35)]
    known = learn(CLICKS, every)
    assert not known.changed
    assert known.u_ratio > 0.15


def test_small_moves_alone_do_not_change_the_guidance():
    known = learn(PLAIN, moves(PLAIN, 0.5, *[0.01] * 8))
    assert known.moves == 8
    assert not known.changed


# Trouble.


def test_moves_that_stop_having_effect():
    every = moves(PLAIN, 1.0, 0.25, 0.25, 0.25)
    every.append(move(PLAIN, 0.25, 0.02))
    assert learn(PLAIN, every).trouble == ""
    every.append(move(PLAIN, 0.25, -0.01))
    known = learn(PLAIN, every)
    assert known.trouble == "no effect"
    assert "earlier ones had" in known.warnings[0]
    assert "plunger may be stuck" in known.warnings[0]
    assert known.moves == 3
    assert known.ratio == pytest.approx(1)
    assert "2 moves are not counted: no effect" in known.remarks


def test_moves_that_never_had_an_effect():
    known = learn(PLAIN, moves(PLAIN, 0.0, 0.25, 0.5))
    assert known.trouble == "no effect"
    assert "right screw" in known.warnings[0]
    assert known.adjuster is PLAIN


def test_a_screw_that_takes_hold_again_is_no_trouble():
    every = moves(PLAIN, 0.0, 0.25, 0.5)
    every += moves(PLAIN, 1.0, 0.25)
    assert learn(PLAIN, every).trouble == ""


def test_moves_the_wrong_way_warn_and_never_turn_the_sense_round():
    every = moves(PLAIN, -1.0, 0.25)
    assert learn(PLAIN, every).trouble == ""
    every += moves(PLAIN, -1.0, -0.5, 0.25, -0.25)
    known = learn(PLAIN, every)
    assert known.trouble == "wrong way"
    assert "here clockwise lowers the reading" in known.warnings[0]
    assert "the sheet says that it raises it" in known.warnings[0]
    assert known.adjuster is PLAIN
    assert known.moves == 0
    assert known.remarks == ("4 moves are not counted: the wrong way",)


def test_guidance_is_not_changed_while_something_is_wrong():
    every = moves(CLICKS, 0.6, 0.25, -0.25, 0.25, -0.25)
    assert learn(CLICKS, every).changed
    stuck = learn(CLICKS, [*every, *moves(CLICKS, 0.0, 0.25, 0.25)])
    assert not stuck.changed
    assert stuck.adjuster is CLICKS
    assert stuck.words == ""


def test_a_move_too_small_to_be_judged_warns_of_nothing():
    known = learn(PLAIN, moves(PLAIN, 0.0, 0.004, 0.004, 0.004))
    assert known.trouble == ""


@pytest.mark.parametrize(("turns", "judged"), [(0.05, False), (0.06, True)])
def test_a_move_is_judged_from_twice_what_the_hand_may_miss(turns, judged):
    """10° is 0.028 of a turn; with fewer than 20° told, no effect at all means little."""
    known = learn(PLAIN, moves(PLAIN, 0.0, turns, turns))
    assert bool(known.trouble) == judged


@pytest.mark.parametrize(("u_mm", "judged"), [(0.04, True), (0.05, False)])
def test_a_move_is_judged_from_four_times_the_u_of_its_rests(u_mm, judged):
    """0.25 mm expected; u of the change is √2 times that of a rest."""
    every = [move(PLAIN, 0.2, 0.0, u_mm=u_mm)] * 2
    assert bool(learn(PLAIN, every).trouble) == judged


def test_a_small_move_between_does_not_hide_the_trouble():
    every = moves(PLAIN, 0.0, 0.25)
    every += [move(PLAIN, 0.002), *moves(PLAIN, 0.0, 0.25)]
    assert learn(PLAIN, every).trouble == "no effect"


def test_a_move_of_unknown_turn_is_remarked_on_and_not_counted():
    every = [*moves(PLAIN, 1.0, 0.25), Move(5.0, U, 5.9, U, None), Move(5.0, U, 5.0, U, 0.0)]
    known = learn(PLAIN, every)
    assert known.moves == 1
    assert known.remarks == ("2 moves are not counted: nobody said how far it was turned",)


@pytest.mark.parametrize(
    "facts", [(math.nan, U, 5, U, 1), (5, -U, 5, U, 1), (5, U, 5, U, math.inf)]
)
def test_a_move_that_means_nothing_is_refused(facts):
    with pytest.raises(RecipeError):
        Move(*facts)


# What holds for all moves.

turns = st.floats(0.05, 1).map(lambda size: round(size, 3))


@given(
    st.lists(st.tuples(turns, st.sampled_from([1, -1])), min_size=1, max_size=8),
    st.floats(0.3, 3),
    st.floats(-20, 20),
)
def test_neither_the_zero_nor_the_sense_of_everything_matters(told, times, zero):
    every = [move(PLAIN, size * sign, times) for size, sign in told]
    plain = learn(PLAIN, every)
    shifted = [Move(m.from_mm + zero, U, m.to_mm + zero, U, m.told_turns) for m in every]
    other = PLAIN.model_copy(update={"clockwise": "lowers"})
    turned = [Move(m.from_mm, U, m.to_mm, U, -(m.told_turns or 0)) for m in every]
    for adjuster, same in ((PLAIN, shifted), (other, turned)):
        known = learn(adjuster, same)
        assert known.ratio == pytest.approx(plain.ratio, rel=1e-6)
        assert known.u_ratio == pytest.approx(plain.u_ratio, rel=1e-6)
        assert (known.changed, known.trouble) == (plain.changed, plain.trouble)


@given(st.lists(st.tuples(turns, st.floats(0.3, 3)), max_size=8))
def test_the_estimate_lies_between_the_sheet_and_the_moves(told):
    known = learn(PLAIN, [move(PLAIN, size, times) for size, times in told])
    every = [1.0, *(times for _, times in told)]
    assert min(every) - 1e-9 <= known.ratio <= max(every) + 1e-9
    assert 0 < known.u_ratio <= SHEET_SHARE


def turned_by_hand(chance, adjuster, times, told):
    """A move as a hand makes it, with the errors that are assumed of it."""
    if adjuster.clicks_per_turn is None:
        u_turns = max(HAND_SHARE * abs(told), HAND_DEG / 360)
    else:
        u_turns = HAND_CLICKS / adjuster.clicks_per_turn
    sense = 1 if adjuster.clockwise == "raises" else -1
    effect = sense * float(adjuster.mm_per_turn) * times * (told + chance.gauss(0, u_turns))
    return Move(chance.gauss(0, U), U, effect + chance.gauss(0, U), U, told)


@pytest.mark.parametrize("adjuster", [PLAIN, CLICKS], ids=["plain", "clicks"])
@pytest.mark.parametrize("count", [1, 3, 6])
def test_the_stated_interval_covers_the_truth(adjuster, count):
    """Sheets that are off as assumed, hands that err as assumed: 95.45 %, and a little more.

    Of one move a little less: how far the hand errs must be told from the move itself.
    """
    chance = random.Random(count)
    held = 0
    for _ in range(TRIALS):
        times = max(0.3, chance.gauss(1, SHEET_SHARE))
        every = [
            turned_by_hand(chance, adjuster, times, chance.choice((0.1, 0.25, -0.25, 0.5)))
            for _ in range(count)
        ]
        known = learn(adjuster, every)
        held += abs(known.ratio - times) <= 2 * known.u_ratio
    assert (0.92 if count == 1 else 0.94) < held / TRIALS < 0.98


@pytest.mark.parametrize("adjuster", [PLAIN, CLICKS], ids=["plain", "clicks"])
def test_a_right_sheet_is_seldom_doubted_and_a_wrong_one_is_found(adjuster):
    chance = random.Random(20)

    def changed(times, count):
        found = [
            learn(
                adjuster,
                [
                    turned_by_hand(chance, adjuster, times, chance.choice((0.15, 0.25, -0.25)))
                    for _ in range(count)
                ],
            )
            for _ in range(500)
        ]
        assert sum(bool(known.trouble) for known in found) <= 10
        return sum(known.changed for known in found) / 500

    assert changed(1.0, 4) < 0.05
    assert changed(0.6, 6) > 0.9

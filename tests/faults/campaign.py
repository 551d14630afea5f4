"""Random sessions with random faults: is ever a wrong value kept as a good one?

    python -m tests.faults [--sessions 10000] [--seed 1]

Each session is a simulated gauge of a profile that comes with restpoint. Its plunger rests, moves
and rests again while one kind of fault happens; whenever the session has a new rest, its value is
captured as ``restpoint capture`` does it. The plunger's own place at that time is the truth. A
capture is *right* if it is not further from it than the display's step and five standard
uncertainties. It is *as displayed* if it is not, but is what the gauge itself shows, which says
nothing of it in its frames: somebody has set its zero or turned its direction, and no reader of its
bytes can know. Everything else that is kept is *wrong*. What is not kept is refused.
"""

import argparse
import random
from collections import Counter
from dataclasses import dataclass, field

from daq.measure.events import Captured
from daq.measure.session import Session
from daq.spec import Spec, rule_from
from drivers.profiles import builtin_profiles
from simulated_devices import SimulatedGauge
from simulated_devices.motion import Approach, Still, Together
from tests.faults.accidents import FAULTS, drawn

STEP_S = 0.02
LASTS_S = 12.0
REACH_MM = 5.0

SPEC = Spec(
    name="rack length",
    nominal_mm="2.000",
    lower_mm="-0.050",
    upper_mm="0.050",
    source="invented for this campaign",
)
PROFILES = [profile for profile in builtin_profiles() if profile.sends.when != "on its data key"]


@dataclass
class Tally:
    """What came of the sessions of one fault."""

    tries: int = 0
    right: int = 0
    as_displayed: int = 0
    wrong: list = field(default_factory=list)
    refused: Counter = field(default_factory=Counter)
    bad_frames: int = 0


def run_session(seed, fault, tally):
    """One session; what came of it is added to ``tally``."""
    dice = random.Random(f"{seed} {fault}")
    profile = dice.choice(PROFILES)
    accident = drawn(dice, fault, profile.serial)
    gauge, motion = _gauge(dice, profile, fault, seed)
    session = Session(profile, SPEC, rule_from("simple"))
    tally.tries += 1
    asked_s = t_s = 0.0
    was_out, displayed = False, []
    while t_s < LASTS_S + accident.for_s:
        t_s += STEP_S
        accident.press(gauge, t_s)
        if profile.request and t_s >= asked_s:
            gauge.receive(profile.request)
            asked_s = t_s + max(STEP_S, 1 / profile.sends.rate_hz)
        displayed.append((t_s, _displayed_mm(gauge)))
        data = accident.through(gauge.advance(STEP_S), t_s, profile.serial)
        is_out = fault == "cable pulled" and accident.is_on(t_s)
        if is_out != was_out:
            session.lost(t_s) if is_out else session.opened(t_s)
            was_out = is_out
        if fault in ("machine asleep", "reader slow") and accident.is_on(t_s):
            continue  # nothing of ours runs
        session.receive(data, t_s)
        if session.is_new_rest:
            _capture(session, t_s, motion, displayed, tally, (seed, profile.name))
    tally.bad_frames += session.bad_frames


def _gauge(dice, profile, fault, seed):
    first_mm = dice.uniform(-1.0, REACH_MM)
    by_mm = dice.choice((-1, 1)) * dice.uniform(0.05, 2.0)
    approach = Approach(by_mm=by_mm, tau_s=dice.uniform(0.05, 0.5), start_s=dice.uniform(2.5, 5.0))
    motion = Together((Still(first_mm), approach))
    step_mm = min(float(step * unit.in_mm) for unit, step in profile.resolution.items())
    gauge = SimulatedGauge(
        profile,
        motion,
        noise_mm=dice.uniform(0.0, 0.7) * step_mm,
        overspeed_mm_s=1.0 if fault == "overspeed" else float("inf"),
        seed=seed,
    )
    return gauge, motion


def _displayed_mm(gauge):
    shown = gauge.shown()
    return float("inf") if shown.value is None else float(shown.value * shown.unit.in_mm)


def _capture(session, t_s, motion, displayed, tally, where):
    captured = session.capture(t_s, "settled")
    if not isinstance(captured, Captured):
        tally.refused[captured.reason] += 1
        return
    session.kept(captured)
    rest = captured.rest
    true_mm = motion.at((rest.since_s + rest.until_s) / 2)
    allowed_mm = float(session.step_mm) + 5 * rest.u_mm
    during = [mm for at_s, mm in displayed if rest.since_s <= at_s <= rest.until_s + STEP_S]
    shown_mm = sum(during) / len(during) if during else float("inf")
    is_told = any(each.spoils_value for each in session.reading.status)
    if abs(rest.value_mm - true_mm) <= allowed_mm:
        tally.right += 1
    elif abs(rest.value_mm - shown_mm) <= allowed_mm and not is_told:
        tally.as_displayed += 1
    else:
        tally.wrong.append((*where, round(rest.since_s, 3), rest.value_mm, true_mm))


def campaign(sessions, seed=1, faults=FAULTS):
    """By fault, the tally of so many sessions in all."""
    tallies = {fault: Tally() for fault in faults}
    for number in range(sessions):
        fault = faults[number % len(faults)]
        run_session(seed * 1_000_000 + number, fault, tallies[fault])
    return tallies


def main():
    asked = argparse.ArgumentParser(prog="python -m tests.faults")
    asked.add_argument("--sessions", type=int, default=10_000)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--only", nargs="+", choices=FAULTS, default=list(FAULTS), metavar="FAULT")
    asked.add_argument("--wrong", action="store_true", help="list what was wrong")
    given = asked.parse_args()
    found = campaign(given.sessions, given.seed, given.only)
    print("| fault | sessions | captured right | as displayed | wrong | refused | bad frames |")
    print("|---|---|---|---|---|---|---|")
    for fault, tally in found.items():
        refused = sum(tally.refused.values())
        row = (tally.tries, tally.right, tally.as_displayed, len(tally.wrong), refused)
        row += (tally.bad_frames,)
        print(f"| {fault} | {' | '.join(f'{each:,}' for each in row)} |")
    if given.wrong:
        for fault, tally in found.items():
            for each in tally.wrong:
                print(fault, each)

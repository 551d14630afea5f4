"""The families of motion: what gauges on real work do, one function each.

Each takes a random generator and the readings a second, and gives the motion and how it is read:
noise sd, correlation time, an added vibration, share of wrong or lost frames, irregular times.
"""

import numpy as np

from .motion import Motion

NEVER_RESTING = ("fast drift", "hand that never rests", "slow turning")


def log_uniform(rng, low, high):
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))


def sign(rng):
    return 1.0 if rng.random() < 0.5 else -1.0


def started(rng, reach=300.0):
    return Motion(rng.uniform(-reach, reach)).wait()


def clean_step(rng, hz):
    tau = log_uniform(rng, 0.03, 0.15)
    return started(rng).approach(rng.uniform(-5, 5), tau, rng.uniform(5, 7)), {}


def exponential_creep(rng, hz):
    creep = [(sign(rng) * log_uniform(rng, 3, 15), log_uniform(rng, 0.6, 3))]
    tau = log_uniform(rng, 0.03, 0.12)
    return started(rng).approach(rng.uniform(-5, 5), tau, rng.uniform(6, 8), creep=creep), {}


def logarithmic_creep(rng, hz):
    """Relaxation with a spread of time constants."""
    amplitude = sign(rng) * log_uniform(rng, 0.8, 3)
    creep = [(amplitude, 0.3), (amplitude, 0.9), (amplitude, 2.7)]
    tau = log_uniform(rng, 0.03, 0.1)
    return started(rng, 200).approach(rng.uniform(-5, 5), tau, rng.uniform(6, 8), creep=creep), {}


def bounce(rng, hz):
    ringing = (rng.uniform(10, 120), rng.uniform(2, 9), rng.uniform(0.12, 0.5))
    target = rng.uniform(-5, 5)
    return started(rng, 200).approach(target, 0.04, rng.uniform(5, 7), bounce=ringing), {}


def fast_clicks(rng, hz):
    """Clicks every 0.2 to 0.8 s, then a stop."""
    motion = Motion(rng.uniform(40, 120) * sign(rng)).wait()
    clicks = int(rng.integers(6, 14))
    step = -motion.at / clicks
    for _ in range(clicks - 1):
        target = motion.at + step * rng.uniform(0.7, 1.3)
        hold = rng.uniform(0.15, 0.75)
        motion.approach(target, log_uniform(rng, 0.015, 0.06), hold, required=False)
    return motion.approach(motion.at + step, log_uniform(rng, 0.015, 0.06), 6.0), {}


def slow_clicks(rng, hz):
    """Every click is followed by 3.5 to 5 s of rest; each must be reported."""
    motion = Motion(rng.uniform(20, 60) * sign(rng)).wait()
    clicks = int(rng.integers(3, 6))
    step = -motion.at / clicks
    for _ in range(clicks):
        click = np.sign(step) * max(1.6, abs(step) * rng.uniform(0.6, 1.4))
        motion.approach(motion.at + click, log_uniform(rng, 0.015, 0.08), rng.uniform(3.5, 5))
    return motion, {}


def aliased(hz_true, hz_sampled):
    folded = hz_true % hz_sampled
    return min(folded, hz_sampled - folded)


def frequency(rng, hz, lowest, highest):
    """A machine's, 8 to 60 Hz, that this gauge shows at lowest to highest Hz."""
    shaken = rng.uniform(8, 60)
    while not lowest <= aliased(shaken, hz) <= highest:
        shaken = rng.uniform(8, 60)
    return shaken


def shaking(rng, hz, lowest, highest, amplitude):
    """A machine's 8 to 60 Hz as this gauge shows it, with a weak second line beside it."""
    shaken = frequency(rng, hz, lowest, highest)
    a, phase = rng.uniform(*amplitude), rng.uniform(0, 6.28)
    b, beside, other = (
        a * rng.uniform(0, 0.2),
        shaken * rng.uniform(0.995, 1.005),
        rng.uniform(0, 6),
    )
    return lambda t: (
        a * np.sin(2 * np.pi * shaken * t + phase) + b * np.sin(2 * np.pi * beside * t + other)
    )


def vibration(rng, hz):
    tau = log_uniform(rng, 0.03, 0.15)
    motion = started(rng, 200).approach(rng.uniform(-5, 5), tau, rng.uniform(10, 13))
    extra = shaking(rng, hz, 0.8, hz / 2, (0.8, 4.0))
    return motion, {"extra": extra, "sd": log_uniform(rng, 0.05, 0.5)}


def slow_vibration(rng, hz):
    """Vibration aliased down to 0.2 to 0.5 Hz, or a true slow sway where the gauge is fast."""
    tau = log_uniform(rng, 0.03, 0.15)
    motion = started(rng, 200).approach(rng.uniform(-5, 5), tau, rng.uniform(22, 28))
    if hz > 200:
        sway, a, phase = rng.uniform(0.2, 0.5), rng.uniform(0.8, 2.5), rng.uniform(0, 6.28)
        extra = lambda t: a * np.sin(2 * np.pi * sway * t + phase)  # noqa: E731
    else:
        extra = shaking(rng, hz, 0.2, 0.5, (0.8, 2.5))
    return motion, {"extra": extra, "sd": log_uniform(rng, 0.05, 0.5)}


def beating_vibration(rng, hz):
    """Two machines that run nearly alike: the shaking swells and dies every 3 to 8 s."""
    tau = log_uniform(rng, 0.03, 0.15)
    motion = started(rng, 200).approach(rng.uniform(-5, 5), tau, rng.uniform(12, 16))
    shaken = frequency(rng, hz, 0.8, hz / 2)
    beside = shaken + sign(rng) / rng.uniform(3, 8)
    a, phase = rng.uniform(0.8, 3.0), rng.uniform(0, 6.28)
    b, other = a * rng.uniform(0.6, 1.0), rng.uniform(0, 6.28)
    extra = lambda t: (  # noqa: E731
        a * np.sin(2 * np.pi * shaken * t + phase) + b * np.sin(2 * np.pi * beside * t + other)
    )
    return motion, {"extra": extra, "sd": log_uniform(rng, 0.05, 0.5)}


def constant_digit(rng, hz):
    tau = log_uniform(rng, 0.03, 0.3)
    motion = started(rng).approach(rng.uniform(-5, 5), tau, rng.uniform(5, 7))
    return motion, {"sd": log_uniform(rng, 0.01, 0.06)}


def toggling_digit(rng, hz):
    target = int(rng.integers(-5, 5)) + 0.5 + rng.uniform(-0.15, 0.15)
    motion = started(rng).approach(target, log_uniform(rng, 0.03, 0.3), rng.uniform(5, 7))
    return motion, {"sd": rng.uniform(0.08, 0.3)}


def wrong_frames(rng, hz):
    return clean_step(rng, hz)[0], {"wrong": rng.uniform(0.01, 0.04)}


def slow_drift(rng, hz):
    """Warming up, slower than matters: a rest whose level is tracked."""
    rate = sign(rng) * rng.uniform(0.02, 0.12)
    motion = started(rng)
    start, level, tau = motion.at, rng.uniform(-5, 5), log_uniform(rng, 0.03, 0.15)
    rest = lambda s: level + rate * s  # noqa: E731
    x = lambda s: rest(s) + (start - level) * np.exp(-s / tau)  # noqa: E731
    return motion.follow(x, rest, rng.uniform(10, 14)), {}


def fast_drift(rng, hz):
    rate, level = sign(rng) * log_uniform(rng, 1, 5), rng.uniform(-100, 100)
    return Motion(level).follow(lambda s: level + rate * s, None, 15.0), {}


def lock_nut(rng, hz):
    """A rest, the lock nut is tightened, a rest beside it."""
    motion = started(rng, 60)
    motion.approach(rng.uniform(-3, 3), log_uniform(rng, 0.03, 0.1), rng.uniform(4, 6))
    start, shift = motion.at, sign(rng) * log_uniform(rng, 1.5, 6)
    takes, swing, hz_hand = rng.uniform(0.4, 1.2), rng.uniform(2, 15), rng.uniform(1, 4)
    back, tau = rng.uniform(-1.2, 1.2), rng.uniform(0.3, 1.0)

    def x(s):
        part = np.clip(s / takes, 0, 1)
        shaken = swing * np.sin(np.pi * part) ** 2 * np.sin(2 * np.pi * hz_hand * s)
        relaxing = np.where(s > takes, back * np.exp(-(s - takes) / tau), back * part)
        return start + shift * part + shaken + relaxing

    return motion.follow(x, lambda s: np.full_like(s, start + shift), rng.uniform(5, 7)), {}


def smooth_noise(rng, grid, tau_s):
    """Gaussian noise smoothed twice by an exponential of tau_s."""
    keep = np.exp(-(grid[1] - grid[0]) / tau_s)
    once = twice = 0.0
    out = []
    for shock in rng.standard_normal(len(grid)).tolist():
        once = keep * once + (1 - keep) * shock
        twice = keep * twice + (1 - keep) * once
        out.append(twice)
    return np.array(out)


def hand_that_never_rests(rng, hz):
    """Someone leans on it. Drawn again when 1.2 s of it span less than 1.5 tolerances."""
    grid = np.arange(0, 16.01, 0.02)
    for _ in range(200):
        z = smooth_noise(rng, grid, rng.uniform(0.3, 0.9))
        z *= rng.uniform(6, 20) / z.std()
        windows = np.lib.stride_tricks.sliding_window_view(z, 60)
        if np.ptp(windows, axis=1).min() >= 1.5:
            break
    return Motion(float(z[0])).follow(lambda s: np.interp(s, grid, z), None, 15.0), {}


def hand_that_adjusts(rng, hz):
    """Smooth turns of 0.25 to 1.2 s with short pauses and reversals, then hands off."""
    motion = Motion(rng.uniform(15, 80) * sign(rng)).wait()
    turns = int(rng.integers(3, 7))
    for k in range(turns):
        last = k == turns - 1
        start, takes = motion.at, rng.uniform(0.25, 1.2)
        target = rng.uniform(-3, 3) if last else start * rng.uniform(-0.25, 0.6)
        spring, tau = rng.uniform(-1.5, 1.5), rng.uniform(0.15, 0.6)

        def x(s, start=start, takes=takes, target=target, spring=spring, tau=tau):
            part = np.clip(s / takes, 0, 1)
            turned = part**3 * (10 - 15 * part + 6 * part * part)
            back = np.where(s > takes, spring * (1 - np.exp(-(s - takes) / tau)), 0.0)
            return start + (target + spring - start) * turned - back

        hold = rng.uniform(5, 7) if last else rng.uniform(0.05, 0.7)
        motion.follow(x, lambda s, at=target: np.full_like(s, at), hold, required=last)
    return motion, {}


def slow_turning(rng, hz):
    """A screw turned to and fro: flat turning points that are no rests."""
    f, a, phase = rng.uniform(0.15, 0.45), rng.uniform(10, 60), rng.uniform(0, 6.28)
    level = rng.uniform(-20, 20)
    motion = Motion(level)
    return motion.follow(lambda s: level + a * np.sin(2 * np.pi * f * s + phase), None, 15.0), {}


def stick_slip(rng, hz):
    """The drive creeps on while the plunger sticks and slips; then the drive stops."""
    motion, way = started(rng, 60), sign(rng)
    slips = int(rng.integers(4, 9))
    for k in range(slips):
        last = k == slips - 1
        hold = rng.uniform(5, 7) if last else rng.uniform(0.2, 2.2)
        target = motion.at + way * log_uniform(rng, 1.2, 8)
        motion.approach(target, log_uniform(rng, 0.01, 0.05), hold, required=last)
    return motion, {}


def irregular_sampling(rng, hz):
    """A fifth of the readings lost, two gaps of 0.3 to 1 s, times that jitter."""
    make = exponential_creep if rng.random() < 0.5 else clean_step
    return make(rng, hz)[0], {"irregular": True}


def lost_frames(rng, hz):
    """A tenth to a third of the frames never arrive, whole runs of 0.05 to 0.4 s of them."""
    make = slow_clicks if rng.random() < 0.5 else clean_step
    return make(rng, hz)[0], {"lost": rng.uniform(0.1, 0.33)}


def correlated_noise(rng, hz):
    tau = log_uniform(rng, 0.03, 0.15)
    motion = started(rng).approach(rng.uniform(-5, 5), tau, rng.uniform(7, 10))
    return motion, {
        "correlation_s": log_uniform(rng, 0.03, 0.25),
        "sd": log_uniform(rng, 0.05, 0.6),
    }


FAMILIES = {
    make.__name__.replace("_", " "): make
    for make in (
        clean_step, exponential_creep, logarithmic_creep, bounce, fast_clicks, slow_clicks,
        vibration, slow_vibration, beating_vibration, constant_digit, toggling_digit, wrong_frames,
        slow_drift, lock_nut, hand_that_adjusts, stick_slip, irregular_sampling, lost_frames,
        correlated_noise,
        fast_drift, hand_that_never_rests, slow_turning,
    )
}  # fmt: skip

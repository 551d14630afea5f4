/**
 * The value by ear.
 *
 * One meaning: a pitch above the middle says that the value is too high and the hand must lower it;
 * a pitch below the middle says that it is too low. The further off, the further the pitch is from
 * the middle. Outside the limits the tone pulses, the quicker the nearer it comes; inside it is
 * steady. Where nothing may be said there is silence: no fresh number, a doubt, nothing to adjust to.
 */

import { reachOf } from "./needle.js";

/** The pitch of the value that is aimed at, Hz. */
export const MIDDLE_HZ = 660;

/** A tone dies by itself so long after the last word of the bench, s. */
export const HOLD_S = 0.5;

/** How long a capture or a refusal is news, s. */
export const NEWS_FOR_S = 1.5;

// Inside the limits the pitch bends up to this many semitones, so that zero can be heard coming.
const INSIDE_BEND = 2;
// It leaps to this at the limit, and goes on to the last at the end of the scale.
const OUTSIDE_FROM = 4;
const OUTSIDE_TO = 16;
const SLOWEST_HZ = 2;
const QUICKEST_HZ = 9;

/**
 * What is heard of a view: `{ hz, pulse_hz, steady, gain }`, or null for silence.
 *
 * A verdict at rest goes before the place on the scale: steady is a promise, so what is too close to
 * call, or out by the rule of decision, pulses although it lies between the limits.
 *
 * @param view a BENCH view, or as much of it: deviation_mm, lower_mm, upper_mm, aim_mm, fresh,
 *   at_rest, outcome; doubt, step and unit where they are known.
 */
export function toneOf(view) {
  const value = view.deviation_mm;
  const reach = reachOf(view);
  if (!view.fresh || view.doubt || reach === null || !Number.isFinite(value)) return null;
  const aim = view.aim_mm ?? 0;
  const isHigh = value > aim;
  const limit = (isHigh ? view.upper_mm : view.lower_mm) ?? null;
  const hasLimits = Number.isFinite(view.lower_mm) || Number.isFinite(view.upper_mm);
  const off = Math.abs(value - aim);
  const room = limit === null ? (hasLimits ? Infinity : 0) : Math.abs(limit - aim);
  const end = Math.abs((isHigh ? reach.to : reach.from) - aim);
  const way = value === aim ? 0 : isHigh ? 1 : -1;
  if (off <= room && hasLimits) {
    const bend = way * INSIDE_BEND * Math.min(off / (Number.isFinite(room) ? room || 1 : end), 1);
    const isSure = !view.at_rest || view.outcome == null || view.outcome === "in";
    return tone(bend, isSure ? 0 : QUICKEST_HZ);
  }
  const share = Math.min((off - room) / (end - room), 1);
  const semitones = way * (OUTSIDE_FROM + (OUTSIDE_TO - OUTSIDE_FROM) * share);
  return tone(semitones, QUICKEST_HZ - (QUICKEST_HZ - SLOWEST_HZ) * share);
}

function tone(semitones, pulseHz) {
  const steady = pulseHz === 0;
  // A steady tone sounds louder than a broken one of the same strength.
  return { hz: MIDDLE_HZ * 2 ** (semitones / 12), pulse_hz: pulseHz, steady, gain: steady ? 0.6 : 1 };
}

/**
 * What happened between two views: "captured", "refused", or null.
 *
 * Ages run on from view to view; one that starts anew is news. What is there when the page opens is
 * none, nor what another gauge did.
 */
export function newsOf(before, now) {
  if (before === null || now === null || before.gauge !== now.gauge) return null;
  const isNew = (name) => {
    const [was, is] = [before[name] ?? Infinity, now[name] ?? Infinity];
    return is >= 0 && is < NEWS_FOR_S && is < was;
  };
  const [refused, captured] = [isNew("refused_ago_s"), isNew("captured_ago_s")];
  if (refused && captured) return now.refused_ago_s <= now.captured_ago_s ? "refused" : "captured";
  return refused ? "refused" : captured ? "captured" : null;
}

/** Loudness of a slider from 0 to 100 as a gain: equal steps sound equal, 0 is silence. */
export function gainOf(volume) {
  const share = Math.min(Math.max(volume, 0), 100) / 100;
  return share === 0 ? 0 : 10 ** (1.8 * (share - 1));
}

// A strike: from when (s), which pitch (Hz), for how long (s), and of which form.
const SOUNDS = {
  captured: [
    [0, 1046.5, 0.5, "sine"],
    [0.12, 1568, 0.9, "sine"],
  ],
  refused: [
    [0, 196, 0.18, "square"],
    [0.26, 146.8, 0.4, "square"],
  ],
};

/**
 * The loudspeaker: a thin shell that plays what the functions above say.
 *
 * Browsers let no page sound before somebody has touched it: `wake()` belongs into a press.
 * `analyser` is the AnalyserNode that all sound goes through, once there is one.
 */
export class Sound {
  #context = null;
  #parts = null;
  #volume = 70;
  #isOn = false;

  get analyser() {
    return this.#parts?.analyser ?? null;
  }

  /** Whether it would be heard now. */
  get isAwake() {
    return this.#context?.state === "running";
  }

  get context() {
    return this.#context;
  }

  /** Starts the loudspeaker, in a press. Resolves to whether it runs. */
  async wake() {
    try {
      this.#context ??= new AudioContext({ latencyHint: "interactive" });
      this.#parts ??= parts(this.#context);
      await this.#context.resume();
    } catch {
      return false; // no sound device, or none for pages
    }
    this.set(this.#isOn, this.#volume);
    return this.isAwake;
  }

  /** On or off, and how loud from 0 to 100. */
  set(isOn, volume) {
    this.#isOn = isOn;
    this.#volume = volume;
    if (this.#parts === null) return;
    const gain = isOn ? gainOf(volume) : 0;
    this.#parts.volume.gain.setTargetAtTime(gain, this.#context.currentTime, 0.01);
  }

  /** Plays what `toneOf` says; null is silence. Dies away by itself if it is not said again. */
  play(now) {
    if (this.#parts === null) return;
    const { oscillator, pulse, depth, base, hold } = this.#parts;
    const at = this.#context.currentTime;
    hold.gain.cancelScheduledValues(at);
    if (now === null) {
      hold.gain.setTargetAtTime(0, at, 0.008);
      return;
    }
    oscillator.frequency.setTargetAtTime(now.hz, at, 0.012);
    if (!now.steady) pulse.frequency.setTargetAtTime(now.pulse_hz, at, 0.02);
    depth.gain.setTargetAtTime(now.steady ? 0 : 0.5, at, 0.01);
    base.gain.setTargetAtTime(now.steady ? 1 : 0.5, at, 0.01);
    hold.gain.setTargetAtTime(0.5 * now.gain, at, 0.01);
    hold.gain.setTargetAtTime(0, at + HOLD_S, 0.01);
  }

  /** The chime of a capture, or the buzz of a refusal. */
  strike(name) {
    if (this.#parts === null) return;
    for (const [fromS, hz, forS, form] of SOUNDS[name] ?? []) {
      const at = this.#context.currentTime + fromS;
      const oscillator = new OscillatorNode(this.#context, { type: form, frequency: hz });
      const bell = new GainNode(this.#context, { gain: 0 });
      bell.gain.setValueAtTime(0, at);
      bell.gain.linearRampToValueAtTime(form === "square" ? 0.3 : 0.55, at + 0.008);
      bell.gain.exponentialRampToValueAtTime(0.001, at + forS);
      oscillator.connect(bell).connect(this.#parts.volume);
      oscillator.start(at);
      oscillator.stop(at + forS);
    }
  }
}

/** oscillator → pulses → hold → volume → analyser → loudspeaker. */
function parts(context) {
  const oscillator = new OscillatorNode(context, { type: "triangle", frequency: MIDDLE_HZ });
  const pulse = new OscillatorNode(context, { type: "sine", frequency: SLOWEST_HZ });
  // A sine bent almost to a square: pulses with soft edges, which do not click.
  const edge = new WaveShaperNode(context, {
    curve: Float32Array.from({ length: 257 }, (_, at) => Math.tanh((at - 128) / 20)),
  });
  const depth = new GainNode(context, { gain: 0 });
  const base = new GainNode(context, { gain: 1 });
  const hold = new GainNode(context, { gain: 0 });
  const volume = new GainNode(context, { gain: 0 });
  const analyser = new AnalyserNode(context, { fftSize: 8192, smoothingTimeConstant: 0 });
  pulse.connect(edge).connect(depth).connect(base.gain);
  oscillator.connect(base).connect(hold).connect(volume).connect(analyser);
  analyser.connect(context.destination);
  oscillator.start();
  pulse.start();
  return { oscillator, pulse, depth, base, hold, volume, analyser };
}

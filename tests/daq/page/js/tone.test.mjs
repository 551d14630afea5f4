import assert from "node:assert/strict";
import test from "node:test";
import { gainOf, MIDDLE_HZ, newsOf, toneOf } from "../../../../daq/page/static/tone.js";
import { view } from "./states.mjs";

const at = (mm, other = {}) =>
  toneOf({
    deviation_mm: mm, lower_mm: -0.05, upper_mm: 0.05, aim_mm: 0, fresh: true, at_rest: false, outcome: null, ...other,
  });

test("a value that is too high sounds above the middle pitch, one too low below it", () => {
  for (const mm of [0.051, 0.08, 0.1, 3]) {
    assert.ok(at(mm).hz > MIDDLE_HZ * 1.2, `${mm}`);
    assert.ok(at(-mm).hz < MIDDLE_HZ / 1.2, `${-mm}`);
  }
});

test("zero sounds at the middle pitch, steady", () => {
  assert.deepEqual(at(0), { hz: MIDDLE_HZ, pulse_hz: 0, steady: true, gain: 0.6 });
});

test("the pitch rises with the value all the way, from end to end of the scale", () => {
  const pitches = Array.from({ length: 201 }, (_, step) => at((step - 100) / 1000).hz);
  for (let step = 1; step < pitches.length; step += 1) assert.ok(pitches[step] > pitches[step - 1], `${step}`);
});

test("pulses quicken towards the limits and are steady inside them", () => {
  const pulses = [0.2, 0.1, 0.09, 0.07, 0.051].map((mm) => at(mm).pulse_hz);
  assert.deepEqual(pulses.slice(0, 2), [2, 2]); // beyond the scale: as at its end
  for (let step = 2; step < pulses.length; step += 1) assert.ok(pulses[step] > pulses[step - 1]);
  for (const mm of [-0.05, -0.02, 0.03, 0.05]) assert.equal(at(mm).steady, true, `${mm}`);
  for (const mm of [-0.051, 0.051]) assert.equal(at(mm).steady, false, `${mm}`);
});

test("far beyond the scale the pitch stays where ears hear it", () => {
  assert.ok(at(5000).hz < 2000 && at(-5000).hz > 200);
});

test("a verdict at rest goes before the place: only in is steady", () => {
  assert.equal(at(0.049, { at_rest: true, outcome: "in" }).steady, true);
  for (const outcome of ["too close to call", "high", "low"]) {
    assert.equal(at(0.049, { at_rest: true, outcome }).steady, false, outcome);
  }
});

test("what must not be shown is not heard", () => {
  assert.equal(at(0.02, { fresh: false }), null);
  assert.equal(at(null), null);
  assert.equal(at(NaN), null);
  assert.equal(at(0.02, { doubt: "the unit changed" }), null);
  for (const name of ["no-signal", "cable-out", "doubt", "no-spec"]) assert.equal(toneOf(view(name)), null, name);
});

test("the states of the bench sound as they should", () => {
  assert.ok(toneOf(view("moving")).hz > MIDDLE_HZ);
  assert.ok(toneOf(view("far-off")).hz < MIDDLE_HZ);
  assert.equal(toneOf(view("in")).steady, true);
  assert.equal(toneOf(view("too-close-to-call")).steady, false);
});

test("limits that leave zero outside: the aim is the middle", () => {
  const aside = { lower_mm: 0.01, upper_mm: 0.03, aim_mm: 0.02 };
  assert.equal(at(0.02, aside).hz, MIDDLE_HZ);
  assert.ok(at(0, aside).hz < MIDDLE_HZ && !at(0, aside).steady);
});

test("with one limit the side without one is inside", () => {
  const one = { lower_mm: null };
  assert.equal(at(-4, one).steady, true);
  assert.equal(at(0.06, one).steady, false);
});

test("without limits nothing is steady: nothing says what is near enough", () => {
  const none = { lower_mm: null, upper_mm: null };
  assert.equal(at(0, none).steady, false);
  assert.ok(at(0.002, none).pulse_hz > at(0.02, none).pulse_hz);
});

test("a capture and a refusal are heard once, when they happen", () => {
  const before = view("in", { captured_ago_s: null });
  const just = view("captured", { captured_ago_s: 0.01 });
  assert.equal(newsOf(before, just), "captured");
  assert.equal(newsOf(just, view("captured", { captured_ago_s: 0.06 })), null);
  assert.equal(newsOf(view("captured", { captured_ago_s: 0.9 }), just), "captured");
  assert.equal(newsOf(before, view("refused", { refused_ago_s: 0.02 })), "refused");
});

test("what happened before the page was open, or on another gauge, is not heard", () => {
  const just = view("captured", { captured_ago_s: 0.01 });
  assert.equal(newsOf(null, just), null);
  assert.equal(newsOf(just, null), null);
  assert.equal(newsOf(view("in", { gauge: "BENCH 4" }), just), null);
  assert.equal(newsOf(view("in"), view("captured", { captured_ago_s: 9 })), null);
});

test("the slider's zero is silence, and its steps sound equal", () => {
  assert.equal(gainOf(0), 0);
  assert.equal(gainOf(100), 1);
  const ratio = gainOf(60) / gainOf(50);
  assert.ok(Math.abs(gainOf(90) / gainOf(80) - ratio) < 1e-12 && ratio > 1);
});

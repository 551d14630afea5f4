import assert from "node:assert/strict";
import test from "node:test";
import { calibrationFace, QUESTIONS } from "../../../../../daq/page/static/calibration_face.js";
import { changed, WORKS } from "./works.mjs";

const face = (name, other = {}) => calibrationFace({ state: WORKS[name], ...other });
const ALL = Object.keys(WORKS).filter((name) => name.startsWith("cal-"));

test("the next block is what stands large", () => {
  const { large, words, go } = face("cal-point");
  assert.match(large, /^BLOCKS? [\d. +]+$/);
  assert.equal(words, WORKS["cal-point"].calibration.words);
  assert.deepEqual([go.label, go.can], ["Take it", true]);
  assert.equal(face("cal-zero").go.label, "Zero is set");
});

test("the temperature is asked for at first, and only then", () => {
  assert.equal(face("cal-temperature").field, "Gauge and standard, °C");
  assert.equal(face("cal-temperature").go.label, "Write it down");
  for (const name of ALL.slice(1)) assert.equal(face(name).field, "", name);
});

test("at the result it asks whether the gauge was adjusted, and going on is no answer", () => {
  const { atResult, others, go, result } = face("cal-result");
  assert.deepEqual([atResult, others.adjusted, others["not adjusted"], go.can], [true, true, true, false]);
  assert.ok(result.characteristics.length > 2);
  assert.deepEqual([face("cal-end").others["not adjusted"], face("cal-end").go.can], [false, true]);
});

test("insisting is offered only where there is a value to take", () => {
  assert.ok(face("cal-point").others.insist);
  const state = WORKS["cal-point"];
  assert.ok(!calibrationFace({ state: { ...state, view: { ...state.view, can_capture: false } } }).others.insist);
  assert.deepEqual([QUESTIONS.insist.reason, QUESTIONS.insist.by], [true, true]);
});

test("the terminal's key for insisting is not named beside a button that does it", () => {
  const notice = "is it the block? (o takes it all the same)";
  assert.equal(calibrationFace({ state: changed("cal-point", "calibration", { notice }) }).notice, "Is it the block?");
});

test("a silent bench and a screen that looks on have no answers", () => {
  for (const name of ALL) {
    const silent = face(name, { silentWhy: "It does not answer." });
    const viewer = calibrationFace({ state: { ...WORKS[name], may_act: false } });
    for (const { go, others } of [silent, viewer]) {
      assert.equal(go.can, false, name);
      assert.ok(Object.values(others).every((can) => !can), name);
    }
    assert.equal(silent.notice, "It does not answer.");
  }
});

test("at a bench without a calibration the page says so", () => {
  assert.equal(calibrationFace({ state: WORKS["job-plate"] }).large, "NO CALIBRATION");
  assert.equal(calibrationFace({ state: null }).large, "CONNECTING");
});

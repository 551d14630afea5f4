import assert from "node:assert/strict";
import test from "node:test";
import { labelsOf, millimetres, reachOf, scaleOf } from "../../../../daq/page/static/needle.js";
import { STATES, view } from "./states.mjs";

const near = (actual, expected) => assert.ok(Math.abs(actual - expected) < 1e-9, `${actual} is not ${expected}`);

test("the scale spans the limits and half their span more on either side, whatever the value is", () => {
  for (const name of ["moving", "in", "far-off", "beyond-scale"]) {
    const { from, to } = reachOf(view(name));
    near(from, -0.1);
    near(to, 0.1);
  }
});

test("the walls stand on the limits and the aim in the middle", () => {
  const { lower, upper, aim } = scaleOf(view("moving"));
  near(lower, 0.25);
  near(upper, 0.75);
  near(aim, 0.5);
});

test("the needle's place is the value's, on its own side of every limit", () => {
  near(scaleOf(view("moving")).needle, 0.9);
  for (const mm of [-0.0501, -0.05, -0.0499, 0.0499, 0.05, 0.0501]) {
    const scale = scaleOf(view("moving", { deviation_mm: mm }));
    assert.equal(scale.needle < scale.lower, mm < -0.05, `${mm}`);
    assert.equal(scale.needle > scale.upper, mm > 0.05, `${mm}`);
  }
});

test("a value beyond the scale has no place on it, and its side is said", () => {
  assert.deepEqual(pick(scaleOf(view("beyond-scale"))), { needle: null, beyond: "right", band: null });
  assert.deepEqual(pick(scaleOf(view("far-off"))), { needle: null, beyond: "left", band: null });
});

test("without a fresh number there is no needle, no arrow and no band, and the walls stay", () => {
  for (const name of ["no-signal", "cable-out"]) {
    const scale = scaleOf(view(name));
    assert.deepEqual(pick(scale), { needle: null, beyond: "", band: null });
    near(scale.lower, 0.25);
  }
  // Even if a number came with it.
  assert.deepEqual(pick(scaleOf(view("in", { fresh: false }))), { needle: null, beyond: "", band: null });
});

test("at rest the band is as wide as U on either side of the settled value", () => {
  const { band } = scaleOf(view("in")); // +0.0020 mm with U = 0.0012 mm
  near(band[0], (0.1 + 0.0008) / 0.2);
  near(band[1], (0.1 + 0.0032) / 0.2);
  assert.equal(scaleOf(view("moving")).band, null);
});

test("in inches the scale is the same, and U is read as inches", () => {
  const inch = view("inch");
  near(scaleOf(inch).needle, (0.1 + 0.0031 * 25.4) / 0.2);
  near(millimetres("0.0001 in", "in"), 0.00254);
});

test("with one limit there is one wall", () => {
  const scale = scaleOf(view("one-limit"));
  assert.equal(scale.lower, null);
  assert.ok(scale.upper > scale.aim && scale.upper < 1);
});

test("limits that leave zero outside put the aim between them", () => {
  const scale = scaleOf(view("aim-aside"));
  assert.ok(scale.lower < scale.aim && scale.aim < scale.upper);
  assert.ok(scale.needle < scale.lower);
  assert.equal(labelsOf(view("aim-aside")).aim, "aim");
});

test("without a specification there is no scale", () => {
  assert.equal(scaleOf(view("no-spec")), null);
});

test("the figures over the walls are those of the words, to the last digit", () => {
  for (const [name, { view: each }] of Object.entries(STATES)) {
    const { lower, upper } = labelsOf(each);
    for (const label of [lower, upper].filter(Boolean)) assert.ok(each.limits.includes(label), name);
    assert.equal(lower !== "", each.lower_mm !== null, name);
    assert.equal(upper !== "", each.upper_mm !== null, name);
  }
  assert.deepEqual(labelsOf(view("one-limit")), { lower: "", upper: "+0.050", aim: "0" });
});

function pick({ needle, beyond, band }) {
  return { needle, beyond, band };
}

import assert from "node:assert/strict";
import test from "node:test";
import { curveOf, curveWords, legend } from "../../../../../daq/page/static/curve.js";
import { reach, signed, ticks } from "../../../../../daq/page/static/plot.js";
import { traceOf, traceWords } from "../../../../../daq/page/static/trace.js";
import { WORKS } from "./works.mjs";

const curve = WORKS["cal-point"].calibration.curve;
const left = WORKS["cal-left"].calibration.curve;
const trace = WORKS.record.trace;

test("ticks are round, within the ends, and no more than asked for", () => {
  assert.deepEqual(ticks(0, 10, 5).map(({ digits }) => digits), ["0", "2", "4", "6", "8", "10"]);
  assert.deepEqual(ticks(-0.004, 0.006, 5).map(signed).map(({ digits }) => digits), ["−0.004", "−0.002", "0", "+0.002", "+0.004", "+0.006"]);
  assert.deepEqual(ticks(0, 0.3, 3).map(({ digits }) => digits), ["0", "0.1", "0.2", "0.3"]);
  for (const [low, high] of [[0, 0], [1, 0], [0, Infinity], [NaN, 1]]) assert.deepEqual(ticks(low, high), []);
});

test("a reach has room on both sides, also of one value", () => {
  const { low, high } = reach([5]);
  assert.ok(low < 5 && high > 5);
  assert.deepEqual(reach([0, 10], 0.1), { low: -1, high: 11 });
});

test("every point of a curve lies in its frame, higher for a larger error", () => {
  for (const each of [curve, left]) {
    const { lines, frame, limits } = curveOf(each);
    const places = lines.flatMap((line) => line.places);
    assert.equal(places.length, each.points.length);
    for (const [x, y] of places) {
      assert.ok(x >= frame.left && x <= frame.right && y >= frame.top && y <= frame.bottom);
    }
    assert.ok(limits[0].upper < limits[0].lower);
  }
  const at = (error_mm) => curveOf({ ...curve, points: [{ ...curve.points[0], error_mm }] }).lines[0].places[0][1];
  assert.ok(at(0.002) < at(-0.002));
});

test("an error far outside the limits is still in the picture", () => {
  const far = { ...curve, points: [...curve.points, { ...curve.points[0], at_mm: 5, error_mm: 0.5 }] };
  const { lines, frame } = curveOf(far);
  assert.ok(lines.flatMap(({ places }) => places).every(([, y]) => y >= frame.top && y <= frame.bottom));
});

test("the next place is marked where the next block is", () => {
  const { next, frame } = curveOf(curve);
  assert.equal(next, frame.x(curve.next_mm));
  assert.equal(curveOf({ ...curve, next_mm: null }).next, null);
});

test("each series has a form of its own, and the run before is another line", () => {
  const shown = legend(left);
  assert.ok(shown.some(({ isOld }) => isOld) && shown.some(({ isOld }) => !isOld));
  assert.ok(shown.every(({ words }) => /^as (found|left), (up|down|again)$/.test(words)));
  const marks = new Map(shown.map(({ words, mark }) => [words.split(", ")[1], mark]));
  assert.equal(new Set(marks.values()).size, marks.size);
});

test("repeats are no line: they are values of one place", () => {
  const repeats = curveOf({ ...curve, points: curve.points.map((point) => ({ ...point, way: "repeat" })) });
  assert.deepEqual(repeats.lines.map(({ path }) => path), [""]);
});

test("the curve is said in words too", () => {
  assert.match(curveWords(curve), /^Errors as found, \d+ points\. The largest error is [+-]?[\d.]+ mm at [\d.]+ mm, (up|down|repeat)\. Every error so far is within the limits\./);
  assert.match(curveWords({ ...curve, points: [], within: false }), /0 points\. Some errors are outside/);
});

test("the readings of a trace lie in its frame and in their order", () => {
  const { dots, frame, spread, value } = traceOf(trace);
  assert.equal(dots.length, 3);
  assert.ok(dots.every(([x, y]) => x >= frame.left && x <= frame.right && y >= frame.top && y <= frame.bottom));
  assert.deepEqual(dots.map(([x]) => x), dots.map(([x]) => x).toSorted((a, b) => a - b));
  assert.ok(spread[0] < value && value < spread[1]);
});

test("limits near the value are drawn, those far off are said in words", () => {
  assert.deepEqual(traceOf(trace).marks, []);
  assert.match(traceWords(trace), /Not in the picture: lower 12\.2000 mm, nominal 12\.3000 mm, upper 12\.4000 mm\.$/);
  const near = WORKS["record-near"].trace;
  assert.deepEqual(traceOf({ ...near, nominal_mm: null }).beyond, ["lower 12.2877 mm"]);
  assert.deepEqual(traceOf(near).marks.map(({ name }) => name), ["upper"]);
});

test("one reading alone makes a picture as well", () => {
  const { dots, along } = traceOf({ ...trace, points: [[0, 12.34]] });
  assert.ok(dots[0].every(Number.isFinite) && along.length > 0);
});

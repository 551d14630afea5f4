import assert from "node:assert/strict";
import test from "node:test";
import { cells, MARKS, NARROWEST, ratioFor, strokes, WIDEST } from "../../../../daq/page/static/numeral.js";

const at = (text, ratio = 0.6) => cells(text, ratio).placed.map(({ at: left }) => left);

test("a sign that comes or goes moves no figure", () => {
  assert.deepEqual(at("  0.080"), at(" +0.080"));
  assert.deepEqual(at(" -0.080"), at(" +0.080"));
  assert.deepEqual(at(" 0.080"), at("+0.080"));
});

test("every figure has the same width, so that another figure moves nothing", () => {
  assert.deepEqual(at(" +1.111"), at(" +8.880"));
  assert.equal(cells("+1.111", 0.6).width, cells("+8.888", 0.6).width);
});

test("each figure has a drawing of its own, within its cell", () => {
  const drawings = [..."0123456789+-."].map((figure) => strokes(figure, 60));
  assert.equal(new Set(drawings).size, drawings.length);
  for (const drawing of drawings) {
    assert.match(drawing, /^M[ \dAaCHLVMZh.-]+$/);
    for (const [number] of drawing.matchAll(/-?\d+(\.\d+)?/g)) {
      assert.ok(Number(number) >= 0 && Number(number) <= 100, drawing);
    }
  }
});

test("what is no figure is not drawn as one", () => {
  for (const other of [" ", "e", "N", "∞", ","]) assert.equal(strokes(other, 60), "");
});

test("figures are as wide as the box allows, between the narrowest and the widest that read well", () => {
  assert.equal(ratioFor("+0.080", 10000, 100), WIDEST);
  assert.equal(ratioFor("+0.080", 100, 100), NARROWEST);
  const between = ratioFor("+0.080", 1050, 320);
  assert.ok(between > NARROWEST && between < WIDEST);
  const { width, height } = cells("+0.080", between);
  assert.ok(Math.abs(width / height - 1050 / 320) < 1e-9, "it fills the box");
  assert.equal(ratioFor("+0.080", 0, 0), WIDEST, "a box that is not laid out yet is no error");
});

test("clockwise and anticlockwise, up and down are drawn as mirror images", () => {
  const numbers = (path) => [...path.matchAll(/[A-Z][\d. ]+/g)].map(([part]) => part);
  assert.notEqual(MARKS["↷"], MARKS["↶"]);
  assert.equal(numbers(MARKS["↷"]).length, numbers(MARKS["↶"]).length);
  const tip = (path) => Number(path.match(/M\d+ \d+L(\d+) \d+/)[1]);
  assert.equal(tip(MARKS["↷"]) + tip(MARKS["↶"]), 100);
});

import assert from "node:assert/strict";
import test from "node:test";
import { keyWish, PressFilter, QUIET_MS } from "../../../../daq/page/static/buttons.js";
import { keep, kept } from "../../../../daq/page/static/keep.js";
import { nextScheme, scheme, sleepWords } from "../../../../daq/page/static/screen.js";

test("space, Enter and page down capture, c confirms, nothing else does anything", () => {
  for (const key of [" ", "Enter", "PageDown"]) assert.equal(keyWish({ key }), "capture");
  for (const key of ["c", "C"]) assert.equal(keyWish({ key }), "confirm");
  for (const key of ["q", "PageUp", "a", "Escape", "Tab"]) assert.equal(keyWish({ key }), null);
});

test("a key held down asks once", () => {
  assert.equal(keyWish({ key: " ", repeat: true }), null);
});

test("a shortcut of the browser is none of ours", () => {
  for (const held of ["ctrlKey", "altKey", "metaKey"]) assert.equal(keyWish({ key: "c", [held]: true }), null);
});

test("keys in a field or a dialogue are the field's", () => {
  for (const key of [" ", "Enter", "PageDown", "c"]) assert.equal(keyWish({ key }, { writes: true }), null);
});

test("a button reached by the keyboard keeps space and Enter; page down still captures", () => {
  assert.equal(keyWish({ key: " " }, { works: true }), null);
  assert.equal(keyWish({ key: "Enter" }, { works: true }), null);
  assert.equal(keyWish({ key: "PageDown" }, { works: true }), "capture");
});

test("letters can be switched off; a foot switch cannot", () => {
  assert.equal(keyWish({ key: "c" }, {}, false), null);
  assert.equal(keyWish({ key: " " }, {}, false), "capture");
});

test("a bouncing foot counts once, and a second press after a pause counts", () => {
  const filter = new PressFilter();
  const seen = [0, 80, 200, 420, 420 + QUIET_MS].map((ms) => filter.counts("capture", ms));
  assert.deepEqual(seen, [true, false, false, false, true]);
  assert.equal(filter.counts("confirm", 430), true, "another key is another press");
});

test("what a screen remembers comes back, and nothing of another kind does", () => {
  const store = new Map();
  const box = { getItem: (key) => store.get(key) ?? null, setItem: (key, value) => store.set(key, value) };
  assert.equal(keep("volume", 35, box), true);
  assert.equal(kept("volume", 70, box), 35);
  assert.equal(kept("sound", false, box), false);
  for (const wrong of ['"loud"', "null", "{", "[]"]) {
    store.set("restpoint.volume", wrong);
    assert.equal(kept("volume", 70, box), 70, wrong);
  }
});

test("a browser that keeps nothing is no error", () => {
  const shut = { getItem: () => { throw new Error("no"); }, setItem: () => { throw new Error("no"); } };
  assert.equal(kept("volume", 70, shut), 70);
  assert.equal(keep("volume", 35, shut), false);
  assert.equal(kept("volume", 70, null), 70);
  assert.equal(scheme(), "auto");
});

test("the colours go round", () => {
  assert.deepEqual(["auto", "light", "dark"].map(nextScheme), ["light", "dark", "auto"]);
});

test("plain HTTP in a network is said to let the screen sleep, and what to do", () => {
  assert.match(sleepWords(false, false), /plain HTTP.*charges.*--tls-cert/);
  assert.match(sleepWords(true, false), /charges/);
  assert.equal(sleepWords(true, true), "");
});

import assert from "node:assert/strict";
import test from "node:test";
import {
  figure, figuresOf, forButtons, noticeOf, oneLine, REFUSED_FOR_S, verdictLook, whenWords,
} from "../../../../../daq/page/static/work_words.js";

test("keys of the terminal are named as the buttons that stand for them", () => {
  assert.equal(
    forButtons("press b to measure it again, or o to let it stand with a reason"),
    "press Back to measure it again, or Let it stand to let it stand with a reason",
  );
  assert.equal(
    forButtons("They do not go together. Press a to set injector 3 anew, or go on as they are."),
    "They do not go together. Press Set anew to set injector 3 anew, or go on as they are.",
  );
  assert.equal(forButtons("look at it, then press c"), "look at it, then press Confirm gauge");
  assert.equal(
    forButtons("say both temperatures in °C, part then gauge, as: go 31 22.5"),
    "say both temperatures in °C, part then gauge",
  );
  assert.equal(forButtons("Bar on 120° or so to cylinder a to b."), "Bar on 120° or so to cylinder a to b.");
});

test("a figure is a plain number, with a comma or a point", () => {
  assert.deepEqual(["36.5", " 36,5 ", "-3", "−3", "+1.25"].map(figure), ["36.5", "36.5", "-3", "-3", "+1.25"]);
  for (const text of ["", "warm", "1e3", "1.2.3", "1,234.5", "36.5°", "1234567"]) assert.equal(figure(text), null, text);
});

test("a field without a figure is named", () => {
  const both = (gauge) => figuresOf([{ name: "Part, °C", text: "31" }, { name: "Gauge, °C", text: gauge }]);
  assert.deepEqual(both("22,5"), { figures: ["31", "22.5"], why: "" });
  assert.deepEqual(both(""), { figures: [], why: "Gauge, °C: type a number, as 36.5." });
  assert.deepEqual(figuresOf([]), { figures: [], why: "" });
});

test("a time of today is a time, an older one has its day", () => {
  const now = new Date(2026, 2, 2, 15, 0);
  assert.equal(whenWords(new Date(2026, 2, 2, 7, 5).toISOString(), now), "07:05");
  assert.equal(whenWords(new Date(2026, 2, 1, 7, 5).toISOString(), now), "2026-03-01 07:05");
  assert.equal(whenWords("no time", now), "");
});

test("a refusal is shown before what the work says, and passes", () => {
  const words = (agoS) => noticeOf({ refused: { why: "hold still", agoS }, notice: "cable out" });
  assert.deepEqual(words(0), { words: "Hold still", kind: "refused" });
  assert.deepEqual(words(REFUSED_FOR_S), { words: "Cable out", kind: "notice" });
  assert.deepEqual(noticeOf({}), { words: "", kind: "" });
  assert.equal(noticeOf({ silentWhy: "It does not answer.", notice: "x" }).words, "It does not answer.");
});

test("a reason becomes one line", () => {
  assert.equal(oneLine("  loose\n clamp\t"), "loose clamp");
});

test("every verdict has a mark of its own where two could be taken for each other", () => {
  const marks = ["in", "low", "high", "too close to call", "skipped", "stands", "now", "to do", "again"].map(
    (word) => verdictLook(word).mark,
  );
  assert.equal(new Set(marks).size, marks.length);
  assert.deepEqual(verdictLook("anything else"), { mark: "", mood: "" });
});

import assert from "node:assert/strict";
import test from "node:test";
import {
  ANSWERS_A_PRESS, askedBy, chainWords, flawOf, footOf, goesOn, hashWords, pathOf, questionOf, recordOf, utcWords,
} from "../../../../../daq/page/static/logbook_face.js";
import { WORKS } from "./works.mjs";

const { records: answer, record } = WORKS;

test("a question has only the fields that are filled, and comes back from the address", () => {
  assert.equal(questionOf({ q: " injector 4 ", kind: "job result", day: "", before: null }), "q=injector+4&kind=job+result");
  assert.equal(questionOf({ before: 17 }), "before=17");
  assert.deepEqual(askedBy("?q=injector+4&kind=job+result"), { q: "injector 4", kind: "job result", day: "" });
  assert.deepEqual(askedBy(""), { q: "", kind: "", day: "" });
  assert.equal(askedBy(`?${questionOf({ q: "50 % & <b>" })}`).q, "50 % & <b>");
});

test("it asks on by itself while nothing was found, and not for ever", () => {
  assert.ok(goesOn({ next: 100 }, 0, 1));
  assert.ok(!goesOn({ next: 100 }, 3, 1));
  assert.ok(!goesOn({ next: null }, 0, 1));
  assert.ok(!goesOn({ next: 100 }, 0, ANSWERS_A_PRESS));
});

test("the foot says how far back was looked", () => {
  assert.equal(footOf({ next: null, looked_to: 1, last: 9 }, 9), "9 shown, looked to the first record.");
  assert.equal(footOf({ next: 41, looked_to: 41, last: 90 }, 0), "Nothing found, looked back to record 41 of 90.");
});

test("a record leads to its page and its page names it", () => {
  for (const row of answer.records) assert.equal(recordOf(pathOf(row)), String(row.sequence));
  assert.equal(recordOf("/record/"), "");
  assert.equal(recordOf("/record/%E0%A4%A"), "");
  assert.equal(recordOf("/record/a%2Fb"), "a/b");
});

test("a flaw is told in words", () => {
  assert.equal(flawOf(record), "");
  assert.equal(flawOf({ intact: false, readable: true }), "does not fit its hash");
  assert.equal(flawOf({ intact: true, readable: false }), "not readable here");
  assert.match(chainWords({ ...record, intact: false }), /does NOT fit/);
  assert.match(chainWords(record), /^It fits its own hash\. Record 2 of 4\./);
});

test("a hash keeps every digit in groups", () => {
  assert.equal(hashWords(record.hash).replaceAll(" ", ""), record.hash);
  assert.equal(hashWords(record.hash).split(" ").length, 8);
});

test("a time is shown to the second, and what is none as it stands", () => {
  assert.equal(utcWords("2026-03-01T08:15:30.250000Z"), "2026-03-01 08:15:30");
  assert.equal(utcWords("no time"), "no time");
});

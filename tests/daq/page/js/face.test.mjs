import assert from "node:assert/strict";
import test from "node:test";
import { faceOf, setting } from "../../../../daq/page/static/face.js";
import { STATES, view } from "./states.mjs";

const face = (name, other = {}) => faceOf({ state: STATES[name], ...other });

test("the number, the way and how far are those of the bench", () => {
  const { digits, unit, headline, mark, words, motion, capture } = face("moving");
  assert.deepEqual(
    { digits, unit, headline, mark, words, motion, can: capture.can },
    {
      digits: " +0.080", unit: "mm", headline: ["CLOCKWISE 1/8"], mark: "↷", words: "clockwise 1/8 turn (45°)",
      motion: "moving", can: true,
    },
  );
});

test("at rest it says the settled value with its uncertainty and how many readings", () => {
  const { facts, form, words } = face("in");
  assert.equal(facts.settled, "+0.0020 mm");
  assert.equal(facts.U, "0.0012 mm");
  assert.equal(facts.n, "41");
  assert.equal(facts.limits, "-0.050 mm to +0.050 mm");
  assert.equal(form, "slab");
  assert.equal(words, "leave it · within limits");
});

test("a gauge that is silent leaves no number, sign, needle, unit or capture", () => {
  for (const name of ["no-signal", "cable-out"]) {
    const blank = face(name);
    assert.deepEqual(
      [blank.digits, blank.unit, blank.mark, blank.motion, blank.view.fresh, blank.capture.can],
      [null, "", "", "", false, false],
    );
    assert.deepEqual(blank.headline, STATES[name].view.headline.texts);
    assert.ok(blank.loud.length > 10, "and it says what to do");
  }
});

test("digits that come with a view that is not fresh are not shown", () => {
  const stale = faceOf({ state: { ...STATES.in, view: view("in", { fresh: false, can_capture: false }) } });
  assert.deepEqual([stale.digits, stale.view.fresh, stale.mark], [null, false, ""]);
});

test("a bench that is silent leaves nothing either, whatever the last state was", () => {
  for (const name of Object.keys(STATES)) {
    const blank = face(name, { silentWhy: "It does not answer." });
    assert.deepEqual(
      [blank.digits, blank.view, blank.mark, blank.headline, blank.capture.can, blank.confirm, blank.facts.settled],
      [null, null, "", ["NO LINK"], false, "none", "–"],
      name,
    );
    assert.equal(blank.loud, "It does not answer.");
  }
  assert.deepEqual(face("in", { silentWhy: "The bench was stopped.", ended: true }).headline, ["ENDED"]);
});

test("before the first state the page says that it connects, and captures nothing", () => {
  const first = faceOf({ state: null });
  assert.deepEqual(first.headline, ["CONNECTING"]);
  assert.equal(first.capture.can, false);
});

test("a refusal's words are large for a while, and then quiet", () => {
  assert.match(face("refused").loud, /still moving/);
  const later = { ...STATES.refused, view: view("refused", { refused_ago_s: 7 }) };
  assert.equal(faceOf({ state: later }).loud, "");
  assert.match(faceOf({ state: later }).words, /still moving/);
});

test("what the bench refused to this screen holds the headline, then only its words, then neither", () => {
  const refused = (agoS) => face("moving", { refused: { why: "This screen may only look on.", agoS } });
  assert.deepEqual(refused(0.1).headline, ["REFUSED"]);
  assert.equal(refused(0.1).mark, "×");
  assert.deepEqual(refused(3).headline, ["CLOCKWISE 1/8"]);
  assert.equal(refused(3).loud, "This screen may only look on.");
  assert.equal(refused(7).loud, "");
});

test("no news covers what hides the number, and a press in vain is told the reason", () => {
  const why = face("no-signal").capture.why;
  assert.match(why, /is the gauge on/);
  const pressed = face("no-signal", { refused: { why, agoS: 0.1 } });
  assert.deepEqual([pressed.headline, pressed.loud], [["NO SIGNAL"], why]);
});

test("a doubt takes way and capture, and offers to confirm, in words for a screen without keys", () => {
  const doubt = face("doubt");
  assert.equal(doubt.confirm, "ready");
  assert.equal(doubt.capture.can, false);
  assert.match(doubt.loud, /press Confirm$/);
  assert.doesNotMatch(doubt.words, /clockwise/);
});

test("a screen that may only look on cannot capture or confirm, and says so", () => {
  const looker = (name) => faceOf({ state: { ...STATES[name], may_act: false } });
  assert.equal(looker("in").capture.can, false);
  assert.match(looker("in").capture.why, /only look/);
  assert.equal(looker("doubt").confirm, "viewer");
});

test("work that takes no capture just now says so, and not that the gauge is at fault", () => {
  const waits = faceOf({ state: { ...STATES.in, view: view("in", { can_capture: false }) } });
  assert.equal(waits.capture.can, false);
  assert.match(waits.capture.why, /at this point of the work/);
});

test("what the gauge says of itself and how it stands is said", () => {
  const battery = face("battery");
  assert.match(battery.words, /gauge: battery low/);
  assert.equal(battery.standing, "due in 3 days");
});

test("without a specification nothing is said of limits but that there are none", () => {
  const none = face("no-spec");
  assert.equal(none.digits, " +4.137");
  assert.equal(none.facts.limits, "no spec");
  assert.equal(none.target, "");
});

test("work without a gauge shows no number", () => {
  const none = faceOf({ state: { ...STATES.in, view: null } });
  assert.deepEqual([none.digits, none.view, none.capture.can], [null, null, false]);
});

const widthOf = (text) => 0.6 * text.length;

test("a headline is set in two lines where that makes it clearly larger", () => {
  assert.deepEqual(setting(["CLOCKWISE 1/8"], widthOf, 1200, 120).lines, ["CLOCKWISE 1/8"]);
  assert.deepEqual(setting(["CLOCKWISE 1/8"], widthOf, 700, 260).lines, ["CLOCKWISE", "1/8"]);
});

test("a headline never leaves its box", () => {
  for (const [wide, high] of [[1200, 120], [700, 260], [300, 300], [2400, 200]]) {
    for (const { view: { headline } } of Object.values(STATES)) {
      const { lines, size } = setting(headline.texts, widthOf, wide, high);
      assert.ok(Math.max(...lines.map(widthOf)) * size <= wide + 1e-6);
      assert.ok(lines.length * size * 0.98 <= high + 1e-6);
    }
  }
});

test("a shorter text is taken only where it is much larger", () => {
  const texts = ["ANTICLOCKWISE 2 3/8", "ANTICLOCK 2 3/8", "ANTICLOCKWISE 2+", "ANTICLOCK 2+"];
  assert.equal(setting(texts, widthOf, 1200, 110).lines.join(" "), texts[0]);
  assert.notEqual(setting(texts, widthOf, 300, 110).lines.join(" "), texts[0]);
});

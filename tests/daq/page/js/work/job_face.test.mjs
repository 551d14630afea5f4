import assert from "node:assert/strict";
import test from "node:test";
import { angleWords, goWish, historyWords, jobFace, QUESTIONS } from "../../../../../daq/page/static/job_face.js";
import { changed, WORKS } from "./works.mjs";

const face = (name, other = {}) => jobFace({ state: WORKS[name], ...other });
const JOBS = Object.keys(WORKS).filter((name) => /^job-\w+$/.test(name));

test("what is to be done stands in the words of the bench", () => {
  const { title, headline, words, go, hasGauge } = face("job-plate");
  assert.equal(headline, "READ PLATE");
  assert.equal(words, WORKS["job-plate"].job.words);
  assert.equal(title, WORKS["job-plate"].job.title);
  assert.deepEqual([go.label, go.can, hasGauge], ["The plate says so", true, false]);
});

test("how far to bar stands with the headline while it is to be barred", () => {
  const crank = face("job-crank");
  assert.match(crank.headline, /^BAR ON \d+(\.\d)?°$/);
  assert.ok(crank.crank.is_now);
  assert.equal(face("job-adjust").crank.is_now, false);
  assert.deepEqual([120, 102.857, 0].map(angleWords), ["120°", "102.9°", "0°"]);
});

test("where we are is the step of the sheet and how many of it are done", () => {
  assert.equal(face("job-liner").where, "Step 1 of 9: Liner projection above the deck, 1 of 6");
  assert.equal(face("job-plate").where, "");
  assert.equal(face("job-liner").progress, "1 of 39 done");
});

test("steps that are done stand apart from those that are left", () => {
  const { steps, doneSteps } = face("job-adjust");
  assert.equal(steps.length + doneSteps.length, 9);
  assert.ok(doneSteps.length >= 4);
  assert.equal(steps.filter(({ state }) => state === "now").length, 1);
  assert.equal(face("job-end").steps.length, 0);
});

test("the cautions of a step stand apart from the rest", () => {
  assert.ok(face("job-cautions").cautions.length >= 5);
  assert.deepEqual(face("job-cautions").more, []);
  assert.match(face("job-liner").cautions[0], /^Clamp the liner/);
});

test("a screen that may only look on has no answers", () => {
  for (const name of JOBS) {
    const { go, others, again } = jobFace({ state: { ...WORKS[name], may_act: false } });
    assert.deepEqual([go.can, go.why, again], [false, "This screen may only look on.", false], name);
    assert.ok(Object.values(others).every((can) => !can), name);
  }
});

test("a bench that is silent leaves no answers and no fields, and says why", () => {
  for (const name of JOBS) {
    const { go, others, again, fields, notice } = face(name, { silentWhy: "It does not answer." });
    assert.deepEqual([go.can, again, fields, notice], [false, false, [], "It does not answer."], name);
    assert.ok(Object.values(others).every((can) => !can), name);
  }
});

test("nothing is captured without a number, with a doubt, or where something is to be decided", () => {
  const state = WORKS["job-adjust"];
  assert.ok(jobFace({ state }).go.can);
  const blind = { ...state, view: { ...state.view, can_capture: false } };
  assert.equal(jobFace({ state: blind }).go.why, "There is no number to capture.");
  const doubted = { ...state, view: { ...state.view, doubt: "it jumped; press c" } };
  assert.equal(jobFace({ state: doubted }).go.why, "it jumped; press Confirm gauge");
  assert.ok(!jobFace({ state: { ...state, view: null } }).go.can);
  const decide = jobFace({ state: changed("job-liner", "job", { kind: "decide" }) });
  assert.equal(decide.go.can, false);
  assert.match(decide.go.why, /let it stand/);
});

test("figures are asked for as the task asks, and go with its number", () => {
  const asks = (what) => jobFace({ state: changed("job-liner", "job", { asks: what }) });
  assert.deepEqual(asks("angle").fields, ["Angle on the engine's scale, °"]);
  assert.deepEqual(asks("temperatures").fields, ["Part, °C", "Gauge, °C"]);
  assert.deepEqual(asks(null).fields, []);
  assert.deepEqual(goWish({ n: 7 }, ["36.5"]), { do: "go", figures: ["36.5"], n: 7 });
  assert.deepEqual(goWish({ n: 7 }, []), { do: "go", n: 7 });
});

test("only answers that the job would take are offered", () => {
  const { others, targets } = face("job-plate");
  assert.deepEqual([others, targets], [{ back: false, anew: false, skip: false, stand: false }, []]);
  assert.deepEqual(face("job-liner").others, { back: true, anew: false, skip: true, stand: false });
});

test("what needs a reason and a name asks for both", () => {
  for (const name of ["again", "skip", "stand"]) assert.ok(QUESTIONS[name].reason && QUESTIONS[name].by, name);
  assert.ok(!QUESTIONS.back.reason);
});

test("a line of the history says its words and how far it was off", () => {
  assert.equal(historyWords({ words: "as found", deviation: "+0.012 mm" }), "as found · +0.012 mm off");
  assert.equal(historyWords({ words: "no liner (B. Lund)", deviation: null }), "no liner (B. Lund)");
});

test("at a bench without a job the page says so", () => {
  const state = { ...WORKS["cal-point"] };
  const { headline, isThere, go } = jobFace({ state });
  assert.deepEqual([headline, isThere, go.can], ["NO JOB", false, false]);
  assert.equal(jobFace({ state: null }).headline, "CONNECTING");
  assert.equal(jobFace({ state: null, silentWhy: "gone" }).headline, "NO LINK");
});

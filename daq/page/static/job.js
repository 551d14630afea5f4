/** The job page: paints what job_face.js says, hears presses, asks for reasons. */

import { asking } from "./asking.js";
import { feel, mark as setMark, onKeys, onPress, say, show } from "./buttons.js";
import { drawingFrom, fill, make } from "./dom.js";
import { faceOf } from "./face.js";
import { angleWords, goWish, historyWords, jobFace, QUESTIONS } from "./job_face.js";
import { keepUp } from "./work.js";
import { figuresOf, verdictLook, whenWords } from "./work_words.js";

const at = (id) => document.getElementById(id);
const ask = asking(at("ask"));
let face = null;
let drawn = "";

const work = keepUp({ strip: at("strip"), paint, link: at("link") });

function paint(seen) {
  face = jobFace(seen);
  const gauge = faceOf(seen);
  say(at("engine"), face.engine || "Job");
  say(at("sheet"), face.sheet);
  say(at("progress-words"), face.progress);
  setMark(at("progress"), "max", Math.max(face.of, 1));
  setMark(at("progress"), "value", face.done);
  show(at("progress"), face.of > 0);
  say(document.querySelector("title"), `${face.title || "Job"} · restpoint`);
  paintTask();
  show(at("strip"), face.hasGauge);
  paintFields();
  paintAround();
  paintButtons(gauge);
}

function paintTask() {
  say(at("where"), face.where);
  say(at("headline"), face.headline);
  setMark(at("headline"), "data-long", face.headline.length > 15);
  show(at("headline"), face.headline !== "");
  say(at("title"), face.title);
  say(at("words"), face.words);
  fill(at("more"), face.more, () => face.more.map((line) => make("li", {}, line)));
  fill(at("cautions"), face.cautions, () => face.cautions.map((line) => make("li", {}, line)));
  show(at("care"), face.cautions.length > 0);
  say(at("notice"), face.notice);
  show(at("notice"), face.notice !== "");
  setMark(at("notice"), "data-kind", face.noticeKind);
}

function paintFields() {
  // A new task has new fields: a figure that was typed for the one before must not go with it.
  fill(at("fields"), [face.fields, face.title, face.words], () =>
    face.fields.map((name, place) =>
      make(
        "div", { class: "field" },
        make("label", { for: `figure-${place}` }, name),
        make("input", { id: `figure-${place}`, inputmode: "decimal", autocomplete: "off", maxlength: 14 }),
      ),
    ),
  );
}

function paintAround() {
  const { crank } = face;
  const isAhead = crank !== null && !crank.is_now; // the one for now is the task itself
  show(at("crank"), isAhead);
  if (isAhead) {
    say(at("crank-angle"), crank.angle_deg === null ? "" : angleWords(crank.angle_deg));
    say(at("crank-title"), crank.title);
    say(at("crank-words"), `${crank.words} (${crank.direction})`);
  }
  fill(at("steps"), face.steps, () => face.steps.map(stepLine));
  fill(at("done-steps"), face.doneSteps, () => face.doneSteps.map(stepLine));
  say(at("done-name"), face.doneSteps.length === 1 ? "1 step is done" : `${face.doneSteps.length} steps are done`);
  show(at("done"), face.doneSteps.length > 0);
  fill(at("history"), [face.history, face.again], () => face.history.map(historyLine));
  say(at("earlier"), `${face.earlier} earlier ones are in the logbook.`);
  show(at("earlier"), face.earlier > 0);
  paintDrawing();
}

function stepLine(step) {
  const { mark, mood } = verdictLook(step.state);
  const left = [step.of > 1 || step.state !== "done" ? `${step.done} of ${step.of}` : "", ...step.after].filter(Boolean);
  const line = make(
    "li", { class: step.state === "now" ? "now" : "" },
    make("span", { class: `sign ${mood}`, "aria-hidden": "true" }, mark),
    make("span", { class: "what" }, step.title, make("span", { class: "unseen" }, `, ${step.state}`)),
    make("span", { class: "count" }, left.join(", ")),
  );
  if (step.state === "now" && step.of > 1) line.append(make("ul", { class: "targets" }, step.targets.map(targetLine)));
  return line;
}

function targetLine(target) {
  const { mark, mood } = verdictLook(target.state);
  const value = target.in_doubt ? `${target.value}, in doubt` : target.value;
  return make(
    "li", { class: target.state === "now" ? "now" : "" },
    make("span", { class: `sign ${mood}`, "aria-hidden": "true" }, mark),
    make("span", { class: "what" }, target.words),
    make("span", { class: "count" }, value === null ? target.state : `${target.state}, ${value}`),
  );
}

function historyLine(line) {
  const { mark, mood } = verdictLook(line.verdict);
  const item = make(
    "li", {},
    make("span", { class: `sign ${mood}`, "aria-hidden": "true" }, mark),
    make(
      "span", { class: "what" },
      make("b", {}, [line.step, line.target].filter(Boolean).join(", ")), " ",
      make("span", { class: "quiet" }, whenWords(line.at)),
      make("br"),
      [line.value, line.verdict, historyWords(line)].filter(Boolean).join(" · "),
    ),
  );
  if (line.again && face.again) {
    const name = `Measure ${line.target || line.step} again`;
    const button = make("button", { type: "button", "aria-label": name }, "Measure again");
    onPress(button, () => other("again", { uid: line.uid }, `${line.step}, ${line.target}: ${line.value}`));
    item.append(button);
  }
  return item;
}

/* The engine is drawn by the bench; it comes again whenever a cylinder stands otherwise. */

async function paintDrawing() {
  const now = JSON.stringify(face.drawing);
  if (now === drawn || face.drawing === null) return;
  drawn = now;
  try {
    const answer = await fetch("/api/engine.svg");
    const drawing = answer.ok ? drawingFrom(await answer.text()) : null;
    if (drawing === null || now !== drawn) return;
    at("drawing").replaceChildren(drawing);
    show(at("motor"), true);
  } catch {
    if (now === drawn) drawn = ""; // the link is cut: the next state tries again
  }
}

function paintButtons(gauge) {
  say(at("go"), face.go.label);
  setMark(at("go"), "disabled", face.go.can ? null : "");
  for (const [name, can] of Object.entries(face.others)) setMark(at(name), "disabled", can ? null : "");
  show(at("confirm"), gauge.confirm !== "none");
  setMark(at("confirm"), "disabled", gauge.confirm === "ready" ? null : "");
  setMark(document.body, "data-kind", face.isThere ? "job" : "none");
}

/* Presses */

function go() {
  if (face === null) return;
  if (!face.go.can) {
    work.refuse(face.go.why);
    return;
  }
  const fields = face.fields.map((name, place) => ({ name, text: at(`figure-${place}`).value }));
  const { figures, why } = figuresOf(fields);
  if (why) {
    work.refuse(why);
    at("figure-0").focus();
    return;
  }
  feel(at("go"));
  work.ask(goWish(face, figures));
}

function confirm() {
  feel(at("confirm"));
  work.ask({ do: "confirm", n: face.n });
}

/** One of the other answers, after what it needs was asked; it goes with the task that was looked at. */
async function other(name, more = {}, about = "") {
  const { n, targets } = face;
  const question = { ...QUESTIONS[name] };
  if (about) question.words = `${about}. ${question.words}`;
  if (name === "anew") question.target = targets;
  const answer = await ask.ask(question);
  if (answer !== null) work.ask({ do: name, n, ...more, ...answer });
}

onPress(at("go"), go);
onPress(at("confirm"), confirm);
for (const name of ["back", "anew", "skip", "stand"]) onPress(at(name), () => other(name));
onKeys({ capture: go });

/** The calibration page: paints what calibration_face.js says, hears presses, asks for reasons. */

import { asking } from "./asking.js";
import { feel, mark as setMark, onKeys, onPress, say, show } from "./buttons.js";
import { calibrationFace, QUESTIONS } from "./calibration_face.js";
import { drawnCurve, legend } from "./curve.js";
import { draw, fill, make } from "./dom.js";
import { faceOf } from "./face.js";
import { keepUp } from "./work.js";
import { figuresOf, verdictLook } from "./work_words.js";

const at = (id) => document.getElementById(id);
const ask = asking(at("ask"));
let face = null;

const work = keepUp({ strip: at("strip"), paint, link: at("link") });

function paint(seen) {
  face = calibrationFace(seen);
  say(at("gauge"), face.gauge ? `Calibration of ${face.gauge}` : "Calibration");
  say(at("plan"), face.plan);
  say(at("progress-words"), face.progress);
  setMark(at("progress"), "max", Math.max(face.of, 1));
  setMark(at("progress"), "value", face.done);
  show(at("progress"), face.of > 0);
  say(document.querySelector("title"), `${face.large || "Calibration"} · restpoint`);
  say(at("title"), face.title);
  say(at("headline"), face.large);
  setMark(at("headline"), "data-long", face.large.length > 15);
  say(at("words"), face.words);
  fill(at("more"), face.more, () => face.more.map((line) => make("li", {}, line)));
  say(at("notice"), face.notice);
  show(at("notice"), face.notice !== "");
  setMark(at("notice"), "data-kind", face.noticeKind);
  show(at("strip"), face.hasGauge);
  fill(at("fields"), face.field, () => (face.field ? fieldOf(face.field) : []));
  paintAround();
  paintButtons(faceOf(seen).confirm);
}

function fieldOf(name) {
  return make(
    "div", { class: "field" },
    make("label", { for: "figure" }, name),
    make("input", { id: "figure", inputmode: "decimal", autocomplete: "off", maxlength: 14 }),
  );
}

function paintAround() {
  const { curve, result } = face;
  show(at("curve-card"), curve !== null);
  if (curve !== null) {
    fill(at("curve"), curve, () => drawnCurve(curve));
    fill(at("legend"), curve, () => legend(curve).map(legendLine));
  }
  say(at("last"), face.last);
  say(at("temperature"), face.temperature || "not written down yet");
  show(at("result"), result !== null);
  if (result === null) return;
  say(at("result-name"), `Result: ${result.word}`);
  fill(at("characteristics"), result, () => result.characteristics.map(row));
}

function legendLine({ words, mark, isOld }) {
  const svg = draw("svg", { viewBox: "-14 -14 28 28", class: "plot", "aria-hidden": "true" });
  svg.append(draw("g", { class: isOld ? "old" : "fresh" }, draw("path", { class: "mark", d: mark })));
  return make("li", {}, svg, words);
}

function row({ what, value, U, limit, word, reason }) {
  const { mark, mood } = verdictLook(word);
  return make(
    "tr", {},
    make("th", { scope: "row" }, what),
    make("td", { class: "number" }, value),
    make("td", { class: "number" }, U),
    make("td", { class: "number" }, limit || "–"),
    make("td", {}, make("b", { class: mood }, [mark, word].filter(Boolean).join(" ")), reason ? make("div", { class: "quiet" }, reason) : null),
  );
}

function paintButtons(confirm) {
  say(at("go"), face.go.label);
  setMark(at("go"), "disabled", face.go.can ? null : "");
  for (const [name, can] of Object.entries(face.others)) {
    const button = at(name.replace(" ", "-"));
    setMark(button, "disabled", can ? null : "");
    show(button, name.endsWith("adjusted") === face.atResult || name === "back");
  }
  show(at("confirm"), confirm !== "none");
  setMark(at("confirm"), "disabled", confirm === "ready" ? null : "");
}

/* Presses */

function go() {
  if (face === null) return;
  if (!face.go.can) {
    work.refuse(face.go.why);
    return;
  }
  const fields = face.field ? [{ name: face.field, text: at("figure").value }] : [];
  const { figures, why } = figuresOf(fields);
  if (why) {
    work.refuse(why);
    at("figure").focus();
    return;
  }
  feel(at("go"));
  work.ask({ do: "go", n: face.n, ...(figures.length > 0 ? { figures } : {}) });
}

async function other(name) {
  const { n } = face;
  const answer = await ask.ask(QUESTIONS[name]);
  if (answer !== null) work.ask({ do: name, n, reason: answer.reason, by: answer.by });
}

onPress(at("go"), go);
onPress(at("confirm"), () => work.ask({ do: "confirm", n: face.n }));
for (const name of ["back", "anew", "insist", "adjusted", "not adjusted"]) {
  onPress(at(name.replace(" ", "-")), () => other(name));
}
onKeys({ capture: go });

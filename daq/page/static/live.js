/** The live page: paints what face.js says, hears presses, speaks by tone. */

import { mark as setMark, feel, onKeys, onPress, say, show } from "./buttons.js";
import { faceOf, setting } from "./face.js";
import { keep, kept } from "./keep.js";
import { connect } from "./link.js";
import { needle } from "./needle.js";
import { numeral, sign } from "./numeral.js";
import { fullScreenBy, stayAwake, wear, wearBy } from "./screen.js";
import { newsOf, Sound, toneOf } from "./tone.js";

wear();

const at = (id) => document.getElementById(id);
const page = document.documentElement;
const bench = at("bench");
const number = numeral(at("number"));
const sideMark = sign(at("mark"));
const gate = needle(at("gate"));
const headlineBox = at("headline");
const sound = new Sound();
globalThis.restpointSound = sound;

const seen = { state: null, silentWhy: "", ended: false, refused: null };
let face = null;
let isDrawn = true;
let paintedView = null;

/* Painting: one frame for the newest state, and only what has changed. */

function paintSoon() {
  if (!isDrawn) return;
  isDrawn = false;
  requestAnimationFrame(paint);
}

function refusedNow() {
  return seen.refused && { why: seen.refused.why, agoS: (performance.now() - seen.refused.atMs) / 1000 };
}

function paint() {
  isDrawn = true;
  face = faceOf({ ...seen, refused: refusedNow() });
  paintReading();
  paintHeadline();
  paintWords();
  paintButtons();
  if (seen.state !== null) page.dataset.n = seen.state.n;
  page.dataset.silent = seen.silentWhy ? "true" : "false";
}

function paintReading() {
  const isBlank = face.digits === null;
  setMark(bench, "data-blank", isBlank);
  setMark(bench, "data-mood", face.mood);
  setMark(bench, "data-form", face.form);
  setMark(bench, "data-motion", face.motion || null);
  setMark(bench, "data-loud", face.loud !== "");
  setMark(document.body, "data-doubt", face.confirm !== "none");
  number.show(face.digits);
  say(at("digits"), face.digits === null ? "no number" : face.digits.trim());
  say(at("digits-unit"), face.unit);
  say(at("unit"), face.unit);
  say(at("motion"), face.motion);
  sideMark.show(face.mark);
  gate.show(face.view);
}

function paintWords() {
  const { label, gauges } = face;
  const hasChoice = gauges.length > 1;
  say(at("label"), label);
  setMark(at("label"), "class", hasChoice ? "unseen" : null);
  show(at("gauges"), hasChoice);
  if (hasChoice) paintChoice(gauges, face.gauge);
  say(document.querySelector("title"), `${label} · restpoint`);
  say(at("standing"), face.standing);
  show(at("standing"), face.standing !== "");
  say(at("target"), face.target);
  say(at("link"), face.link === "live" ? "signal" : face.link);
  setMark(at("link"), "class", `tag ${face.linkMood}`);
  say(at("loud"), face.loud);
  const { length } = face.loud;
  setMark(at("loud"), "data-long", length > 130 ? "longest" : length > 75 ? "longer" : null);
  show(at("loud"), face.loud !== "");
  say(at("words"), face.words);
  for (const [name, text] of Object.entries(face.facts)) say(at(name), text);
  show(at("to-job"), face.work === "job");
  show(at("to-calibration"), face.work === "calibration");
}

function paintChoice(gauges, chosen) {
  const list = at("gauges");
  const now = JSON.stringify(gauges);
  if (list.dataset.all !== now) {
    list.dataset.all = now;
    list.replaceChildren(...gauges.map((label) => new Option(label, label)));
  }
  if (list.value !== chosen && document.activeElement !== list) list.value = chosen;
}

function paintButtons() {
  setMark(at("capture"), "disabled", face.capture.can ? null : "");
  show(at("confirm"), face.confirm !== "none");
  setMark(at("confirm"), "disabled", face.confirm === "ready" ? null : "");
}

/* The headline is measured on a canvas, which lays nothing out. */

const ruler = document.createElement("canvas").getContext("2d");
ruler.font = "800 100px sans-serif";
let headlineSize = [0, 0];
let headlineShown = "";
const HIGH = { plain: 0.92, slab: 0.86, frame: 0.74 }; // how much of its box each form leaves for letters

function widthOf(text) {
  return ruler.measureText(text).width / 100;
}

function paintHeadline() {
  const now = JSON.stringify([face.headline, face.form, headlineSize]);
  if (now === headlineShown) return;
  headlineShown = now;
  const [width, height] = headlineSize;
  const { lines, size } = setting(face.headline, widthOf, width * 0.95, height * HIGH[face.form]);
  headlineBox.style.fontSize = `${Math.floor(size)}px`;
  if (headlineBox.textContent !== lines.join(" ") || headlineBox.childElementCount !== lines.length) {
    headlineBox.replaceChildren(
      ...lines.flatMap((line, place) => {
        const span = document.createElement("span");
        span.textContent = line;
        return place ? [" ", span] : [span];
      }),
    );
  }
}

new ResizeObserver(([entry]) => {
  // Asked for here, where the style is known anyway: the sheet may have come after this script.
  ruler.font = `800 100px ${getComputedStyle(headlineBox).fontFamily}`;
  headlineSize = [entry.contentRect.width, entry.contentRect.height];
  paintSoon();
}).observe(at("head"));

/* The link */

const link = connect({
  onState(state) {
    seen.state = state;
    seen.silentWhy = "";
    seen.ended = false;
    hear(state.view);
    paintSoon();
  },
  onSilent(why) {
    seen.silentWhy = why;
    hear(null);
    paintSoon();
  },
  onBye() {
    seen.ended = true;
  },
  onRefused({ why }) {
    refuse(why);
  },
});

function refuse(why) {
  seen.refused = { why, atMs: performance.now() };
  sound.strike("refused");
  paintSoon();
  for (const afterMs of [1550, 6050]) setTimeout(paintSoon, afterMs);
}

/* Presses */

function capture() {
  if (face === null || !face.capture.can) {
    refuse(face?.capture.why ?? "This screen is not connected yet.");
    return;
  }
  feel(at("capture"));
  link.ask({ do: "capture" });
}

function confirm() {
  if (face?.confirm !== "ready") return;
  feel(at("confirm"));
  link.ask({ do: "confirm" });
}

onPress(at("capture"), capture);
onPress(at("confirm"), confirm);
onKeys({ capture, confirm }, () => kept("letters", true));

at("gauges").addEventListener("change", (event) => {
  link.ask({ do: "choose", gauge: event.target.value });
  event.target.blur();
});

/* Sound */

function hear(view) {
  const news = newsOf(paintedView, view);
  if (news !== null) sound.strike(news);
  if (view !== null) paintedView = view;
  sound.play(view === null ? null : toneOf(view));
}

function tellSound() {
  const isOn = kept("sound", false);
  const isWaiting = isOn && !sound.isAwake;
  say(at("sound"), isWaiting ? "Tap for sound" : isOn ? "Sound on" : "Sound off");
  setMark(at("sound"), "aria-pressed", isOn && !isWaiting);
  say(
    at("sound-words"),
    isWaiting
      ? "A browser lets no page sound before it is touched once: press Sound."
      : `Sound is ${isOn ? "on" : "off"}.`,
  );
}

onPress(at("sound"), async () => {
  const isOn = !(kept("sound", false) && sound.isAwake);
  keep("sound", isOn);
  sound.set(isOn, kept("volume", 70));
  if (isOn) {
    await sound.wake();
    sound.context?.addEventListener("statechange", tellSound);
  }
  tellSound();
});

/* Sound that was on the last time wakes with the first press, wherever it is. */
for (const kind of ["click", "keydown"]) {
  addEventListener(kind, async (event) => {
    if (!kept("sound", false) || sound.isAwake || event.target === at("sound")) return;
    sound.set(true, kept("volume", 70));
    await sound.wake();
    tellSound();
  });
}

at("volume").value = kept("volume", 70);
at("volume").addEventListener("input", (event) => {
  keep("volume", Number(event.target.value));
  sound.set(kept("sound", false), kept("volume", 70));
});
tellSound();

/* This screen */

onPress(at("more"), () => at("panel").showModal());
onPress(at("close"), () => at("panel").close());
wearBy(at("colours"));
fullScreenBy(at("full"));
setMark(at("letters"), "aria-pressed", kept("letters", true));
onPress(at("letters"), () => {
  keep("letters", !kept("letters", true));
  setMark(at("letters"), "aria-pressed", kept("letters", true));
});
stayAwake((words) => {
  say(at("sleep"), words);
  show(at("sleep"), words !== "");
});
paintSoon();

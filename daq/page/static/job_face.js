/** What the job page says, worked out from what is known: pure, so that every word can be tested. */

import { forButtons, noticeOf } from "./work_words.js";

/** What the large button says where something is to be done and then confirmed. */
const DONE = {
  plate: "The plate says so",
  cautions: "All seen to",
  step: "It is mounted",
  crank: "It stands there",
  adjusted: "It is turned",
  locked: "It is locked",
  worked: "It is worked",
  across: "Go on as they are",
  sealed: "It is sealed",
};

const GO = { measure: "Capture", adjust: "Capture", end: "End the job", decide: "Decide" };

const FIGURES = {
  angle: ["Angle on the engine's scale, °"],
  temperatures: ["Part, °C", "Gauge, °C"],
};

/**
 * Everything that is painted.
 *
 * @param seen.state the last state, or null before there was one.
 * @param seen.silentWhy why the bench program is not heard, or "" while it is.
 * @param seen.refused `{ why, agoS }` of the last message of that kind, or null.
 */
export function jobFace({ state, silentWhy = "", refused = null }) {
  const job = state?.job ?? null;
  if (job === null) return withoutJob(state, silentWhy);
  const isHeard = silentWhy === "";
  const may = isHeard && state.may_act;
  const notice = noticeOf({ silentWhy, refused, notice: job.notice });
  return {
    isThere: true,
    n: state.n,
    title: job.title,
    headline: headlineOf(job),
    words: forButtons(job.words),
    more: job.more.map(forButtons),
    cautions: job.cautions,
    engine: job.engine,
    sheet: job.sheet,
    where: whereOf(job),
    done: job.done,
    of: job.of,
    progress: `${job.done} of ${job.of} done`,
    notice: notice.words,
    noticeKind: notice.kind,
    fields: isHeard ? (FIGURES[job.asks] ?? []) : [],
    hasGauge: state.view !== null,
    go: goOf(state, job, silentWhy),
    others: {
      back: may && job.can.back,
      anew: may && job.can.anew.length > 0,
      skip: may && job.can.skip,
      stand: may && job.can.stand,
    },
    targets: job.can.anew,
    again: may,
    crank: job.next_crank,
    steps: job.steps.filter(({ state }) => state !== "done"),
    doneSteps: job.steps.filter(({ state }) => state === "done"),
    history: job.history,
    earlier: job.earlier,
    drawing: { states: job.svg_states, step: job.step, target: job.target },
  };
}

function withoutJob(state, silentWhy) {
  const isElsewhere = state !== null && !silentWhy;
  const words = isElsewhere ? "No job is at work at this bench." : silentWhy || "Connecting to the bench.";
  return {
    isThere: false, n: state?.n ?? 0, title: "", headline: isElsewhere ? "NO JOB" : silentWhy ? "NO LINK" : "CONNECTING",
    words, more: [], cautions: [], engine: "", sheet: "", where: "", done: 0, of: 0, progress: "",
    notice: "", noticeKind: "", fields: [], hasGauge: false, go: { label: "Go on", can: false, why: words },
    others: { back: false, anew: false, skip: false, stand: false }, targets: [], again: false, crank: null,
    steps: [], doneSteps: [], history: [], earlier: 0, drawing: null,
  };
}

/** What stands large; how far to bar stands with it. */
function headlineOf({ headline, next_crank: crank }) {
  const [words = ""] = headline;
  return crank?.is_now && crank.angle_deg !== null ? `${words} ${angleWords(crank.angle_deg)}` : words;
}

/** An angle as the bench says it, to a tenth of a degree: "120°", "102.9°". */
export function angleWords(deg) {
  return `${Math.round(deg * 10) / 10}°`;
}

/** Where we are in the sheet: which step of how many, and how many of its targets are done. */
function whereOf(job) {
  const place = job.steps.findIndex(({ name }) => name === job.step);
  if (place < 0) return "";
  const step = job.steps[place];
  const at = `Step ${place + 1} of ${job.steps.length}: ${step.title}`;
  return step.of > 1 ? `${at}, ${step.done} of ${step.of}` : at;
}

function goOf(state, job, silentWhy) {
  const label = job.kind === "confirm" ? (DONE[job.sign] ?? "Done") : (GO[job.kind] ?? "Go on");
  const no = (why) => ({ label, can: false, why });
  if (silentWhy) return no(silentWhy);
  if (!state.may_act) return no("This screen may only look on.");
  if (job.kind === "decide") return no("Choose below what is to be done: measure it again, let it stand, or skip it.");
  if (job.kind === "measure" || job.kind === "adjust") {
    const { view } = state;
    if (view === null) return no("No gauge is read just now.");
    if (view.doubt) return no(forButtons(view.doubt));
    if (!view.can_capture) return no("There is no number to capture.");
  }
  return { label, can: true, why: "" };
}

/** The wish that goes with the large button. */
export function goWish(face, figures) {
  return figures.length > 0 ? { do: "go", figures, n: face.n } : { do: "go", n: face.n };
}

/** What a line of the history says beside its value. */
export function historyWords(line) {
  const words = [line.words, line.deviation && `${line.deviation} off`].filter(Boolean);
  return words.join(" · ");
}

/** What is asked before each of the other answers. */
export const QUESTIONS = {
  back: {
    title: "Measure the last one again?", yes: "Measure it again",
    words: "The last result is set aside by a new record, and its target is measured once more.",
  },
  anew: { title: "Which one is set anew?", yes: "Set it anew", words: "What it was stays on record." },
  again: {
    title: "Measure it again?", yes: "Measure it again", reason: true, by: true,
    words: "This result is set aside by a new record. Nothing is deleted.",
  },
  skip: {
    title: "Skip this?", yes: "Skip it", reason: true, by: true,
    words: "It is not measured, and the report says so with your reason.",
  },
  stand: {
    title: "Let it stand?", yes: "Let it stand", reason: true, by: true,
    words: "It stands although it is not within its limits, is in doubt, or its gauge may not be used. The report says so.",
  },
};

/** What the calibration page says, worked out from what is known: pure, so that every word can be tested. */

import { forButtons, noticeOf } from "./work_words.js";

const GO = {
  conditions: "Write it down", point: "Take it", return: "Take it", result: "Work it out",
  "adjusted or not": "Adjusted or not?", end: "End it",
};

const END =
  "The certificate gets the number and the day that are proposed. To set others, end it at the terminal.";

/** Everything that is painted; `seen` as in `jobFace`. */
export function calibrationFace({ state, silentWhy = "", refused = null }) {
  const told = state?.calibration ?? null;
  if (told === null) return without(state, silentWhy);
  const may = silentWhy === "" && state.may_act;
  const notice = noticeOf({ silentWhy, refused, notice: told.notice.replace(" (o takes it all the same)", "") });
  return {
    isThere: true,
    n: state.n,
    kind: told.kind,
    gauge: told.gauge || state.gauge,
    plan: told.plan,
    title: told.title,
    large: told.large[0] ?? "",
    words: forButtons(told.words),
    more: [...told.more, ...(told.kind === "end" ? [END] : [])],
    last: told.last,
    temperature: told.temperature,
    done: told.done,
    of: told.of,
    progress: `${told.done} of ${told.of} points`,
    notice: notice.words,
    noticeKind: notice.kind,
    field: told.asks === "temperature" && silentWhy === "" ? "Gauge and standard, °C" : "",
    hasGauge: state.view !== null,
    go: goOf(state, told, silentWhy),
    others: {
      back: may && told.can.back,
      anew: may && told.can.anew,
      insist: may && told.can.insist && state.view?.can_capture === true,
      adjusted: may && told.can.adjusted,
      "not adjusted": may && told.can["not adjusted"],
    },
    /* Two pairs of buttons share their places: what a point needs, and what a result needs. */
    atResult: told.kind === "adjusted or not" || told.kind === "end",
    curve: told.curve,
    result: told.result,
  };
}

function without(state, silentWhy) {
  const isElsewhere = state !== null && !silentWhy;
  const words = isElsewhere
    ? "No calibration is at work at this bench."
    : silentWhy || "Connecting to the bench.";
  const others = { back: false, anew: false, insist: false, adjusted: false, "not adjusted": false };
  return {
    isThere: false, n: state?.n ?? 0, kind: "", gauge: "", plan: "", title: "", words, more: [], last: "",
    large: isElsewhere ? "NO CALIBRATION" : silentWhy ? "NO LINK" : "CONNECTING", temperature: "",
    done: 0, of: 0, progress: "", notice: "", noticeKind: "", field: "", hasGauge: false,
    go: { label: "Go on", can: false, why: words }, others, atResult: false, curve: null, result: null,
  };
}

function goOf(state, told, silentWhy) {
  const isZero = told.kind === "point" && told.large.some((words) => words.endsWith("ZERO"));
  const label = isZero ? "Zero is set" : (GO[told.kind] ?? "Go on");
  const no = (why) => ({ label, can: false, why });
  if (silentWhy) return no(silentWhy);
  if (!state.may_act) return no("This screen may only look on.");
  if (told.kind === "adjusted or not") return no("Say whether the gauge was adjusted: press one of the two.");
  if (told.kind === "point" || told.kind === "return") {
    const { view } = state;
    if (view === null) return no("No gauge is read just now.");
    if (view.doubt) return no(forButtons(view.doubt));
    if (!view.can_capture) return no("There is no number to take.");
  }
  return { label, can: true, why: "" };
}

/** What is asked before each of the other answers. */
export const QUESTIONS = {
  back: {
    title: "Take the last point again?", yes: "Take it again", remark: true, reasonLabel: "Reason (may be left out)",
    words: "A new record takes the point back; it stays in the logbook.",
  },
  anew: {
    title: "Begin the run anew?", yes: "Begin anew", reason: true,
    words: "All points of this run are set aside, from the zero on. Nothing is deleted.",
  },
  insist: {
    title: "Take it all the same?", yes: "Take it", reason: true, by: true,
    words: "The value looks like a mistake. It is kept with your reason and your name.",
  },
  adjusted: {
    title: "Was the gauge adjusted?", yes: "It was adjusted", reason: true, reasonLabel: "What was adjusted",
    words: "The run as found stands. A second run shows how the gauge was left.",
  },
  "not adjusted": {
    title: "Not adjusted?", yes: "It was not adjusted", remark: true, reasonLabel: "Remark (may be left out)",
    words: "As found is then as left.",
  },
};

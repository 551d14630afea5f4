/**
 * What the live page says, worked out from what is known: pure, so that every word can be tested.
 *
 * What must not be shown is not here either: without a fresh number there are no digits, no needle,
 * no sign and no capture, and the same where the bench program itself is silent.
 */

/** How long the reason of a refusal is shown large, s. */
export const LOUD_FOR_S = 6;

/** How long a refusal that came from the bench as a message holds the headline, s. */
const NEWS_FOR_S = 1.5;

const TROUBLE = {
  "no signal": "No reading comes: is the gauge on and awake?",
  "cable out": "Plug the cable in again: it goes on by itself, and what was captured is kept.",
  opening: "Opening the port.",
  key: "This gauge sends when its own data key is pressed.",
  live: "The gauge sends no number: look at its display.",
};

const NOT_NOW = "Nothing is captured at this point of the work: look at what it asks for.";

const OUTCOMES = {
  in: "within limits",
  low: "below the lower limit",
  high: "above the upper limit",
  "too close to call": "too close to call",
};

/**
 * Everything that is painted.
 *
 * @param seen.state the last state, or null before there was one.
 * @param seen.silentWhy why the bench program is not heard, or "" while it is.
 * @param seen.ended whether it said that it ends.
 * @param seen.refused `{ why, agoS }` of the last message of that kind, or null.
 */
export function faceOf({ state, silentWhy = "", ended = false, refused = null }) {
  const view = state?.view ?? null;
  if (silentWhy || state === null) return withoutBench(state, silentWhy, ended);
  if (view === null) return withoutGauge(state);
  const isShown = view.fresh && view.digits !== null;
  // What hides the number goes before any news: it must not be covered.
  const isRefused = isShown && refused !== null && refused.agoS < NEWS_FOR_S;
  const { texts, mood, mark, is_news: isNews } = isRefused
    ? { texts: ["REFUSED"], mood: "stop", mark: "×", is_news: true }
    : view.headline;
  const loud = loudWords(view, refused);
  return {
    ...labels(state),
    link: linkOf(view),
    linkMood: view.fresh ? "is-good" : "is-stop",
    view: isShown ? view : { ...view, fresh: false },
    digits: isShown ? view.digits : null,
    unit: isShown ? view.unit : "",
    mark: isShown ? mark.trim() : "",
    headline: texts,
    mood,
    form: formOf(mood, view),
    isNews,
    motion: isShown ? (view.motion ?? "") : "",
    loud,
    words: loud ? "" : quietWords(view, isShown),
    facts: facts(view),
    capture: captureOf(state, view),
    confirm: view.doubt ? (state.may_act ? "ready" : "viewer") : "none",
  };
}

/** What may be pressed, and why not, in words that are said if somebody presses all the same. */
function captureOf(state, view) {
  if (!state.may_act) return { can: false, why: "This screen may only look on." };
  if (view.can_capture) return { can: true, why: "" };
  const hasNumber = view.fresh && view.digits !== null;
  const why = forHands(view.doubt) || (hasNumber ? NOT_NOW : troubleOf(view));
  return { can: false, why };
}

function formOf(mood, view) {
  if (mood === "good") return "slab";
  return mood === "stop" && !view?.doubt ? "frame" : "plain";
}

function loudWords(view, refused) {
  if (refused !== null && refused.agoS < LOUD_FOR_S) return refused.why;
  if (view.doubt) return forHands(view.doubt);
  const ago = view.refused_ago_s;
  if (ago !== null && ago >= 0 && ago < LOUD_FOR_S && view.notice) return view.notice;
  return view.fresh && view.digits !== null ? "" : troubleOf(view);
}

/** A tablet has no key c; it has a button. */
function forHands(words) {
  return words.replace(/\bpress c\b/g, "press Confirm");
}

/** Where the link is, as it shows: one that is live and brings nothing has no signal. */
function linkOf(view) {
  return view.link === "live" && !view.fresh ? "no signal" : view.link;
}

/** Why there is no number, and what to do. */
function troubleOf(view) {
  return TROUBLE[linkOf(view)] ?? "Nothing can be captured now.";
}

function quietWords(view, isShown) {
  const said = [isShown ? view.guide : "", view.at_rest ? OUTCOMES[view.outcome] : "", view.notice];
  const statuses = view.statuses.length > 0 ? `gauge: ${view.statuses.join(", ")}` : "";
  return [...new Set([...said, statuses].filter(Boolean))].join(" · ");
}

function facts(view) {
  return {
    settled: view.settled ?? "–",
    U: view.U ?? "–",
    n: view.n === null ? "–" : String(view.n),
    limits: view.limits.replace(/^limits /, "") || "no spec",
    length: view.length ?? "–",
    age: view.age_s === null ? "–" : `${Math.min(view.age_s, 99999).toFixed(1)} s`,
    captured: String(view.captured),
    last: view.last_capture || "–",
  };
}

function labels(state) {
  const view = state?.view ?? null;
  return {
    label: view?.gauge || state?.gauge || "restpoint",
    gauges: state?.gauges ?? [],
    gauge: state?.gauge ?? "",
    standing: view?.standing ?? "",
    target: [state?.job?.title ?? state?.calibration?.title, view?.nominal && `to ${view.nominal}`]
      .filter(Boolean)
      .join(" · "),
    work: state?.work ?? "live",
  };
}

const NOTHING = {
  view: null, digits: null, unit: "", mark: "", mood: "stop", form: "frame", isNews: false, motion: "",
  words: "", confirm: "none",
};

function noFacts(state) {
  const view = state?.view ?? null;
  const none = { settled: "–", U: "–", n: "–", length: "–", age: "–" };
  const kept = { captured: String(view?.captured ?? "–"), last: view?.last_capture || "–" };
  return { ...none, ...kept, limits: view ? facts(view).limits : "–" };
}

function withoutBench(state, silentWhy, ended) {
  const isFirst = state === null && !silentWhy;
  return {
    ...NOTHING,
    ...labels(state),
    link: isFirst ? "connecting" : "no link",
    linkMood: isFirst ? "is-wait" : "is-stop",
    headline: [isFirst ? "CONNECTING" : ended ? "ENDED" : "NO LINK"],
    mood: isFirst ? "wait" : "stop",
    form: isFirst ? "plain" : "frame",
    loud: silentWhy,
    facts: noFacts(state),
    capture: { can: false, why: silentWhy || "This screen is not connected yet." },
  };
}

function withoutGauge(state) {
  const why = "No gauge is read just now.";
  return {
    ...NOTHING,
    ...labels(state),
    link: "no gauge",
    linkMood: "is-wait",
    headline: ["NO GAUGE"],
    loud: why,
    facts: noFacts(state),
    capture: { can: false, why },
  };
}

/**
 * The headline as large as its box allows.
 *
 * `texts` say the same, longest first; each may be set in one line or in two. A shorter text is taken
 * only where it can be set much larger: half of the words is half of the sense.
 *
 * @param widthOf width of a text at a size of 1 pixel.
 * @returns {lines, size} with the size in pixels.
 */
export function setting(texts, widthOf, boxWidth, boxHeight) {
  const best = texts.map((text) =>
    [[text], text.split(/ (.*)/s).filter(Boolean)]
      .map((lines) => ({ lines, size: sizeOf(lines, widthOf, boxWidth, boxHeight) }))
      .reduce((one, other) => (other.size > one.size * 1.15 ? other : one)),
  );
  const most = Math.max(...best.map(({ size }) => size));
  return best.find(({ size }) => size >= 0.75 * most) ?? { lines: [""], size: 1 };
}

function sizeOf(lines, widthOf, boxWidth, boxHeight) {
  const widest = Math.max(...lines.map(widthOf), 1e-9);
  return Math.max(Math.min(boxWidth / widest, boxHeight / (lines.length * 0.98)), 1);
}

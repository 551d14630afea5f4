/** Words that the pages of a job, a calibration and the logbook share: pure, so that all is tested. */

const NAMES = {
  a: "Set anew", b: "Back", c: "Confirm gauge", o: "Let it stand", q: "q at the terminal", s: "Skip",
};

/** A tablet has no keys a, b, o; it has buttons. "press b to …, or o to …" names them. */
export function forButtons(words) {
  return words
    .replace(/\b(press|or) ([abcoqs]) (?=to\b)/gi, (_, before, key) => `${before} ${NAMES[key.toLowerCase()]} `)
    .replace(/\bpress c\b/gi, "press Confirm gauge")
    .replace(/,? as: go(?: [\d.]+)+/g, "");
}

/** A figure as it is sent: a point, no blanks; null if it is none. */
export function figure(text) {
  const plain = text.trim().replace("−", "-").replace(",", ".");
  return /^[+-]?\d{1,6}(\.\d{1,6})?$/.test(plain) ? plain : null;
}

/**
 * The figures of fields, in their order.
 *
 * @param fields `[{ name, text }]`.
 * @returns `{ figures, why }`: `why` says which field has none, and `figures` is empty then.
 */
export function figuresOf(fields) {
  const figures = fields.map(({ text }) => figure(text));
  const wrong = figures.indexOf(null);
  if (wrong < 0) return { figures, why: "" };
  return { figures: [], why: `${fields[wrong].name}: type a number, as 36.5.` };
}

const two = (number) => String(number).padStart(2, "0");

/** A day and a time of this device's own clock; today the time alone. "" if the text is no time. */
export function whenWords(text, now = new Date()) {
  const at = new Date(text);
  if (Number.isNaN(at.getTime())) return "";
  const time = `${two(at.getHours())}:${two(at.getMinutes())}`;
  if (at.toDateString() === now.toDateString()) return time;
  return `${at.getFullYear()}-${two(at.getMonth() + 1)}-${two(at.getDate())} ${time}`;
}

/** A reason typed by hand, made fit for one line of a record. */
export function oneLine(text) {
  return text.replace(/\s+/g, " ").trim();
}

/** How a verdict looks: its mark and its mood. The word always stands beside it. */
export function verdictLook(word) {
  return LOOKS[word] ?? { mark: "", mood: "" };
}

const LOOKS = {
  in: { mark: "✓", mood: "is-good" },
  pass: { mark: "✓", mood: "is-good" },
  "conditional pass": { mark: "✓", mood: "is-wait" },
  low: { mark: "↓", mood: "is-stop" },
  high: { mark: "↑", mood: "is-stop" },
  out: { mark: "×", mood: "is-stop" },
  fail: { mark: "×", mood: "is-stop" },
  "conditional fail": { mark: "×", mood: "is-turn" },
  "too close to call": { mark: "?", mood: "is-wait" },
  now: { mark: "▶", mood: "" },
  "to do": { mark: "○", mood: "" },
  done: { mark: "✓", mood: "is-good" },
  skipped: { mark: "–", mood: "is-turn" },
  stands: { mark: "=", mood: "is-turn" },
  overruled: { mark: "=", mood: "is-turn" },
  again: { mark: "↺", mood: "is-turn" },
  anew: { mark: "↺", mood: "is-turn" },
};

/** How long a refusal is shown, s. */
export const REFUSED_FOR_S = 8;

/** What is said large about the work: a refusal while it is new, then what the work itself says. */
export function noticeOf({ silentWhy = "", refused = null, notice = "" }) {
  if (silentWhy) return { words: silentWhy, kind: "silent" };
  if (refused !== null && refused.agoS < REFUSED_FOR_S) return { words: sentence(refused.why), kind: "refused" };
  return { words: sentence(notice), kind: notice ? "notice" : "" };
}

function sentence(words) {
  return forButtons(words.charAt(0).toUpperCase() + words.slice(1));
}

/** What the logbook and the record page say, worked out from the answers of the bench: pure. */

/** The address of an answer: what is asked, without empty fields. */
export function questionOf({ q = "", kind = "", day = "", before = null }) {
  const asked = Object.entries({ q: q.trim(), kind, day, before }).filter(([, value]) => value !== "" && value !== null);
  return new URLSearchParams(asked).toString();
}

/** The question that stands in the address of the page. */
export function askedBy(search) {
  const asked = new URLSearchParams(search);
  return { q: asked.get("q") ?? "", kind: asked.get("kind") ?? "", day: asked.get("day") ?? "" };
}

/** How many answers one press asks for before it waits for another press. */
export const ANSWERS_A_PRESS = 10;

/** Whether to ask on by itself: nothing was found yet, and there is more to look at. */
export function goesOn(answer, found, answers) {
  return found === 0 && answer.next !== null && answers < ANSWERS_A_PRESS;
}

/** What stands under the list. */
export function footOf(answer, found) {
  const back = answer.next === null ? "to the first record" : `back to record ${answer.looked_to} of ${answer.last}`;
  if (found === 0) return `Nothing found, looked ${back}.`;
  return `${found} shown, looked ${back}.`;
}

/** What stands beside a record's number: what is wrong with it, or nothing. */
export function flawOf({ intact, readable }) {
  if (!intact) return "does not fit its hash";
  return readable ? "" : "not readable here";
}

/** The way to a record's own page. */
export function pathOf(row) {
  return `/record/${encodeURIComponent(row.ref)}`;
}

/** What is asked for by the address of a record's page: "/record/17" names 17. */
export function recordOf(pathname) {
  const [, name = ""] = pathname.match(/^\/record\/([^/]+)\/?$/) ?? [];
  try {
    return decodeURIComponent(name);
  } catch {
    return "";
  }
}

/** A hash in groups of eight, so that two can be held against each other by eye. */
export function hashWords(hash) {
  return (hash.match(/.{1,8}/g) ?? []).join(" ");
}

/** What is said of a record's place in the chain. */
export function chainWords({ intact, sequence, last }) {
  const fits = intact
    ? "It fits its own hash."
    : "It does NOT fit its own hash: it is not as it was written.";
  return `${fits} Record ${sequence} of ${last}. Whether the whole chain holds: restpoint log verify.`;
}

/** A time as a list shows it: the day and the time to the second, in UTC. */
export function utcWords(text) {
  const [, day, time] = text.match(/^(\d{4}-\d\d-\d\d)T(\d\d:\d\d:\d\d)/) ?? [];
  return day ? `${day} ${time}` : text;
}

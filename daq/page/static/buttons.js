/** Buttons and keys for oily hands: a press counts once, and is felt at once. */

/** The same press again within this time is a repeat of the last one, ms: a foot bounces. */
export const QUIET_MS = 300;

/** A foot switch is a keyboard of one key: space, Enter or page down, as it was set up. */
const FOOT = new Set([" ", "Enter", "PageDown"]);

/** Which inputs take keys for themselves. */
const WRITES = "input, select, textarea, dialog, [contenteditable]";

/** What a screen can be used with when it is reached by the keyboard. */
const WORKS = "button, a[href], summary, [tabindex]";

/**
 * What a key asks for: "capture", "confirm", or null.
 *
 * @param event what the browser says of the key: `key`, `repeat`, and the keys held with it.
 * @param place where the keyboard is: `writes` in a field or a dialogue, `works` on a button that
 *   was reached by the keyboard and takes space and Enter for itself.
 * @param letters whether letters count; a person can switch them off (WCAG 2.2, 2.1.4).
 */
export function keyWish(event, place = {}, letters = true) {
  if (event.repeat || event.ctrlKey || event.altKey || event.metaKey || place.writes) return null;
  if (FOOT.has(event.key)) return place.works && event.key !== "PageDown" ? null : "capture";
  return letters && (event.key === "c" || event.key === "C") ? "confirm" : null;
}

/** Tells presses from repeats. Every repeat starts the quiet time anew, so a key held counts once. */
export class PressFilter {
  #seenMs = new Map();

  counts(name, nowMs) {
    const agoMs = nowMs - (this.#seenMs.get(name) ?? -Infinity);
    this.#seenMs.set(name, nowMs);
    return !(agoMs >= 0 && agoMs < QUIET_MS);
  }
}

/**
 * Does something at each press of a button. A button pressed by hand gives the keyboard back to the
 * page, so that the next press of the foot switch captures and does not press it again.
 */
export function onPress(button, act) {
  const filter = new PressFilter();
  button.addEventListener("click", (event) => {
    if (!filter.counts("press", event.timeStamp)) return;
    feel(button);
    if (event.detail > 0) button.blur();
    act(event);
  });
}

/** Shows for a moment that a button was pressed, whatever comes of it. */
export function feel(button) {
  button.classList.add("pressed");
  setTimeout(() => button.classList.remove("pressed"), 180);
}

/** Does something at each key that asks for it: `acts` by name, `letters()` whether letters count. */
export function onKeys(acts, letters = () => true) {
  const filter = new PressFilter();
  addEventListener("keydown", (event) => {
    const at = document.activeElement;
    const place = {
      writes: at?.closest(WRITES) != null || document.querySelector("dialog[open]") !== null,
      works: at?.matches(`:focus-visible:is(${WORKS})`) ?? false,
    };
    if (event.repeat && FOOT.has(event.key) && !place.writes && !place.works) event.preventDefault();
    const wish = keyWish(event, place, letters());
    if (wish === null || !(wish in acts)) return;
    event.preventDefault(); // space and page down would scroll
    if (filter.counts(wish, event.timeStamp)) acts[wish](event);
  });
}

/** Sets a text only where it is another: a page that repeats itself is laid out again for nothing. */
export function say(element, text) {
  if (element.textContent !== text) element.textContent = text;
}

/** Shows or hides an element. */
export function show(element, isShown) {
  if (element.hidden === isShown) element.hidden = !isShown;
}

/** Sets an attribute only where it is another; null takes it away. */
export function mark(element, name, value) {
  if (value === null || value === undefined) {
    if (element.hasAttribute(name)) element.removeAttribute(name);
  } else if (element.getAttribute(name) !== String(value)) {
    element.setAttribute(name, String(value));
  }
}

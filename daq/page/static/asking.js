/** A dialogue that asks for a reason, a name or a choice before something is done. */

import { onPress, say, show } from "./buttons.js";
import { keep, kept } from "./keep.js";
import { make } from "./dom.js";
import { oneLine } from "./work_words.js";

/**
 * What is missing in an answer, in words; "" if nothing is.
 *
 * @param needs `{ reason, by, target }`: which fields must be filled; `target` is a list to choose from.
 */
export function missing(needs, { reason = "", by = "", target = "" }) {
  if (needs.reason && !oneLine(reason)) return "A reason is needed; it is kept for good.";
  if (needs.by && !oneLine(by)) return "A name is needed: somebody has to answer for it.";
  if (needs.target && !needs.target.includes(target)) return "Choose one of the list.";
  return "";
}

/** The dialogue in `box`. `ask(question)` gives the answer, or null if nobody gave one. */
export function asking(box) {
  const at = (name) => box.querySelector(`[data-part="${name}"]`);
  let needs = {};
  let done = null;

  function answer() {
    return {
      reason: needs.reason || needs.remark ? oneLine(at("reason").value) : "",
      by: needs.by ? oneLine(at("by").value) : "",
      target: needs.target ? at("target").value : "",
    };
  }

  function finish(value) {
    const tell = done;
    done = null;
    if (box.open) box.close();
    tell?.(value);
  }

  function submit() {
    const why = missing(needs, answer());
    say(at("why"), why);
    show(at("why"), why !== "");
    if (why) return;
    if (needs.by) keep("name", answer().by);
    finish(answer());
  }

  onPress(at("yes"), submit);
  onPress(at("no"), () => finish(null));
  box.addEventListener("close", () => finish(null));

  return {
    /** `question`: `title`, `words`, `yes` (the button), and what it needs: `reason`, `by`, `target`. */
    ask(question) {
      finish(null);
      needs = question;
      say(at("title"), question.title);
      say(at("words"), question.words ?? "");
      say(at("yes"), question.yes);
      say(at("reason-label"), question.reasonLabel ?? "Reason");
      show(at("reason-field"), Boolean(question.reason || question.remark));
      show(at("by-field"), Boolean(question.by));
      show(at("target-field"), Boolean(question.target));
      show(at("why"), false);
      at("reason").value = "";
      at("by").value = kept("name", "");
      at("target").replaceChildren(...(question.target ?? []).map((name) => make("option", { value: name }, name)));
      box.showModal();
      return new Promise((tell) => (done = tell));
    },
    /** Takes the dialogue away: what it asks about is over. */
    leave: () => finish(null),
  };
}

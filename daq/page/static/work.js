/** What the job and the calibration page have in common: the link, the strip, painting by frames. */

import { mark as setMark, say } from "./buttons.js";
import { faceOf } from "./face.js";
import { connect } from "./link.js";
import { stayAwake, wear } from "./screen.js";
import { strip as stripIn } from "./strip.js";
import { REFUSED_FOR_S } from "./work_words.js";

/** A state without what these pages say in a place of their own: what was refused, and why. */
export function quiet(state) {
  return state === null || state.view === null ? state : { ...state, view: { ...state.view, notice: "" } };
}

/**
 * Keeps a page up with the bench: `paint(seen)` at each change, with `state`, `silentWhy`, `ended` and
 * `refused` (`{ why, agoS }` or null); the strip and the word for the link are painted here.
 */
export function keepUp({ strip, paint, link: tag }) {
  wear();
  const gauge = stripIn(strip);
  const seen = { state: null, silentWhy: "", ended: false, refused: null };
  let isDrawn = true;

  function soon() {
    if (!isDrawn) return;
    isDrawn = false;
    requestAnimationFrame(frame);
  }

  function frame() {
    isDrawn = true;
    const { refused } = seen;
    const agoS = refused === null ? 0 : (performance.now() - refused.atMs) / 1000;
    const now = { ...seen, refused: refused === null ? null : { why: refused.why, agoS } };
    const face = faceOf({ ...now, state: quiet(seen.state), refused: null });
    gauge.show(face);
    say(tag, face.link === "live" ? "signal" : face.link);
    setMark(tag, "class", `tag ${face.linkMood}`);
    setMark(document.body, "data-silent", seen.silentWhy !== "");
    if (seen.state !== null) document.documentElement.dataset.n = seen.state.n;
    paint(now);
  }

  function refuse(why) {
    seen.refused = { why, atMs: performance.now() };
    soon();
    setTimeout(soon, REFUSED_FOR_S * 1000 + 50);
  }

  const link = connect({
    onState(state) {
      Object.assign(seen, { state, silentWhy: "", ended: false });
      soon();
    },
    onSilent(why) {
      seen.silentWhy = why;
      soon();
    },
    onBye() {
      seen.ended = true;
    },
    onRefused: ({ why }) => refuse(why),
  });
  stayAwake(() => {});
  soon();
  return { ask: (wish) => link.ask(wish), refuse };
}

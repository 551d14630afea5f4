/** The live number as a strip of a page that is about more than the number. */

import { mark as setMark, say, show } from "./buttons.js";
import { needle } from "./needle.js";
import { numeral, sign } from "./numeral.js";

/** The strip in `box`; `show(face)` paints what `faceOf` says. */
export function strip(box) {
  const at = (name) => box.querySelector(`[data-part="${name}"]`);
  const number = numeral(at("number"));
  const side = sign(at("mark"));
  const gate = needle(at("gate"));
  return {
    show(face) {
      const { view } = face;
      const isBlank = face.digits === null;
      setMark(box, "data-blank", isBlank);
      setMark(box, "data-mood", face.mood);
      setMark(box, "data-motion", face.motion || null);
      number.show(face.digits);
      side.show(face.mark);
      say(at("digits"), isBlank ? "no number" : `${face.digits.trim()} ${face.unit}`);
      say(at("head"), face.headline[0] ?? "");
      say(at("unit"), face.unit);
      say(at("label"), face.label);
      say(at("motion"), face.motion);
      const { settled, U, n } = face.facts;
      say(at("settled"), settled === "–" ? "" : `settled ${settled} ± ${U} (k = 2), n = ${n}`);
      say(at("loud"), face.loud);
      show(at("loud"), face.loud !== "");
      say(at("words"), face.loud ? "" : face.words);
      show(at("gate"), view !== null && view.nominal !== null);
      gate.show(view);
    },
  };
}

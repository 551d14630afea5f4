/** A record as a line of a list: number, time, kind, words, and what is wrong with it. */

import { make } from "./dom.js";
import { flawOf, pathOf, utcWords } from "./logbook_face.js";
import { verdictLook } from "./work_words.js";

export function recordRow(row) {
  const { mark, mood } = verdictLook(row.verdict);
  const flaw = flawOf(row);
  return make(
    "li", {},
    make(
      "a", { href: pathOf(row) },
      make("span", { class: "number" }, make("span", { class: "unseen" }, "Record "), String(row.sequence)),
      make("span", { class: "at" }, utcWords(row.at)),
      make("span", { class: "kind" }, row.kind),
      make("span", { class: "what" }, row.words, row.operator ? make("span", { class: "quiet" }, ` ${row.operator}`) : null),
      make(
        "span", { class: "verdict" },
        row.verdict ? make("b", { class: mood }, [mark, row.verdict].filter(Boolean).join(" ")) : null,
        flaw ? make("span", { class: "tag is-stop" }, flaw) : null,
      ),
    ),
  );
}

/** The logbook page: asks for records, newest first, and shows them as they come. */

import { onPress, say, show } from "./buttons.js";
import { make } from "./dom.js";
import { askedBy, footOf, goesOn, questionOf } from "./logbook_face.js";
import { recordRow } from "./record_row.js";
import { wear } from "./screen.js";

wear();

const at = (id) => document.getElementById(id);
let asked = askedBy(location.search);
let next = null;
let shown = 0;
let turn = 0;

function putIn() {
  at("q").value = asked.q;
  at("kind").value = asked.kind;
  at("day").value = asked.day;
}

/** Asks for the next records; an answer to an older question is thrown away. */
async function look(before) {
  const mine = ++turn;
  busy(true);
  try {
    for (let answers = 1; ; answers += 1) {
      const response = await fetch(`/api/records?${questionOf({ ...asked, before })}`);
      const answer = await response.json();
      if (mine !== turn) return;
      if (!response.ok) throw new Error(answer.why);
      add(answer);
      if (!goesOn(answer, shown, answers)) break;
      before = answer.next;
    }
    trouble("");
  } catch (error) {
    if (mine === turn) trouble(error instanceof TypeError ? "The bench program does not answer." : error.message);
  } finally {
    if (mine === turn) busy(false);
  }
}

function add(answer) {
  kinds(answer.kinds);
  shown += answer.records.length;
  next = answer.next;
  at("list").append(...answer.records.map(recordRow));
  say(at("about"), `${answer.last} records, ${answer.logbook}`);
  say(at("foot"), footOf(answer, shown));
  show(at("older"), next !== null);
}

function kinds(all) {
  const list = at("kind");
  if (list.options.length > 1) return;
  list.append(...all.map((kind) => make("option", { value: kind }, kind)));
  list.value = asked.kind;
}

function busy(isBusy) {
  at("list").setAttribute("aria-busy", String(isBusy));
  at("older").disabled = isBusy;
}

function trouble(words) {
  say(at("trouble"), words);
  show(at("trouble"), words !== "");
}

function ask(question) {
  asked = question;
  const words = questionOf(asked);
  history.replaceState(null, "", words ? `?${words}` : location.pathname);
  shown = 0;
  at("list").replaceChildren();
  look(null);
}

at("question").addEventListener("submit", (event) => {
  event.preventDefault();
  ask({ q: at("q").value, kind: at("kind").value, day: at("day").value });
});
for (const name of ["kind", "day"]) at(name).addEventListener("change", () => at("question").requestSubmit());
onPress(at("clear"), () => {
  asked = { q: "", kind: "", day: "" };
  putIn();
  ask(asked);
});
onPress(at("older"), () => look(next));
putIn();
look(null);

/** The page of one record: everything that it says, its readings, and what belongs to it. */

import { onPress, say, show } from "./buttons.js";
import { make } from "./dom.js";
import { chainWords, flawOf, hashWords, recordOf, utcWords } from "./logbook_face.js";
import { needle } from "./needle.js";
import { recordRow } from "./record_row.js";
import { wear } from "./screen.js";
import { drawnTrace, traceWords } from "./trace.js";

wear();

const at = (id) => document.getElementById(id);

/** Rows of a long table that are shown at once; the rest comes with a press. */
const ROWS = 40;

async function load() {
  try {
    const response = await fetch(`/api/record/${encodeURIComponent(recordOf(location.pathname))}`);
    const record = await response.json();
    if (!response.ok) throw new Error(record.why);
    paint(record);
  } catch (error) {
    const isCut = error instanceof TypeError;
    say(at("trouble"), isCut ? "The bench program does not answer." : error.message);
    show(at("trouble"), true);
  }
}

function paint(record) {
  const name = `Record ${record.sequence}`;
  say(at("name"), `${name}: ${record.kind}`);
  say(document.querySelector("title"), `${name} · restpoint`);
  say(at("flaw"), flawOf(record));
  show(at("flaw"), flawOf(record) !== "");
  beside(at("before"), record.sequence - 1, record.last);
  beside(at("after"), record.sequence + 1, record.last);
  say(at("words"), record.words);
  say(at("at"), record.at ? `${utcWords(record.at)} UTC` : "–");
  say(at("kind"), record.format === null ? record.kind : `${record.kind}, format ${record.format}`);
  say(at("uid"), record.uid || "–");
  say(at("why"), record.why);
  show(at("why"), record.why !== "");
  paintTrace(record.trace);
  list("refers-to", "to-card", record.refers_to);
  list("referred-by", "by-card", record.referred_by);
  say(at("looked"), "Only the records nearest to it were looked through.");
  show(at("looked"), !record.looked_through);
  at("fields").replaceChildren(...record.fields.map(fieldRow));
  at("tables").replaceChildren(...record.tables.map(tableCard));
  at("texts").replaceChildren(...textsOf(record).map(textCard));
  say(at("chain"), chainWords(record));
  say(at("hash"), hashWords(record.hash));
  say(at("previous"), hashWords(record.previous));
  say(at("logbook"), record.logbook);
  show(at("all"), true);
}

function beside(link, sequence, last) {
  show(link, sequence >= 1 && sequence <= last);
  link.href = `/record/${sequence}`;
}

function paintTrace(trace) {
  show(at("trace-card"), trace !== null);
  if (trace === null) return;
  at("trace").replaceChildren(drawnTrace(trace));
  say(at("trace-words"), traceWords(trace));
  show(at("gate-part"), trace.gate !== null);
  if (trace.gate === null) return;
  const { settled, U, limits, outcome } = trace.gate;
  say(at("gate-name"), `${settled} off nominal, U ${U}; limits ${limits}${outcome ? `: ${outcome}` : ""}`);
  needle(at("gate")).show(trace.gate);
}

function list(id, card, rows) {
  at(id).replaceChildren(...rows.map(recordRow));
  show(at(card), rows.length > 0);
}

function fieldRow({ name, value }) {
  return make("tr", {}, make("th", { scope: "row" }, name), make("td", {}, value));
}

function tableCard({ name, columns, rows }) {
  const body = make("tbody", {}, rows.slice(0, ROWS).map(tableRow));
  const head = make("tr", {}, columns.map((each) => make("th", { scope: "col" }, each)));
  const table = make("table", {}, make("caption", {}, `${name} (${rows.length})`), make("thead", {}, head), body);
  const card = make("section", { class: "card", "aria-label": name }, make("div", { class: "scroll" }, table));
  if (rows.length > ROWS) {
    const more = make("button", { type: "button", class: "no-print" }, `All ${rows.length} rows`);
    onPress(more, () => {
      body.append(...rows.slice(ROWS).map(tableRow));
      more.remove();
    });
    card.append(more);
  }
  return card;
}

function tableRow(row) {
  return make("tr", {}, row.map((cell) => make("td", {}, cell)));
}

/** The long texts of a record; of one that nobody can read, the record itself. */
function textsOf(record) {
  return record.body ? [...record.texts, { name: "as it stands in the logbook", text: record.body }] : record.texts;
}

function textCard({ name, text }) {
  return make("section", { class: "card", "aria-label": name }, make("h2", {}, name), make("pre", { tabindex: 0 }, text));
}

onPress(at("print"), () => print());
load();

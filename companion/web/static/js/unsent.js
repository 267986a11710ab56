// The strip above the page that says what stands on this phone alone: saved here, sent, or not taken, with Undo for
// the last tap. One live region for ears; it stays while the page below is renewed. Reads the queue, changes nothing.

import { paintQuestion, questionPlace } from "./question.js";
import { dayOf, knows, say, timeOf } from "./saying.js";

export const UNDO_FOR = 10_000; // ms after a tap
const SHOWN = 3;

let strip = null;
let status = null;
let list = null;
let question = null;

// Put the empty strip on the page: ears hear of changes to what was there before.
export function makeStrip() {
  strip = element("section", { className: "strip", hidden: true });
  strip.setAttribute("aria-label", say("phone.strip"));
  status = element("p", { role: "status" });
  list = element("ul", {});
  question = questionPlace();
  strip.append(list, status, question);
  document.getElementById("main").before(strip);
}

// Show `rows` (queue.standing), `names` of wearers by id, and `said`: what ears should hear now. `undoes` is the id of
// the tap that can still be undone with `onUndo`; `onDrop(id)` puts a refused one away; `asked` is what to ask about
// the last tap, until `onYes`.
export function paintStrip({ rows, names, said, undoes, asked, onUndo, onDrop, onYes }) {
  list.replaceChildren(...rows.slice(-SHOWN).map((row) => line(row, names, onDrop)));
  const more = rows.length - SHOWN;
  if (more > 0) list.prepend(element("li", { textContent: say("phone.more", { num: more }) }));
  if (status.textContent !== said) status.textContent = said;
  strip.querySelector("button.undo")?.remove();
  if (undoes) {
    const undo = element("button", { type: "button", className: "undo", textContent: say("phone.undo") });
    undo.addEventListener("click", () => onUndo(undoes), { once: true });
    status.after(undo); // before the question: neither changes place under a thumb
  }
  paintQuestion(question, asked, onYes);
  strip.hidden = !rows.length && !said && !undoes && !asked;
}

// A row in a line: whose, what, when.
export function rowWords({ wearer, raw: { kind, payload, at, zone } }, names) {
  const key = [`kind.${kind}.${payload.eyes}`, `${kind}.${payload.eyes}`, `kind.${kind}`].find(knows) ?? "kind.other";
  const what = say(key, { night: payload.night && dayOf(payload.night) });
  const name = names[wearer];
  return say(name ? "phone.row_of" : "phone.row", { name, what, time: timeOf(at, zone) });
}

function line(row, names, onDrop) {
  const item = element("li", { textContent: rowWords(row, names) });
  item.dataset.state = row.state;
  if (row.state !== "rejected") return item;
  const why = row.why?.said ?? say(row.why?.code === "gone" ? "phone.gone" : "phone.not_taken");
  item.append(element("p", { textContent: why }));
  const drop = element("button", { type: "button", className: "plain", textContent: say("phone.put_away") });
  drop.addEventListener("click", () => onDrop(row.id), { once: true });
  item.append(drop);
  return item;
}

export function element(tag, { role, ...properties }) {
  const made = Object.assign(document.createElement(tag), properties);
  if (role) made.setAttribute("role", role);
  return made;
}

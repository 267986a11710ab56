// The strip above the page that says what stands on this phone alone: saved here, sent, or not taken, with Undo for
// the last tap. One live region for ears; it stays while the page below is renewed. Reads the queue, changes nothing.

import { dayOf, knows, say, timeOf } from "./saying.js";

export const UNDO_FOR = 10_000; // ms after a tap
const SHOWN = 3;

let strip = null;
let status = null;
let list = null;

// Put the empty strip on the page: ears hear of changes to what was there before.
export function makeStrip() {
  strip = element("section", { className: "strip", hidden: true });
  strip.setAttribute("aria-label", say("state.here"));
  status = element("p", { role: "status" });
  list = element("ul", {});
  strip.append(list, status);
  document.getElementById("main").before(strip);
}

// Show `rows` (queue.standing), `names` of wearers by id, and `said`: what ears should hear now. `undoes` is the id of
// the tap that can still be undone with `onUndo`; `onDrop(id)` puts a refused one away.
export function paintStrip({ rows, names, said, undoes, onUndo, onDrop }) {
  list.replaceChildren(...rows.slice(-SHOWN).map((row) => line(row, names, onDrop)));
  if (rows.length > SHOWN) list.prepend(element("li", { textContent: say("state.waiting", { num: rows.length }) }));
  if (status.textContent !== said) status.textContent = said;
  strip.querySelector("button.undo")?.remove();
  if (undoes) {
    const undo = element("button", { type: "button", className: "undo", textContent: say("state.undo") });
    undo.addEventListener("click", () => onUndo(undoes), { once: true });
    strip.append(undo);
  }
  strip.hidden = !rows.length && !said && !undoes;
}

// A row as a line: whose, what, when.
export function rowLine({ wearer, raw: { kind, payload, at, zone } }, names) {
  const item = element("li", {});
  if (names[wearer]) item.append(element("b", { textContent: names[wearer], translate: false }), " ");
  const key = [`tap.${kind}.${payload.eyes}`, `${kind}.${payload.eyes}`, `kind.${kind}`].find(knows);
  const what = key ? say(key, { night: payload.night && dayOf(payload.night) }) : kind;
  item.append(element("span", { textContent: what }), " ", element("small", { textContent: timeOf(at, zone) }));
  return item;
}

function line(row, names, onDrop) {
  const item = rowLine(row, names);
  item.dataset.state = row.state;
  if (row.state !== "rejected") return item;
  const why = row.why?.said ?? say(row.why?.code === "gone" ? "state.gone" : "state.refused");
  item.append(element("p", { textContent: why }));
  const drop = element("button", { type: "button", className: "plain", textContent: say("state.put_away") });
  drop.addEventListener("click", () => onDrop(row.id), { once: true });
  item.append(drop);
  return item;
}

export function element(tag, { role, ...properties }) {
  const made = Object.assign(document.createElement(tag), properties);
  if (role) made.setAttribute("role", role);
  return made;
}

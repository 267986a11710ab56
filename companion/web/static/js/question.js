// The one short question after a tap for a lens. A yes is nobody's finding: it puts the question away and is kept
// nowhere. A no, or a doubt, leads straight to the report of trouble.

import { h } from "./markup.js";
import { say } from "./saying.js";

const ASKED_OF = ["lenses_in", "lenses_out"];
const LATELY = 30 * 60_000; // ms: of what is longer ago the eyes have told already

// What to ask after this tap, if anything.
export const questionAfter = (wearer, { id, kind, at }, now) =>
  (ASKED_OF.includes(kind) && now - Date.parse(at) <= LATELY ? { id, kind, wearer } : null);

// The place for it, there before it is asked: ears hear of changes to what was there.
export const questionPlace = () => h("div", { class: "asking", "aria-live": "polite" });

// Show the question in its place, or none. One that stands already stays as it is, for thumbs and ears.
export function paintQuestion(place, asked, onYes) {
  const shown = place.querySelector(".asked");
  if ((shown?.dataset.after ?? null) === (asked?.id ?? null)) return;
  shown?.remove();
  if (!asked) return;
  place.append(h("div", { class: "asked", role: "group", "aria-labelledby": "asked-words", "data-after": asked.id },
    h("p", { id: "asked-words" }, say(`tapped.${asked.kind}`)),
    h("div", { class: "row" },
      h("button", { type: "button", onclick: onYes }, say("tapped.yes")),
      h("a", { class: "button", href: `/w/${asked.wearer}/wrong` }, say("tapped.no")))));
}

// A young wearer alone: an adult comes first, and the questions speak to them. As templates/parts/young.html and
// companion/phrasebook/young_words.py have it. And what stands in place of the questions where a practice has switched
// triage off, as templates/parts/red_flags.html. Values in, elements out.

import { h } from "./markup.js";
import { callPractice } from "./shapes.js";

const SIGNS = ["pain", "blur", "red", "spot", "pus", "flashes", "lids", "stuck", "longer"];
const DEEDS = ["out", "no_lens", "call"];

export const youngIn = (wearer) => wearer?.tonight?.young ?? null;
export const judges = (wearer) => wearer?.tonight?.practice?.triage_on !== false;

// Which words to say of a key: those for a young wearer, where there are any.
export const spoken = (voice, young) => (key) => (young && voice.own.has(`young.${key}`) ? `young.${key}` : key);

export function adultFirst(voice, young) {
  if (!young || !voice.own.has("young.adult.tell")) return null;
  return h("section", { class: "aside", id: "adult" },
    h("p", { class: "lead" }, h("b", {}, voice.vital("young.adult.tell")), " ", voice.vital("young.adult.show")),
    young.adults.filter(({ phone }) => phone).map(({ name, phone }) => h("p", {},
      h("a", { class: "button", href: `tel:${phone}` }, voice.vital("young.adult.call", { name })))));
}

// `opens` says when they open, if that is to be said.
export function redFlags(voice, practice, opens = null) {
  const list = (tag, keys, attributes) => h(tag, attributes, keys.map((key) => h("li", {}, voice.vital(`flags.${key}`))));
  const known = voice.own.has("flags.heading");
  return [
    known && [h("h2", {}, voice.vital("flags.heading")), list("ul", SIGNS), list("ol", DEEDS, { class: "steps" })],
    callPractice(voice, practice, true),
    opens && h("p", { class: "quiet" }, opens),
    h("p", {}, h("b", {}, voice.vital("go.within_hours"))),
    known && [h("p", {}, voice.vital("flags.else")), h("p", { class: "quiet small" }, voice.vital("flags.not_judged"))],
  ];
}

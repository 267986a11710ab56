// When to look at the eye again, as templates/parts/look.html has it, and asking for more than the answers gave.
// counting.js counts what stands here. Values in, elements out.

import { timeAndDay } from "./dates.js";
import { h } from "./markup.js";
import { worseOf } from "./worse.js";

// `look` = {at, now, due, moment, eyes}, with times as text in the wearer's zone. `words(key, values)` says a sentence,
// `times` can say times. `onSaid` = {same, better, worse}: an address each, or what a press does.
export function lookAgain(look, words, times, onSaid) {
  const key = look.moment ? `look.at.${look.moment}` : "look.at";
  return h("section", { class: "card look", "data-at": look.at, "data-now": look.now },
    h("h2", {}, words("look.heading")),
    h("p", { class: "lead", role: "status" },
      h("b", { "data-wait": true, hidden: look.due }, words(key, { time: timeAndDay(times, look.at, look.now) })),
      h("b", { "data-due": true, hidden: !look.due }, words("look.due"))),
    h("p", { "data-left": true, hidden: true }),
    h("p", { class: "quiet", "data-wait": true, hidden: look.due }, words("look.alarm")),
    h("p", {}, words("look.looked")),
    h("div", { class: "thirds" }, ["same", "better", "worse"].map((said) => (typeof onSaid[said] === "string"
      ? h("a", { class: "button", href: onSaid[said] }, words(`look.${said}`))
      : h("button", { type: "button", onclick: onSaid[said] }, words(`look.${said}`))))),
    h("p", { class: "quiet small" }, words("look.then")));
}

// Where each of the three leads: to the questions, afresh; "worse" is known there, and asked about all the same.
export function lookedAt(path, eyes) {
  const address = `${path}?eyes=${eyes}`;
  const worse = new URLSearchParams(worseOf(eyes));
  return { same: address, better: address, worse: `${address}&${worse}` };
}

// The levels above `level` that somebody may ask for: the next one, and "go now".
export function askForMore(level, voice, onAsk) {
  if (level >= 5) return null;
  const levels = [...new Set([level + 1, 5])];
  return h("details", { class: "more", id: "ask" },
    h("summary", {}, voice.vital("ask.heading")),
    h("p", { class: "quiet small" }, voice.vital("ask.why")),
    h("div", { class: "row" }, levels.map((one) =>
      h("button", { type: "button", value: one, onclick: () => onAsk(one) }, voice.vital(`urgency.${one}`)))));
}

// One large action, and beside it the three honest ways: the same forms as templates/family/taps.html, which taps.js
// reads. Each carries an id of its own: pressed twice, it counts once.

import { newId } from "./ids.js";
import { h } from "./markup.js";

const MINUTES_AGO = [15, 30, 60, 120];
const NOW = { lenses_in: "in_now", lenses_out: "out_now" };

const allOf = (eyes) => (eyes.length === 2 ? "both" : eyes[0]);

export function tap({ say }, view, kind, size = "act great") {
  const { eyes } = view.action;
  const key = eyes.length === 1 ? `${eyes[0]}_${NOW[kind]}` : `${kind}_now`;
  return form(view, { kind, eyes: allOf(eyes) }, {}, h("button", { class: size }, say(`say.${key}`)));
}

export function ways({ say }, view, kind, lastNight = null) {
  const { eyes } = view.action;
  const all = { kind, eyes: allOf(eyes) };
  const ago = (minutes) => (minutes < 60
    ? say("say.minutes_ago", { num: minutes }) : say("say.hours_ago", { num: minutes / 60 }));
  const none = { ...all, kind: "no_lenses" };
  const silent = Object.values(view.lens).every(({ state }) => state === "unknown");
  return h("div", { class: "ways" },
    eyes.length === 2 && h("details", {},
      h("summary", {}, say("say.one_eye")),
      form(view, { kind }, { class: "row" }, ["right", "left"].map((eye) =>
        h("button", { name: "eyes", value: eye }, say(`say.${eye}_only`))))),
    h("details", {},
      h("summary", {}, say("say.earlier")),
      form(view, all, {}, h("div", { class: "row" }, MINUTES_AGO.map((minutes) =>
        h("button", { name: "minutes_ago", value: minutes }, ago(minutes))))),
      form(view, all, {},
        h("div", { class: "field" },
          h("label", { for: `clock-${kind}` }, say("say.or_at")),
          h("input", { type: "time", name: "clock", id: `clock-${kind}`, required: true })),
        h("button", {}, say("say.save_time")))),
    kind === "lenses_in" ? form(view, none, {}, h("button", {}, say("say.not_tonight")))
      : silent && form(view, { ...none, night: lastNight }, {}, h("button", {}, say("say.none_last_night"))));
}

// Several nights told at once.
export function week({ say, day }, view) {
  const { id, zone } = view.wearer;
  const { since, until, nights } = view.week;
  const path = `/w/${id}/planned`;
  return h("div", { class: "aside stack" },
    h("p", {}, `${say("say.untold", { num: nights, day: day(since) })} ${say("say.as_planned_asked")}`),
    h("form", { method: "post", action: path, "data-entry": "as_planned", "data-wearer": id },
      fields({ id: newId(), zone, since, until }), h("button", {}, say("say.as_planned"))),
    h("a", { class: "button", href: path }, say("say.not_all")));
}

// Take back what the server says was the last tap.
export function undo(view, words) {
  const { id, zone } = view.wearer;
  const target = view.undo.entry_id;
  const where = { method: "post", action: `/w/${id}/entries/${target}/withdraw` };
  return h("form", { ...where, "data-entry": "withdrawal", "data-wearer": id, "data-withdraws": target },
    fields({ id: newId(), zone }), h("button", { class: "plain" }, words));
}

function form(view, said, attributes, ...children) {
  const { id, zone } = view.wearer;
  const where = { method: "post", action: `/w/${id}/entries`, "data-entry": "tap", "data-wearer": id };
  return h("form", { ...where, ...attributes }, fields({ id: newId(), zone, night: view.night, ...said }), children);
}

const fields = (values) => Object.entries(values).map(([name, value]) => h("input", { type: "hidden", name, value }));

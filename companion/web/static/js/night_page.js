// One night with all that was said of it, each of it open to change: templates/diary/night.html as the phone paints it.

import { dateOf } from "./dates.js";
import { eyeNight, nightState } from "./diary_page.js";
import { entryText } from "./entry_words.js";
import { choice, choices, eyeChoices, hidden, text, toldForm } from "./fields.js";
import { newId } from "./ids.js";
import { h } from "./markup.js";
import { who } from "./shapes.js";

const EYES = ["right", "left"];
const TIMED = ["lenses_in", "lenses_out", "sight"];
const WITH_TIME = [...TIMED, "care_item", "stuck_lens"];
const NO_FORM = ["care_item", "stuck_lens"];
const WORDS = ["sharp", "good", "soft", "blurred"];
const DAY = 24 * 3_600_000;

// `view` from nightNow.
export function nightPage(voice, view, { wearer }, age) {
  const { say, day, clock } = voice;
  const { night, asks, entries } = view;
  const title = say("pages.night_of", { day: day(night.night) });
  const eyes = EYES.filter((eye) => night[eye]);
  const hours = (eye) => {
    const { hours: worn, in: since, out: until } = night[eye];
    const span = since && until ? `, ${clock(since)} – ${clock(until)}` : "";
    return `${say(`eyes.${eye}`)}: ${say("pages.hours", { hours: voice.tenths(worn) })}${span}`;
  };
  return {
    title,
    nodes: [
      who(wearer),
      age,
      h("h1", {}, title),
      h("p", { class: "night-eyes" }, eyes.map((eye) => nightState(night[eye].state, eyeNight(voice, night, eye)))),
      eyes.filter((eye) => night[eye].hours).map((eye) => h("p", { class: "quiet figures" }, hours(eye))),
      !night.planned && h("p", { class: "quiet" }, say("pages.plan_leaves_free")),
      asks.map((one) => h("p", { class: "aside" }, say(`oddity.${one.code}`))),
      h("h2", {}, say("pages.what_was_said")),
      entries.length ? entries.map((entry) => card(voice, wearer, entry)) : h("p", {}, say("pages.nothing_said")),
      h("details", { class: "more", open: !entries.length },
        h("summary", {}, say("pages.add_to_night")),
        toldForm(wearer, "of_night", `diary/${night.night}`, { "data-night": night.night },
          choices("kind", say("pages.what_happened"), [
            ["lenses_in", say("pages.in")], ["lenses_out", say("pages.out")], ["no_lenses", say("pages.none")],
          ], "lenses_in"),
          choices("eyes", say("pages.which_eye"), eyeChoices(voice), "both"),
          text("clock", say("pages.at_what_time"), {
            type: "time", hint: say("pages.which_day", { day: day(night.night), next: day(dateOf(Date.parse(night.night) + DAY)) }),
          }),
          h("button", { class: "act" }, say("say.save")))),
      h("p", {}, h("a", { class: "button", href: `/w/${wearer.id}/diary` }, say("pages.all_nights"))),
    ],
  };
}

function card(voice, wearer, entry) {
  const { say, day, clock } = voice;
  const time = WITH_TIME.includes(entry.kind) && [h("time", { datetime: entry.at }, `${day(entry.at)} ${clock(entry.at)}`), " · "];
  const isNote = entry.kind === "note";
  return h("section", { class: "card", id: `e-${entry.id}` },
    h("p", {}, h("b", isNote && { "data-as-typed": true }, entryText(voice, entry))),
    h("p", { class: "small quiet" }, time, h("span", { translate: "no" }, entry.author ?? ""), entry.corrected && ` · ${say("pages.changed")}`),
    entry.state && h("p", { class: "aside small" }, say(`here.${entry.state}`)),
    entry.kind === "symptom_report"
      ? entry.state !== "only_here" && h("a", { class: "button", href: `/w/${wearer.id}/reports/${entry.id}` }, say("pages.open_report"))
      : entry.may_change && entry.state !== "taken_back" && h("details", { class: "more" },
        h("summary", {}, say("pages.change")),
        !NO_FORM.includes(entry.kind) && changeForm(voice, wearer, entry),
        h("form", {
          method: "post", action: `/w/${wearer.id}/entries/${entry.id}/withdraw`,
          "data-entry": "withdrawal", "data-wearer": wearer.id, "data-withdraws": entry.id,
        }, hidden({ id: newId(), zone: entry.zone }), h("button", {}, say("pages.take_back")))));
}

function changeForm(voice, wearer, entry) {
  const { say } = voice;
  const { id, kind, payload, at } = entry;
  const timed = TIMED.includes(kind) && h("div", { class: "row" },
    text("day", say("pages.day"), { id: `day-${id}`, type: "date", value: at.slice(0, 10) }),
    text("clock", say("pages.time"), { id: `clock-${id}`, type: "time", value: at.slice(11, 16) }));
  return toldForm({ ...wearer, zone: entry.zone }, "correction", `entries/${id}/correct`, { "data-replaces": id },
    hidden({ kind, at }), fieldsOf(voice, entry, payload), timed, h("button", { class: "act" }, say("pages.like_this")));
}

function fieldsOf(voice, { id, kind }, payload) {
  const { say } = voice;
  const radios = (name, legend, options, chosen) => h("fieldset", {}, h("legend", {}, legend),
    h("div", { class: "row" }, options.map((one) => choice(name, one, chosen))));
  switch (kind) {
    case "lenses_in":
    case "lenses_out":
    case "no_lenses":
      return [radios("eyes", say("pages.which_eye"), eyeChoices(voice), payload.eyes), kind === "no_lenses" && hidden({ of_night: payload.night })];
    case "sight":
      return [hidden({ eye: payload.eye }), payload.word
        ? radios("word", say("pages.how_was_sight"), WORDS.map((word) => [word, say(`sight.${word}`)]), payload.word)
        : [
          text("logmar", say("pages.read_off"), { id: `logmar-${id}`, type: null, value: payload.logmar, inputmode: "decimal" }),
          text("distance_m", say("pages.distance"), { id: `distance-${id}`, type: null, value: payload.distance_m, inputmode: "decimal" }),
        ]];
    case "as_planned":
      return [
        text("since", say("pages.first_night"), { id: `since-${id}`, type: "date", value: payload.since }),
        text("until", say("pages.last_night"), { id: `until-${id}`, type: "date", value: payload.until }),
        hidden({ except: (payload.except ?? []).join(",") }),
      ];
    default:
      return text("text", say("pages.note"), { id: `text-${id}`, type: "area", value: payload.text, "data-as-typed": true });
  }
}

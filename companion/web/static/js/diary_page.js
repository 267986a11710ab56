// Nights at a glance, and the form for a note: templates/diary/weeks.html and note.html as the phone paints them.

import { entryText } from "./entry_words.js";
import { text, toldForm } from "./fields.js";
import { h, svg } from "./markup.js";
import { levelMark, who } from "./shapes.js";
import { wordFor } from "./tonight_page.js";

const EYES = ["right", "left"];

// A night of an eye: filled, an empty ring with a bar, or a dotted ring.
export function nightState(state, word) {
  const round = (style) => svg("circle", { class: style, cx: 10, cy: 10, r: 8 });
  const drawn = { worn: () => round("filled"), not_worn: () => [round("ring"), svg("path", { class: "ring", d: "M5 10H15" })] };
  return h("span", { class: "eye-state" },
    svg("svg", { viewBox: "0 0 20 20", "aria-hidden": "true", focusable: "false" }, drawn[state]?.() ?? round("dots")),
    h("span", {}, word));
}

// `view` from diaryNow, `now` from viewNow.
export function diaryPage(voice, view, { wearer }, age, hasOthers) {
  const { say, day, number } = voice;
  const here = (path) => `/w/${wearer.id}/${path}`;
  const { summary } = view;
  return {
    title: say("say.place_diary"),
    nodes: [
      who(wearer, day(view.tonight), hasOthers && h("a", { class: "button others", href: "/diary" }, say("say.others"))),
      age,
      h("h1", {}, say("say.place_diary")),
      h("div", { class: "row" },
        h("a", { class: "button act", href: here("planned") }, say("pages.planned_form")),
        h("a", { class: "button", href: here("note") }, say("pages.write_note"))),
      view.asks.map((one) => h("div", { class: "aside" },
        h("p", {}, h("b", {}, `${day(one.night)}:`), ` ${say(`oddity.${one.code}`)}`),
        h("a", { class: "button", href: here(`diary/${one.night}`) }, say("say.look_at_night")))),
      h("ul", { class: "nights" }, view.nights.map((one) => h("li", {},
        h("a", { href: here(`diary/${one.night}`) },
          h("span", {}, h("b", {}, day(one.night)), beside(voice, one, view.tonight)),
          h("span", { class: "night-eyes" }, glance(voice, one)))))),
      summary && h("p", { class: "quiet" }, say("pages.summary", {
        worn: number(summary.worn), not_worn: number(summary.not_worn), unknown: number(summary.unknown),
      })),
      view.has_earlier && h("p", {}, h("a", { class: "button", href: here(`diary?weeks=${view.weeks + 8}`) }, say("pages.earlier_nights"))),
    ],
  };
}

function beside({ say }, one, tonight) {
  const said = one.night === tonight ? say("pages.tonight") : one.planned ? null : say("pages.free_by_plan");
  return said && [h("br"), h("span", { class: "small quiet" }, said)];
}

function glance(voice, one) {
  const { say } = voice;
  const { right, left } = one;
  const same = right && left && right.state === left.state;
  const eyes = same
    ? [nightState(right.state, say(`night.${right.state}`)),
      right.hours && left.hours ? [" ", h("span", { class: "quiet figures" }, say("pages.hours_short", { hours: voice.tenths(Math.min(right.hours, left.hours)) }))] : null]
    : EYES.filter((eye) => one[eye]).map((eye) => h("span", {}, nightState(one[eye].state, eyeNight(voice, one, eye))));
  const odd = [right, left].some((eye) => eye?.odd.length);
  return [
    eyes,
    one.sight.map(({ eye, word, logmar }) => small(entryText(voice, { kind: "sight", payload: { eye, word: word ?? wordFor(logmar) } }))),
    one.reports.map(({ level }) => h("span", {}, levelMark(voice, level, say(`urgency.${level}`)))),
    one.notes.length > 0 && small(say("pages.notes", { num: one.notes.length })),
    odd && h("span", { class: "small" }, say("pages.please_look")),
    one.over.map((each) => onlyHere(say, `${say(`kind.${each.how}`)}: ${inOneLine(voice, each)}`)),
    one.here.map((each) => onlyHere(say, inOneLine(voice, each))),
  ];
}

const onlyHere = (say, what) => h("span", { class: "small" }, h("b", {}, say("here.only", { what })));
const small = (words) => h("span", { class: "small quiet" }, words);

// A note's own words stay on the page of its night.
const inOneLine = (voice, entry) => (entry.kind === "note" ? voice.say("kind.note") : entryText(voice, entry));

export const eyeNight = ({ say }, one, eye) => `${say(`eyes.${eye}`)}: ${say(`night.${one[eye].state}`)}`;

export function notePage({ say }, { wearer }, age) {
  return {
    title: say("pages.write_note"),
    nodes: [
      who(wearer),
      age,
      h("h1", {}, say("pages.write_note")),
      h("p", { class: "quiet" }, `${say("pages.note_for")} ${say("pages.note_wrong")}`),
      toldForm(wearer, "note", "note", { then: "diary" },
        text("text", say("pages.note"), { type: "area", required: true, maxlength: 2000, "data-as-typed": true }),
        h("button", { class: "act great" }, say("say.save"))),
    ],
  };
}

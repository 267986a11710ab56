// Lens care step by step, what to change and when: templates/family/care.html as the phone paints it.

import { timeAndDay } from "./dates.js";
import { toldForm } from "./fields.js";
import { h } from "./markup.js";
import { eyesOf } from "./now.js";
import { who } from "./shapes.js";

const MINUTES_AGO = [15, 30, 60, 120];
const HALF_A_YEAR = 180 * 24 * 3_600_000;

// `view` from careNow, `topics` the ids of handling help.
export function carePage(voice, view, topics, age, hasOthers) {
  const { say, day } = voice;
  const { wearer } = view;
  const here = (path) => `/w/${wearer.id}/care${path}`;
  const time = (instant) => timeAndDay(voice, instant, view.now);
  const morning = view.hour === "morning";
  const [first, second] = morning ? ["out", "in"] : ["in", "out"];
  const steps = { in: view.evening, out: view.morning };
  return {
    title: say("say.place_care"),
    nodes: [
      who(wearer, day(view.now), hasOthers && h("a", { class: "button others", href: "/care" }, say("say.others"))),
      age,
      view.stuck.map((clock) => h("section", { class: clock.stage === "report" ? "alarm" : "card" },
        h("h2", {}, say(`stuck_said.stuck.${clock.eyes}`)),
        h("p", {}, `${say("pages.stuck_since", { time: time(clock.started_at) })} ${say(`stuck_heading.${clock.stage}`)}`),
        h("a", { class: "button", href: here("/help/stuck") }, say("pages.see_what_to_do")))),
      h("h1", {}, say(`pages.${first}_steps`)),
      view.held.map((eye) => h("p", { class: "aside" }, h("b", {}, `${say(`eyes.${eye}`)}: ${say("eye_answer.do_not_wear")}`))),
      !view.system && h("p", { class: "aside" }, say("pages.no_system")),
      view.soak && soakCard(voice, view, morning, time),
      marks(voice, view),
      list(voice, view, steps[first]),
      h("details", { class: "more" }, h("summary", {}, say(`pages.${second}_steps`)), list(voice, view, steps[second])),
      h("p", { class: "quiet small" }, say("pages.shown_otherwise")),
      h("h2", { id: "help" }, say("pages.help")),
      h("div", { class: "row" }, topics.map((topic) => h("a", { class: "button", href: here(`/help/${topic}`) }, say(`help_topic.${topic}`)))),
      h("h2", { id: "due" }, say("pages.to_change")),
      h("ul", { class: "things" }, view.items.map((one) => h("li", {},
        h("div", {},
          h("b", {}, itemText(voice, one, view.system)),
          h("span", {}, dueText(voice, one, view.now)),
          one.since && h("span", { class: "small quiet" }, `${say("pages.since", { day: dateText(voice, one.since, view.now) })} · ${say(`limit.${one.by}`)}`)),
        view.may_write && h("a", { class: "button", href: here(`/${one.item}${one.part ? `?part=${one.part}` : ""}`) },
          say(one.item === "protein" ? "pages.done" : "pages.new"),
          h("span", { class: "for-ears" }, `: ${itemText(voice, one, view.system)}`))))),
      view.may_write && h("p", {}, h("a", { class: "button", href: here("/bottle") }, say("pages.another_bottle"))),
      h("p", { class: "quiet small" }, say("pages.label_counts")),
    ],
  };
}

// Right and left as the practice's lenses are marked, in the practice's own words.
export function marks({ say }, view) {
  const rows = eyesOf(view.marks).map((eye) => [eye, view.marks[eye]]);
  return rows.length > 0 && h("dl", { class: "marks" }, rows.map(([eye, mark]) => h("div", {},
    h("dt", {}, say(`care_item.lens.${eye}`)), h("dd", {}, h("bdi", { translate: "no" }, mark)))));
}

const list = (voice, { numbers }, steps) => h("ol", { class: "steps" }, steps.map(({ id, why }) => h("li", {},
  stepText(voice, id, numbers), h("span", { class: "small quiet why" }, voice.say(`care_why.${why}`)))));

function stepText({ say }, step, numbers) {
  if (step === "after_a_break") return say("pages.after_a_break", { num: numbers.stored_days || 1 });
  if (step === "soaked_long_enough") return say("pages.soaked_long_enough", { num: numbers.peroxide_hours || 6 });
  return say(`care_step.${step}`);
}

const SOAK = {
  waiting: (say, time, soak) => [say("pages.soak_ready_at", { time: time(soak.ready_at) }), say("pages.soak_waits", { time: time(soak.started_at) })],
  ready: (say, time, soak) => [say("pages.soak_was_up", { time: time(soak.ready_at) }), say("pages.soak_rinse")],
  again: (say, time, soak) => [say("pages.soak_again"), say("pages.soak_long", { time: time(soak.started_at) })],
  none: (say, time, soak) => [say("pages.soak_none"), say("pages.soak_hours", { num: soak.hours })],
};

function soakCard({ say }, { soak, wearer, may_write: writes }, morning, time) {
  const [title, how] = SOAK[soak.state](say, time, soak);
  const ago = (minutes) => (minutes < 60 ? say("say.minutes_ago", { num: minutes }) : say("say.hours_ago", { num: minutes / 60 }));
  return h("section", { class: "card", id: "soak" },
    h("h2", {}, title),
    h("p", {}, how),
    writes && toldForm(wearer, "soak", "care/soak", {},
      h("button", { class: morning && ["none", "again"].includes(soak.state) && "act" }, say("pages.soak_now")),
      h("details", { class: "more" },
        h("summary", {}, say("pages.it_was_earlier")),
        h("div", { class: "row" }, MINUTES_AGO.map((minutes) => h("button", { name: "minutes_ago", value: minutes }, ago(minutes)))))));
}

function itemText({ say }, { item, part }, system) {
  if (item === "bottle" && part === "solution" && system === "peroxide") return say("care_item.bottle.peroxide");
  return say(`care_item.${item}${part ? `.${part}` : ""}`);
}

function dueText(voice, { item, state, due_on: on }, now) {
  if (!on) return voice.say("limit.no_date");
  return voice.say(`${state === "due" ? "change_now" : "change_by"}.${item}`, { day: dateText(voice, on, now) });
}

// A date, with its year where it could be taken for another one's.
function dateText(voice, date, now) {
  return Math.abs(Date.parse(date) - Date.parse(now.slice(0, 10))) < HALF_A_YEAR ? voice.day(date) : voice.longDay(date);
}

// Help with a lens, and the clock of one that is stuck: templates/family/care_help.html and care_stuck.html as the
// phone paints them. What could hurt is said by the safety text's own voice (voice.js): `safe`.

import { marks } from "./care_page.js";
import { timeAndDay } from "./dates.js";
import { choices, hidden, toldForm } from "./fields.js";
import { h } from "./markup.js";
import { callPractice, who } from "./shapes.js";

const EYES = ["right", "left", "both"];
const EVEN_THEN = ["cannot_go_behind", "no_rubbing", "no_cup_no_nail"]; // what is left to say when it has been too long

export function helpPage(voice, safe, view, help, age) {
  const { say } = voice;
  const { wearer, practice } = view;
  return {
    title: say(`help_topic.${help.id}`),
    nodes: [
      who(wearer),
      age,
      safe.held && [note(safe), callPractice(voice, practice, true)],
      h("h1", {}, say(`help_topic.${help.id}`)),
      help.leads.filter(({ to }) => to === "first").map(({ when }) => h("section", { class: "card" },
        h("h2", {}, safe.vital(`help_lead.${when}`)),
        h("a", { class: "button something-wrong", href: "/wrong" }, say("pages.yes_first")))),
      h("ol", { class: "steps" }, help.steps.map((step) => h("li", {}, safe.vital(`help_step.${step}`), step === "compare_marks" && marks(voice, view)))),
      help.leads.filter(({ to }) => to !== "first").map(({ when, to, answers = {} }) => h("section", { class: "card" },
        h("h2", {}, safe.vital(`help_lead.${when}`)),
        to ? h("a", { class: "button", href: `/w/${wearer.id}/care/help/${to}` }, `${say("pages.yes")} ${say(`help_topic.${to}`)}`)
          : [h("p", { class: "quiet" }, say("pages.yes_which")), whichEye(voice, wearer, answers)])),
      !safe.held && note(safe),
      back(voice, wearer),
    ],
  };
}

// A lens that does not move. `clocks` run for it; `help` are the steps that loosen it.
export function stuckPage(voice, safe, view, help, clocks, age) {
  const { say } = voice;
  const { wearer, practice, freed } = view;
  const time = (instant) => timeAndDay(voice, instant, view.now);
  const late = clocks.filter(({ stage }) => stage === "report");
  const stage = late.length ? "report" : clocks.some((one) => one.stage === "call") ? "call" : "loosen";
  const told = (said, ...children) => toldForm(wearer, "stuck_lens", "care/help/stuck", {}, hidden({ said }), ...children);
  const opens = practice.opens_at && !practice.on_duty;
  const heading = stage === "report" ? [
    h("section", { class: "alarm" },
      h("h1", {}, safe.vital("stuck_heading.report")),
      h("p", {}, say("pages.stuck_long")),
      late.map(({ eyes }) => h("a", { class: "button act great", href: report(wearer, { lens: "stuck_long_or_broken" }, eyes) },
        `${say("pages.report_now")}: ${say(`eyes.${eyes}`)}`))),
    callPractice(voice, practice)]
    : freed.length && !clocks.length ? h("h1", {}, say("pages.free_look"))
      : [
        h("h1", {}, safe.vital(`stuck_heading.${stage}`)),
        stage === "call" && [
          !safe.held && callPractice(voice, practice, true),
          opens && h("p", { class: "quiet" }, `${say("say.they_open", { time: time(practice.opens_at) })} ${say("pages.not_wait")}`)]];
  const shown = (key, instant) => [h("dt", {}, say(key)), h("dd", {}, h("time", { datetime: instant }, time(instant)))];
  return {
    title: say("help_topic.stuck"),
    nodes: [
      who(wearer),
      age,
      safe.held && [note(safe), callPractice(voice, practice, true)],
      heading,
      clocks.map((clock) => h("section", { class: "card" },
        h("h2", {}, say(`stuck_said.stuck.${clock.eyes}`)),
        h("dl", {},
          shown("pages.stuck_from", clock.started_at), shown("pages.stuck_call_at", clock.call_at), shown("pages.stuck_report_at", clock.report_at)),
        h("div", { class: "row" },
          h("a", { class: "button", href: `${location.pathname}${location.search}` }, say("pages.look_at_time")),
          told("free", h("button", { name: "eyes", value: clock.eyes }, say("pages.free_now")))),
        stage !== "report" && [
          h("h3", {}, safe.vital("help_lead.stuck_and_hurts")),
          h("a", { class: "button", href: report(wearer, { lens: "stuck_now" }, clock.eyes) }, say("pages.yes_report"))])),
      !clocks.length && freed.map((one) => h("section", { class: "card" },
        h("h2", {}, say(`stuck_said.free.${one.eye}`)),
        h("p", {}, say("pages.sore_after")),
        h("a", { class: "button", href: report(wearer, { lens: one.often ? "freed_repeat" : "freed_once" }, one.eye) }, say("pages.report_it")),
        one.often && h("p", {}, say("pages.stuck_often")))),
      !clocks.length && h("section", { class: "card" },
        h("h2", {}, say(freed.length ? "pages.start_again" : "pages.start_clock")),
        h("p", { class: "quiet" }, say("pages.stuck_when")),
        told("stuck",
          choices("minutes_ago", say("pages.stuck_how_long"), [
            ["0", say("pages.just_now")], ["10", say("pages.minutes", { num: 10 })], ["20", say("pages.minutes", { num: 20 })], ["30", say("pages.half_an_hour")],
          ], "0"),
          h("div", { class: "thirds" }, EYES.map((eyes) => h("button", { class: "act", name: "eyes", value: eyes }, say(`stuck_choice.${eyes}`)))))),
      h("h2", {}, say(stage === "report" ? "pages.until_helped" : "pages.how_to_loosen")),
      h("ol", { class: "steps" }, help.steps.filter((step) => stage !== "report" || EVEN_THEN.includes(step))
        .map((step) => h("li", {}, safe.vital(`help_step.${step}`)))),
      !clocks.length && h("section", { class: "card" },
        h("h2", {}, safe.vital("help_lead.stuck_and_hurts")),
        h("p", { class: "quiet" }, say("pages.yes_which")),
        whichEye(voice, wearer, { lens: "stuck_now" })),
      !safe.held && note(safe),
      back(voice, wearer),
    ],
  };
}

function note(safe) {
  const said = safe.note();
  return said && h("p", { class: safe.held ? "aside" : "aside small", "data-safety-text": safe.speech }, said);
}

const back = ({ say }, wearer) => h("p", {}, h("a", { class: "button", href: `/w/${wearer.id}/care` }, say("pages.back_to_care")));

const whichEye = ({ say }, wearer, answers) => h("div", { class: "thirds" }, EYES.map((eyes) =>
  h("a", { class: "button", href: report(wearer, answers, eyes) }, say(`eyes.${eyes}`))));

// Where the report begins, with what is known of the lens of each eye in question.
function report(wearer, answers, eyes) {
  const parts = eyes === "both" ? ["right", "left"] : [eyes];
  const known = parts.flatMap((eye) => Object.entries(answers).map(([id, answer]) => [`${eye}.${id}`, answer]));
  return `/w/${wearer.id}/wrong?${new URLSearchParams([["eyes", eyes], ...known])}`;
}

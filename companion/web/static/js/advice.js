// The pages of "Something is wrong" as the phone paints them: the same sentences in the same order, and the same
// marks, as templates/wrong has them. Values in, elements out; what a press does is handed in.

import { dutyOf, firstLine, isThere, onThisClock } from "./duty.js";
import { askForMore, lookAgain } from "./look.js";
import { h } from "./markup.js";
import { passOn } from "./passing_on.js";
import { ownVoice, timeOf } from "./saying.js";
import { callPractice, levelMark, who } from "./shapes.js";
import { knownOf, partsOf } from "./sheet.js";
import { EYES, UNSURE } from "./triage.js";
import { adultFirst, judges, redFlags, spoken, youngIn } from "./young.js";

const ALARM_FROM = 4; // from this level on the first sentence stands in the alarm's block
// What comes even before the first line: rinsing, or calling an ambulance. The first that is advised.
const FIRST_DEEDS = ["follow_call_taker", "ambulance_first", "rinse_now"];
const CHILD_UNTIL = 16;
const TOLD_FROM = 3; // from this level on messages go out: to the practice, and to the adults of a minor

// about = {voice, place: {country, number}, countries, wearers, onPlace(country)}
// What to do in an emergency, before any question; then whom it is about, and which eye.
export function firstPage(about, onEyes) {
  const { voice, place, wearers } = about;
  return [
    voice.held && [note(voice), wearers.map((one) => callPractice(voice, one.tonight.practice, true))],
    h("section", { class: "alarm" },
      h("h1", {}, voice.vital("emergency.heading")),
      h("ul", {}, ["splash", "cut", "sudden", "very_unwell"].map((key) =>
        h("li", {}, voice.vital(`emergency.${key}`)))),
      h("p", {}, voice.vital("go.go")),
      callEmergency(voice, place)),
    where(about),
    wearers.length
      ? wearers.map((one) => h("section", { class: "card" },
        who(one), adultFirst(voice, youngIn(one)), judges(one)
          ? [askEye(voice, (eyes) => onEyes(eyes, one), one.name), callPractice(voice, practiceOf(one))]
          : redFlags(voice, practiceOf(one), opening(voice, one))))
      : h("section", { class: "card" },
        askEye(voice, (eyes) => onEyes(eyes, null)), h("p", {}, voice.say("wrong.no_one_told"))),
    h("p", { class: "quiet small" }, voice.vital("emergency_call.limits")),
    !voice.held && note(voice),
  ];
}

// Where nobody is at the practice now: when they open.
function opening(voice, { zone, tonight: { practice } }) {
  const { opens_at: at } = practice;
  if (!at || !ownVoice() || Date.parse(at) <= Date.now()) return null;
  return voice.say("say.they_open", { time: timeOf(at, zone) });
}

function askEye(voice, onEyes, name) {
  return [
    h("h2", {}, voice.vital("eye_asked.which")),
    h("p", { class: "quiet small" }, voice.vital("eye_asked.own")),
    h("div", { class: "row" }, ["right", "left", "both"].map((eyes) =>
      h("button", { type: "button", class: "act", "data-eyes": eyes, onclick: () => onEyes(eyes) },
        h("span", {}, voice.vital(`eye_asked.${eyes}`)),
        name && h("span", { class: "for-ears", translate: "no" }, ` ${name}`)))),
  ];
}

// One page of questions. `on` = {next(fields), back(fields), both(known), first()}.
export function questionPage(about, rules, sheet, wearer, on) {
  const { voice, place } = about;
  const { page, number, problems } = sheet;
  const young = youngIn(wearer);
  const of = spoken(voice, young);
  const fields = () => [...new FormData(form)];
  const form = h("form", {},
    page.questions.map((id) => question(voice, rules, sheet, id, of)),
    h("button", { class: "act great" },
      voice.say(number + 1 < rules.pages.length ? "say.next" : "say.show_what")),
    number > 0 && h("button", { type: "button", onclick: () => on.back(fields()) }, voice.say("say.back")));
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    on.next(fields());
  });
  return [
    voice.held && [note(voice), wearer && callPractice(voice, practiceOf(wearer), true), callEmergency(voice, place)],
    wearer && who(wearer, voice.say(`eyes.${sheet.eyes.length === 2 ? "both" : sheet.eyes[0]}`)),
    !wearer && h("p", { class: "aside" }, voice.say("wrong.not_told")),
    adultFirst(voice, young),
    h("h1", {}, voice.vital(of(`page.${page.id}`))),
    h("p", { class: "quiet" }, voice.say("say.which_page", { number: number + 1, count: rules.pages.length })),
    number === 0 && [
      h("p", {}, h("b", {}, voice.vital(of("intro.lens_out")))),
      h("p", {}, voice.vital("intro.right_now"), " ", voice.vital("intro.unsure")),
      young && voice.own.has("young.adult.own_pace") ? h("p", {}, voice.vital("young.adult.own_pace"))
        : !(wearer?.age >= CHILD_UNTIL) && h("p", {}, voice.vital("intro.child")),
    ],
    problems.length > 0 && h("div", { class: "problems", role: "alert" },
      h("h2", {}, voice.say("say.one_more_tap")), h("p", {}, voice.say("say.each_question"))),
    form,
    sheet.eyes.length === 1 && h("p", {}, h("button", { type: "button", onclick: () => on.both(knownOf(sheet)) },
      voice.say("wrong.both"))),
    h("p", {}, h("button", { type: "button", onclick: on.first }, voice.say("say.emergency_advice"))),
    !voice.held && note(voice),
  ];
}

function question(voice, rules, sheet, id, of) {
  const parts = partsOf(rules, sheet, id);
  const hint = voice.own.has(`hint.${id}`) && h("p", { class: "hint" }, voice.vital(of(`hint.${id}`)));
  const legend = voice.vital(of(`question.${id}`));
  const shown = pictures(voice, rules, id);
  if (parts.length === 1) return choices(voice, rules, sheet, parts[0], id, of, legend, hint, shown);
  return h("fieldset", {}, h("legend", {}, legend), hint, shown, h("div", { class: "eyes" }, parts.map((part) =>
    choices(voice, rules, sheet, part, id, of, voice.vital(`eye_asked.${part}`)))));
}

// Drawings to compare with; each shows the least that its answer stands for.
function pictures(voice, rules, id) {
  const drawn = rules.byId[id].options.filter((option) => voice.own.has(`picture.${id}.${option}`));
  return drawn.length > 0 && h("div", { class: "pictures" }, drawn.map((option) => h("figure", {},
    h("img", {
      src: new URL(`../pictures/${id}-${option}.svg`, import.meta.url).href, width: 240, height: 136,
      alt: voice.once(`picture_in_words.${id}.${option}`), lang: voice.held && "en",
    }),
    h("figcaption", {}, voice.vital(`picture.${id}.${option}`)))));
}

function choices(voice, rules, sheet, part, id, of, legend, hint = null, shown = null) {
  const name = `${part}.${id}`;
  const wrong = sheet.problems.includes(name);
  return h("fieldset", wrong && { class: "wrong-here", "aria-describedby": `${name}-problem` },
    h("legend", {}, legend),
    hint,
    shown,
    wrong && h("p", { class: "problem", id: `${name}-problem` }, voice.say("wrong.choose")),
    [...rules.byId[id].options, UNSURE].map((option) => h("label", { class: "choice" },
      h("input", { type: "radio", name, value: option, checked: sheet.given[part][id] === option }), " ",
      h("span", {}, voice.vital(option === UNSURE ? "option_unsure" : of(`option.${id}.${option}`))))));
}

// What the answers call for. `told` = {state: "stranger|saved|unsaved|sent|refused", said, report}: what has become
// of them, which changes while the page is open.
// `after` = {look, onSaid, onAsk, raised, heard}: when to look again, asking for more, the word on what has raised it,
// and the answers to what was asked.
export function resultPage(about, rules, verdict, wearer, told, onAgain, after) {
  const { voice, place } = about;
  const { level } = verdict;
  const practice = practiceOf(wearer);
  const deed = FIRST_DEEDS.find((key) => verdict.advice.some((one) => one.key === key));
  const alarm = level >= ALARM_FROM;
  // Without an answer from the server nobody has it, whoever may be there.
  const sent = told.state === "sent" && practice;
  const emergencyFirst = level > ALARM_FROM || (level === ALARM_FROM && sent && !isThere(practice));
  const line = firstLine(voice, sent ? practice : null, level, deed, wearer?.zone);
  const values = Object.fromEntries(rules.advice.map((step) => [step.key, step.values]));
  const young = youngIn(wearer);
  const adult = adultFirst(voice, young);
  return [
    wearer && who(wearer),
    !deed && adult,
    voice.held && [note(voice), emergencyFirst && callEmergency(voice, place), callPractice(voice, practice, true)],
    h("section", { class: alarm ? "alarm" : "card" },
      levelMark(voice, level, voice.vital(`urgency.${level}`)),
      deed ? [h("h1", {}, voice.vital(`first_deed.${deed}`)), h("p", { class: "lead" }, h("b", {}, line))]
        : h("h1", {}, line),
      sent && practice.alerts_on === false && level >= TOLD_FROM
        && h("p", { class: "lead" }, h("b", {}, voice.vital("news.alerts_off"))),
      after.raised && h("p", { class: "lead" }, h("b", {}, voice.vital(`word.${after.raised}`))),
      alarm && h("p", {}, voice.vital(`go.${deed ? "then_go" : emergencyFirst ? "go" : "within_hours"}`)),
      emergencyFirst && !voice.held && callEmergency(voice, place),
      !voice.held && callPractice(voice, practice, !emergencyFirst)),
    h("section", {},
      h("h2", { class: "for-ears" }, voice.say("say.what_to_do")),
      h("ul", { class: "lens-steps" }, EYES.map((eye) =>
        h("li", {}, h("b", {}, voice.vital(`lens.${verdict.lens[eye]}.${eye}`))))),
      h("ol", { class: "steps" }, verdict.advice.map((one) => h("li", {}, voice.advice(one, values[one.key]))))),
    passOn(voice, rules, verdict, after.heard, practice, wearer, values),
    verdict.deciding.length > 0 && h("section", { class: "card" },
      h("h2", {}, voice.say("say.why")),
      h("ul", {}, verdict.deciding.map((rule) => h("li", {}, voice.vital(`why.${rule}`))))),
    !voice.held && note(voice),
    deed && adult,
    told.state === "stranger"
      ? [where(about), askForMore(level, voice, after.onAsk), h("p", { class: "quiet small" }, voice.say("wrong.nothing_kept"))]
      : [after.look && ownVoice() && lookAgain(after.look, voice.vital, ownVoice(), after.onSaid), whoIsTold(voice, told, practice, adult && level >= TOLD_FROM && young.adults.length > 0),
        h("p", {}, h("button", { type: "button", onclick: onAgain }, voice.say("wrong.again"))),
        askForMore(level, voice, after.onAsk), where(about)],
  ];
}

function whoIsTold(voice, { state, said, report }, practice, adults) {
  const hasIt = state === "sent" && dutyOf(practice) !== "not_told";
  const words = hasIt ? voice.say("wrong.has_it") : state === "sent" ? voice.say("phone.sent") : voice.say(`wrong.${state}`);
  return h("section", { class: "card", id: "told", role: "status" },
    h("h2", {}, voice.say("wrong.told")),
    h("ul", { class: "told" },
      h("li", { class: state === "sent" ? "done" : "open" }, h("span", {}, words)),
      said && h("li", { class: "open" }, h("span", {}, said))),
    adults && h("p", {}, h("b", {}, voice.vital("young.adult.told"))),
    state === "saved" && h("p", { class: "quiet small" }, voice.say("wrong.photo_later")),
    state === "sent" && report && h("a", { class: "button act", href: report }, voice.say("wrong.follow")));
}

function note(voice) {
  const said = voice.note();
  return said && h("p", { class: voice.held ? "aside" : "aside small", "data-safety-text": voice.speech }, said);
}

// A number is shown only where it is verified; elsewhere the words are right everywhere.
function callEmergency(voice, { number }) {
  return number
    ? h("a", { class: "button act great", href: `tel:${number}` }, voice.say("say.call_number", { number }))
    : h("p", { class: "lead" }, h("b", {}, voice.vital("emergency_call.local")));
}

export function practiceOf(wearer) {
  const practice = wearer?.tonight?.practice;
  return practice ? { ...practice, closes_at: onThisClock(practice.closes_at, wearer.skew_s) } : null;
}

function where({ voice, place, countries, onPlace }) {
  const named = (country) => h("span", { translate: "no" }, voice.own.country(country));
  return h("details", { class: "more", id: "place", open: place.moved },
    h("summary", {}, h("span", {}, place.country
      ? [voice.say("wrong.change_place"), " ", h("b", {}, named(place.country))]
      : voice.say("wrong.choose_place"))),
    place.moved && h("p", {}, h("b", {}, voice.vital("emergency_call.moved"))),
    h("p", { class: "quiet small" }, voice.say("wrong.place")),
    h("div", { class: "row" }, countries.map((country) => h("button", {
      type: "button", "aria-current": country === place.country && "true", onclick: () => onPlace(country),
    }, named(country)))));
}

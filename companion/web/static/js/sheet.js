// The questions of "Something is wrong" as a few short pages, as companion/web/questions.py has them: which come
// when, what a blank means, when they stop. Pure: no page, no store. What the answers mean is triage.js's.

import { answersFromScreen, evaluate, EYES, GENERAL, PARTS, UNSURE } from "./triage.js";
import { WORSE } from "./worse.js";

const EMERGENCY = 5;
// What an address may have answered ahead: handling help knows it before it leads here.
const KNOWN_BEFORE = ["lens", "lens_damage"];
const known = (id, answer) => KNOWN_BEFORE.includes(id) || (id === WORSE[0] && answer === WORSE[1]);

// sheet = {number, page, eyes, given, shown, done, problems}
//   given     every answer so far, {part: {question: answer}}     shown     every question shown so far, {part: [..]}
//   problems  what an emergency page still wants, as "part.question"
// The first page, or null when `eyes` names none.
export function firstSheet(rules, eyes, ahead = {}) {
  const names = namesOf(eyes);
  const said = Object.entries(ahead).filter(([name, answer]) => known(name.split(".")[1], answer));
  return names && sheet(rules, 0, names, given(rules, said));
}

// The page `step` pages on from the one on which these fields stand, with all that they answer. A form of the server's
// pages names its page and eyes itself; one painted here stands on the page `before`. Null if no eye is named.
export function sheetAt(rules, fields, before = null, step = 0) {
  const named = Object.fromEntries(fields);
  const eyes = before?.eyes ?? namesOf(named.eyes);
  const number = (before?.number ?? (Number.parseInt(named.page, 10) || 0)) + step;
  const last = rules.pages.length - 1;
  return eyes && sheet(rules, Math.min(Math.max(number, 0), last), eyes, joined(rules, before, fields));
}

// What comes after `before` was answered with `fields`, [["part.question", answer], ..]: the next page, the same
// with problems, or done.
export function nextSheet(rules, before, fields) {
  const all = joined(rules, before, fields);
  const now = sheet(rules, before.number, before.eyes, all);
  const problems = blank(rules, now);
  if (problems.length) return { ...now, problems };
  const last = now.number === rules.pages.length - 1;
  const emergency = evaluate(answersFromScreen(now.shown, now.given, rules), rules).level >= EMERGENCY;
  return emergency || last ? { ...now, done: true } : sheet(rules, now.number + 1, now.eyes, all);
}

// Where a question is asked: once about the person, or for each eye in question.
export function partsOf(rules, now, question) {
  return rules.byId[question].about === "person" ? [GENERAL] : now.eyes;
}

// The answers for keeping: every question that was shown, a blank as *unsure*.
export function documentOf(now) {
  return Object.fromEntries(Object.entries(now.shown).map(([part, questions]) => [
    part, Object.fromEntries(questions.map((id) => [id, now.given[part][id] ?? UNSURE])),
  ]));
}

// What was known before the first page, as it may stand in an address.
export function knownOf(now) {
  return Object.fromEntries(PARTS.flatMap((part) => Object.entries(now.given[part])
    .filter(([id, answer]) => known(id, answer)).map(([id, answer]) => [`${part}.${id}`, answer])));
}

function sheet(rules, number, eyes, said) {
  const asked = rules.pages.slice(0, number + 1).flatMap((page) => page.questions);
  const here = [GENERAL, ...eyes];
  const kept = Object.fromEntries(PARTS.map((part) => [part, here.includes(part) ? said[part] : {}]));
  const shown = Object.fromEntries(here.map((part) => {
    const ids = asked.filter((id) => (rules.byId[id].about === "person") === (part === GENERAL));
    // What was answered ahead (in handling help, or before going back) was shown too, and counts.
    return [part, [...ids, ...Object.keys(kept[part]).filter((id) => !ids.includes(id))]];
  }));
  return { number, page: rules.pages[number], eyes, given: kept, shown, done: false, problems: [] };
}

function joined(rules, before, fields) {
  const said = given(rules, fields);
  return Object.fromEntries(PARTS.map((part) => [part, { ...before?.given[part], ...said[part] }]));
}

function namesOf(word) {
  return word === "both" ? EYES : EYES.includes(word) ? [word] : null;
}

// Read answers; what is no answer to a question of ours is passed over, and so unsure.
function given(rules, fields) {
  const said = Object.fromEntries(PARTS.map((part) => [part, {}]));
  for (const [name, answer] of fields) {
    const [part, id] = name.split(".");
    const question = Object.hasOwn(rules.byId, id ?? "") && rules.byId[id];
    const here = PARTS.includes(part) && question && (question.about === "person") === (part === GENERAL);
    if (here && [...question.options, UNSURE].includes(answer)) said[part][id] = answer;
  }
  return said;
}

// The questions of an emergency page that were skipped: they cannot be.
function blank(rules, now) {
  if (!now.page.required) return [];
  return now.page.questions.flatMap((id) => partsOf(rules, now, id)
    .filter((part) => !(id in now.given[part])).map((part) => `${part}.${id}`));
}

// What passing time does to the answers of a report, and when to look at the eye again: the port of
// companion/triage/timers.py and companion/usecases/looks.py. Pure: the clock is the caller's.

import { atWallClock, wallClock } from "./moments.js";
import { answersFromScreen, evaluate, EYES } from "./triage.js";

const MINUTE = 60_000;
const DAY = 24 * 60 * MINUTE;
const APART = 60 * MINUTE; // a moment of the day that comes sooner is the report's own: it was a look
const SEEN_FROM = 4; // from this level on the advice is to be seen, whatever a look would find

// The answers as they stand `elapsed` ms after they were given. Nothing gets better by waiting.
export function raiseByTime(answers, elapsed, rules) {
  const moved = (id, said) => {
    let answer = said;
    for (const { question, from, to, after_min: after } of rules.moves) {
      const { options, rank } = rules.byId[question];
      if (question === id && elapsed >= after * MINUTE && options[rank(answer)] === from) answer = to;
    }
    return answer;
  };
  const ofEye = (said) => Object.fromEntries(Object.entries(said).map(([id, answer]) => [id, moved(id, answer)]));
  return { ...answers, ...Object.fromEntries(EYES.map((eye) => [eye, ofEye(answers[eye])])) };
}

// When to look again after a report given at `givenAt`, soonest first: [{at, moment}]. `hours` = {bedtime, waking} in
// minutes since midnight by the wall clock of `zone`; null leaves out the moments of the day.
export function looks(verdict, givenAt, hours, zone) {
  const due = verdict.recheck_min.map((minutes) => ({ at: givenAt + minutes * MINUTE, moment: "" }));
  for (const moment of hours ? verdict.recheck_moments : []) {
    if (moment === "before_insertion" && EYES.some((eye) => verdict.wear_hold[eye])) continue; // none goes in
    const clock = hours[moment === "waking" ? "waking" : "bedtime"];
    due.push({ at: next(clock, givenAt + APART, zone), moment });
  }
  return due.sort(sooner);
}

const sooner = (one, other) => one.at - other.at || (one.moment < other.moment ? -1 : 1);

// The first instant from `notBefore` on at which the clock on the wall shows `clock`.
function next(clock, notBefore, zone) {
  const midnight = Math.floor(wallClock(notBefore, zone) / DAY) * DAY;
  return [-1, 0, 1, 2].map((ahead) => atWallClock(midnight + ahead * DAY + clock * MINUTE, zone))
    .find((at) => at >= notBefore);
}

// What a report that is only on this phone counts as by now: {verdict, level, look}. `raw` is the entry, `kept` what the
// server last said of the wearer. A look never moves away because time has made the report more urgent since.
export function byNow(raw, rules, kept, now) {
  const { answers, asked_level: askedLevel = 1, judged_level: toldLevel = 1 } = raw.payload;
  const shown = Object.fromEntries(Object.entries(answers).map(([part, said]) => [part, Object.keys(said)]));
  const given = answersFromScreen(shown, answers, rules);
  const givenAt = Math.min(Date.parse(raw.at), now);
  const judge = (said) => evaluate(said, rules, { oneEyeHoldsBoth: true, askedLevel, toldLevel });
  const verdict = judge(raiseByTime(given, now - givenAt, rules));
  const { level } = verdict;
  const hours = dayHours(kept?.hours);
  const still = looks(verdict, givenAt, hours, raw.zone);
  const first = still.length && level < SEEN_FROM
    ? [...looks(judge(given), givenAt, hours, raw.zone), ...still].sort(sooner)[0] : null;
  const at = first && Math.ceil(first.at / MINUTE) * MINUTE; // what a clock shows must not come before what is due
  return { verdict, level, look: first && { at, due: now >= at, moment: first.moment || null, eyes: eyesAsked(answers) } };
}

export function eyesAsked(answers) {
  const asked = EYES.filter((eye) => Object.keys(answers[eye] ?? {}).length);
  return asked.length === 1 ? asked[0] : "both";
}

// When the day ends and begins, read off the night that the server told of.
function dayHours(hours) {
  const clock = (iso) => Number(iso.slice(11, 13)) * 60 + Number(iso.slice(14, 16));
  return hours ? { bedtime: clock(hours.in), waking: clock(hours.out) } : null;
}

// What Tonight says: one sentence, its reason, the lines below. The port of companion/web/tonight_page.py: from a view
// to words, with a `voice` that can say things (speaker.js) and times (dates.js). Pure.

import { draw, table } from "./band.js";
import { eyesOf } from "./now.js";
import { dateOf, daysBetween, reading, timeAndDay } from "./dates.js";

const HOUR = 3_600_000;
const SIGHT_BOUNDS = [[0.075, "sharp"], [0.225, "good"], [0.45, "soft"]];
const CERTAIN_FROM = [95, 80, 20, 0];

export function tonightPage(view, voice) {
  const { answer, curve } = view;
  const chance = answer.meets_target;
  return {
    lastNight: dateOf(reading(view.now) - 12 * HOUR),
    headline: headline(view, voice),
    reason: reason(view, voice),
    certainty: chance === null || lensIn(view) ? null : certainty(voice, chance),
    holdsUntil: answer.holds_until && holdsUntil(voice, answer.holds_until, view.now),
    eyeLines: answer.wearer === "per_eye" ? eyeLines(answer, voice) : [],
    alertLine: view.alert && alertLine(view, voice),
    bands: curve ? eyesOf(curve.eyes).map((eye) => [eye, draw(curve, eye, voice.dir === "rtl")]) : [],
    rows: curve ? tableInWords(curve, voice) : [],
    forecastLines: view.forecast ? forecastLines(view.forecast, voice) : [],
    checkLine: view.check && view.check.when !== "now" ? voice.say(`check.${view.check.when}.${view.check.why}`) : null,
    surprise: view.surprises.length ? surprise(view.surprises, voice) : null,
  };
}

const lensIn = (view) => Object.values(view.lens).some(({ state }) => state === "in");

function headline(view, { say }) {
  const { kind } = view.action;
  const answer = view.answer.wearer;
  if (answer === "do_not_wear" && kind !== "lenses_out") return say(`answer.${answer}`);
  if (kind === "none" && lensIn(view) && !view.holds.length) return say("say.sleep_well");
  if (kind === "lenses_out") return say(view.hour === "morning" ? "say.morning" : "say.time_out");
  return say(kind === "sight" ? "say.ask_sight" : `answer.${answer}`);
}

function reason(view, voice) {
  const { say } = voice;
  const { kind } = view.action;
  const { answer, holds } = view;
  if (holds.length && holds.every((hold) => hold.reason === "illness")) return say("reason.illness");
  if (answer.wearer !== "do_not_wear") {
    if (kind === "lenses_out") return say("say.drops_first");
    if (kind === "sight") return say(`check.now.${view.check.why}`);
    if (lensIn(view) && view.may.includes("write_diary")) return say("say.tap_in_morning");
  }
  const first = answer.wearer === "per_eye" ? null : answer.reasons[0];
  return first ? reasonText(voice, first) : "";
}

function reasonText({ say, has }, { key, values }) {
  if (key === "long_break") return say("say.long_break", { num: values.nights });
  return say(has(`reason.${key}`) ? `reason.${key}` : `offline.${key}`, values);
}

export const certainty = ({ say }, chance) => say(`certainty.${CERTAIN_FROM.find((least) => 100 * chance >= least)}`);

// Two hours that end at the computed one, never after it.
export function holdsUntil({ say, clock, day }, until, now) {
  const late = Math.floor(reading(until) / HOUR) * HOUR;
  const early = late - 2 * HOUR;
  if (early - (reading(until) - Date.parse(until)) <= Date.parse(now)) return say("say.next_hours");
  const hours = { early: clock(early), late: clock(late) };
  const key = ["today", "tomorrow"][daysBetween(now, dateOf(early))] ?? "day";
  return say(`say.until_${key}`, key === "day" ? { ...hours, day: day(early) } : hours);
}

const eyeLines = (answer, voice) => eyesOf(answer.eyes).map((eye) => ({
  eye,
  answer: voice.say(`eye_answer.${answer.eyes[eye].answer}`),
  reasons: answer.eyes[eye].reasons.map((each) => reasonText(voice, each)),
}));

// That nobody answers, once that is so; else the last thing that happened, or the first that has not.
function alertLine({ alert, now }, voice) {
  const news = [alert.word && `word.${alert.word}`, alert.news && `news.${alert.news}`].filter(Boolean);
  if (news.length) return news.map((key) => voice.say(key)).join(" ");
  const lines = told(alert, voice, now);
  const waiting = lines.filter(([done]) => !done);
  return (waiting.length ? waiting : lines).at(-1)[1];
}

const STEPS = { queued: [false, "message_waits"], failed: [false, "message_failed"] };

function told(alert, voice, now) {
  const say = (key, values) => voice.say(`say.${key}`, values);
  const time = (instant) => timeAndDay(voice, instant, now);
  const lines = alert.steps.map(({ state, person, at }) => {
    const [done, key] = STEPS[state] ?? [true, "message_sent"];
    return [done, say(key, { who: person, time: time(at) })];
  });
  if (!lines.length) lines.push([true, say("on_list")]);
  if (alert.taken_at) lines.push([true, say("taken", { who: alert.taken_by, time: time(alert.taken_at) })]);
  else if (!alert.closed_at) lines.push([false, say("not_taken")]);
  if (alert.contact_at) lines.push([true, say("reached", { time: time(alert.contact_at) })]);
  else if (alert.taken_at && !alert.closed_at) lines.push([false, say("not_reached")]);
  if (alert.closed_at) lines.push([true, voice.say(`outcome.${alert.outcome}`)]);
  return lines;
}

// What a forecast is worth first, what it came from last.
function forecastLines({ warnings, fell_back: fellBack, eyes, record, used }, { say, span }) {
  const of = (key) => warnings.filter((one) => one.key === key).map(({ values }) => values);
  if (of("no_forecast").length) return [say("forecast.none")];
  const lines = of("forecast_kept").map(({ hours }) => say("say.forecast_kept", { age: span(Math.max(1, hours) * HOUR) }));
  if (Object.values(fellBack).includes("stale")) lines.push(say("forecast.old_checks"));
  const general = of("mostly_population").map(({ eye }) => eye);
  if (general.length) lines.push(say(`forecast.mostly_population.${general.length === eyes ? "both" : general[0]}`));
  if (record.of) lines.push(say("say.forecast_record", { num: record.of, inside: record.inside }));
  if (used.checks) {
    const checks = say("say.sight_checks", { num: used.checks });
    const measurements = used.refractions && say("say.measurements", { num: used.refractions });
    lines.push(measurements ? say("say.made_from_both", { checks, measurements }) : say("say.made_from", { checks }));
  }
  return lines;
}

function surprise(eyes, { say }) {
  const steps = ["marks", ...(eyes.some((one) => one.perhaps_swapped) ? ["swapped"] : []), "tell"];
  return {
    heading: say(`surprise.${eyes.length === 2 ? "both" : eyes[0].eye}`),
    trouble: say("surprise_step.trouble"),
    steps: steps.map((one) => say(`surprise_step.${one}`)),
  };
}

export const wordFor = (logmar) => SIGHT_BOUNDS.find(([bound]) => logmar <= bound)?.[1] ?? "blurred";

export function sightRange({ say }, best, worst) {
  const [better, worse] = [wordFor(best), wordFor(worst)].map((word) => say(`sight.${word}`));
  return better === worse ? better : say("say.better_to_worse", { better, worse });
}

const tableInWords = (curve, voice) => table(curve).map(({ at, eyes }) => ({
  at,
  eyes: Object.fromEntries(Object.entries(eyes).map(([eye, { p05, p95 }]) => [eye, sightRange(voice, p05, p95)])),
}));

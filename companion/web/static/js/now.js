// What Tonight is now: the last view that the server gave, what was tapped here since, and the time. The port of the
// hour, the deed and the lenses of companion/usecases/tonight.py and companion/diary/wear.py. Pure.
//
// The phone only narrows. A report kept here that holds an eye stops it; a freed night lapses when it is over, after
// 36 hours, by a clock that cannot be right, or when something was logged since. What is left then is the plan.

import { atWallClock, wallClock } from "./moments.js";
import { dateOf, daysBetween, written } from "./dates.js";

const MINUTE = 60_000;
const HOUR = 60 * MINUTE;
const DAY = 24 * HOUR;
const BEFORE_BED = 4 * HOUR;
const AFTER_BED = 3 * HOUR;
const BEFORE_RISING = 2 * HOUR;
const AFTER_RISING = 4 * HOUR;
const SAME_TAP = 30 * MINUTE;
const LONGEST_USUAL = 20 * HOUR; // a lens is not thought to be in, nor known to be out, for longer
const LAST_CALL = 8 * HOUR;
const TRUSTED_FOR = 36 * HOUR;
const CLOCK_SKEW = 10 * MINUTE;
const UNDO_FOR = 10 * MINUTE;
const DRAWN_BACK = 24 * HOUR;
const NO_LENS = ["do_not_wear", "ask_clinic"];
const BOTH = ["right", "left"];
const LENS_KINDS = ["lenses_in", "lenses_out", "no_lenses"];
const TELLS_NOTHING = ["note", "care_item", "symptom_report"]; // of how sight holds

// `kept` = {tonight, hours, zone, fetched_at} as the phone has it, `rows` this wearer's part of the queue, `verdicts`
// {entry id: {wear_hold, lens, level, look}} what the phone itself makes by now of the reports among them.
export function viewNow(kept, rows, verdicts, now) {
  const view = kept.tonight;
  const { zone } = view.wearer;
  const split = clockOf(kept.hours.split);
  const here = standing(rows);
  const underWay = nightOf(now, zone, split);
  const night = comingNight(view, here, zone, split, now);
  const hour = hourOf(kept.hours, daysBetween(view.night, underWay), zone, now);
  const held = heldBy(rows, verdicts);
  const lens = Object.fromEntries(eyesOf(view.lens).map((eye) => [eye, lensNow(view, eye, here, split, now)]));
  const leave = [...new Set([...view.leave, ...held.leave])];
  const lapsed = lapse(kept, here, night, now);
  const answer = answerNow(view, night, held.eyes, lapsed);
  const sameHour = night === view.night && hour === view.hour;
  const looked = here.told.some(({ kind }) => kind === "sight");
  const isIn = Object.values(lens).some(({ state }) => state === "in");
  const check = sameHour && !looked && !isIn && !held.eyes.length ? view.check : null;
  const planned = view.planned[underWay] ?? true;
  const action = deed(view, { hour, lens, answer, leave, planned, check });
  return {
    ...view,
    wearer: { ...view.wearer, night_number: view.wearer.night_number && view.wearer.night_number + daysBetween(view.night, night) },
    now: written(now, zone),
    night,
    hour,
    lens: Object.fromEntries(eyesOf(lens).map((eye) => [
      eye, { ...lens[eye], since: lens[eye].since === null ? null : written(lens[eye].since, zone) },
    ])),
    answer,
    leave,
    check,
    week: held.eyes.length || here.loose.length || here.told.some((one) => one.kind === "as_planned") ? null : view.week,
    action: { kind: action, eyes: offered(action, lens, answer, leave) },
    look: lookNow(kept, rows, verdicts, zone, now),
    unsent: unsentReport(rows, verdicts),
    curve: view.curve && cut(view.curve, now, zone),
    undo: undoable(view, here, Date.parse(kept.fetched_at), now),
    practice: { ...view.practice, opens_at: Date.parse(view.practice.opens_at) > now ? view.practice.opens_at : null },
    fetched_at: written(Date.parse(kept.fetched_at), zone),
    age: now - Date.parse(kept.fetched_at),
  };
}

// The eyes that `each` knows of, right before left.
export const eyesOf = (each) => BOTH.filter((eye) => eye in each);

export const clockOf = (text) => (Number(text.slice(0, 2)) * 60 + Number(text.slice(3))) * MINUTE;
export const nightOf = (instant, zone, split) => dateOf(wallClock(instant, zone) - split);

// The first night not yet over for which no lens went in; from eight hours before the split, the one that ends does not
// count. Nights that the server's view left out were worn.
function comingNight(view, here, zone, split, now) {
  const toTheSplit = (((split - wallClock(now, zone)) % DAY) + DAY) % DAY;
  const first = dateOf(wallClock(now, zone) - split + (toTheSplit > 0 && toTheSplit <= LAST_CALL ? DAY : 0));
  const takenBack = here.loose.some((one) => aboutLenses(view, one));
  let night = takenBack || first > view.night ? first : view.night;
  const taken = new Set(here.told.filter(({ kind }) => kind === "lenses_in").map((one) => nightOf(Date.parse(one.at), one.zone, split)));
  while (taken.has(night)) night = dateOf(Date.parse(night) + DAY);
  return night;
}

// Whether a follow-up of an entry that is not here may be about lenses; unknown ones may.
const aboutLenses = (view, { target, kind }) =>
  LENS_KINDS.includes(target === view.undo?.entry_id ? view.undo.kind : kind ?? LENS_KINDS[0]);

// By the wearer's own hours, which are those of the night that the server told of, `ahead` days on.
function hourOf(hours, ahead, zone, now) {
  const shifted = (iso) => atWallClock(wallClock(Date.parse(iso), zone) + ahead * DAY, zone);
  const bed = shifted(hours.in);
  const rising = shifted(hours.out);
  if (bed - BEFORE_BED <= now && now < bed + AFTER_BED) return "evening";
  if (rising - BEFORE_RISING <= now && now < rising + AFTER_RISING) return "morning";
  return bed <= now && now < rising ? "night" : "day";
}

// What the queue says: `told`, entries as they stand, oldest first; `loose`, follow-ups of entries that are elsewhere.
function standing(rows) {
  const raws = rows.filter((row) => row.state !== "rejected").map((row) => row.raw);
  const over = new Set(raws.map(({ payload }) => payload.withdraws ?? payload.replaces).filter(Boolean));
  const ids = new Set(raws.map(({ id }) => id));
  const told = [];
  const loose = [];
  for (const raw of raws) {
    const target = raw.payload.withdraws ?? raw.payload.replaces;
    if (target && !ids.has(target)) loose.push({ target, kind: raw.payload.kind });
    if (over.has(raw.id) || raw.kind === "withdrawal") continue;
    told.push(raw.kind === "correction" ? raw.payload : raw);
  }
  return { told: told.sort((one, other) => Date.parse(one.at) - Date.parse(other.at)), loose, over };
}

// Eyes that a report on this phone holds; one that the server would not have holds as well, until it is put away.
function heldBy(rows, verdicts) {
  const reports = rows.map(({ id }) => verdicts[id]).filter(Boolean);
  const eyes = (test) => BOTH.filter((eye) => reports.some((one) => test(one, eye)));
  return {
    eyes: eyes((one, eye) => one.wear_hold[eye]),
    leave: eyes((one, eye) => ![null, undefined, "take_out", "none"].includes(one.lens[eye])),
  };
}

// The reports that only this phone has, the latest first.
const notSent = (rows, verdicts) => rows.filter(({ id, state }) => state === "here" && verdicts[id])
  .sort((one, other) => Date.parse(other.raw.at) - Date.parse(one.raw.at) || other.order - one.order);

// The worst of them, as they count by now: a later milder one hides nothing.
function unsentReport(rows, verdicts) {
  const level = ({ id }) => verdicts[id].level;
  const [worst] = notSent(rows, verdicts).sort((one, other) => level(other) - level(one));
  return worst ? { id: worst.id, level: level(worst) } : null;
}

// When to look at the eye again: the soonest after the last word about each eye, this phone's own or the server's. A
// phone whose clock was fast when they last met says nothing of the server's early.
function lookNow(kept, rows, verdicts, zone, now) {
  const spokenOf = new Set();
  const due = [];
  for (const { id, raw } of notSent(rows, verdicts)) {
    const eyes = eyesAsked(raw.payload.answers);
    const { look, level } = verdicts[id];
    if (look && !eyes.every((eye) => spokenOf.has(eye))) {
      due.push({ ...look, at: written(look.at, zone), now: written(now, zone), report_id: id, level });
    }
    for (const eye of eyes) spokenOf.add(eye);
  }
  const { look } = kept.tonight;
  if (look && !(look.eyes === "both" ? BOTH : [look.eyes]).every((eye) => spokenOf.has(eye))) {
    const here = now - Math.max(0, kept.skew_s ?? 0) * 1000;
    due.push({ ...look, now: written(here, zone), due: here >= Date.parse(look.at) });
  }
  return due.sort((one, other) => Date.parse(one.at) - Date.parse(other.at))[0] ?? null;
}

// Whose eyes a report was about: one, or both.
function eyesAsked(answers) {
  const asked = BOTH.filter((eye) => Object.keys(answers[eye] ?? {}).length);
  return asked.length === 1 ? asked : BOTH;
}

// Where a lens is: the server's last word, then what was tapped here. The last word counts for 20 hours.
function lensNow(view, eye, { told, loose }, split, now) {
  const seen = Date.parse(view.now);
  let { state } = view.lens[eye];
  let since = view.lens[eye].since === null ? null : Date.parse(view.lens[eye].since);
  let until = since !== null && seen - since <= LONGEST_USUAL ? since + LONGEST_USUAL : seen + LONGEST_USUAL;
  if (loose.some((one) => aboutLenses(view, one))) [state, since] = ["unknown", null];
  for (const { kind, at: said, zone, payload } of told) {
    const at = Math.min(Date.parse(said), now);
    const concerns = LENS_KINDS.includes(kind) && [eye, "both"].includes(payload.eyes);
    if (!concerns || (since !== null && at < since) || Date.parse(said) > now + CLOCK_SKEW) continue;
    if (kind === "no_lenses") {
      if (state !== "in") state = "out";
      else if (nightOf(since, zone, split) === payload.night) [state, since] = ["unknown", null];
      until = at + LONGEST_USUAL;
      continue;
    }
    const night = (instant) => nightOf(instant, zone, split);
    const again = kind === "lenses_in" && state === "in" && at - since <= LONGEST_USUAL
      && (at - since <= SAME_TAP || night(at) === night(since));
    if (!again) [state, since, until] = [kind === "lenses_in" ? "in" : "out", at, at + LONGEST_USUAL];
  }
  return state === "unknown" || now > until ? { state: "unknown", since: null } : { state, since };
}

// Why a freed night is free no more, or null.
function lapse(kept, { told, loose }, night, now) {
  const { answer, night: known } = kept.tonight;
  const age = now - Date.parse(kept.fetched_at);
  const over = answer.target_at && now >= Date.parse(answer.target_at);
  if (night !== known || over || age > TRUSTED_FOR || age < -CLOCK_SKEW) return "answer_old";
  const changes = ({ kind, payload }) => !TELLS_NOTHING.includes(kind) && kind !== "lenses_in" && payload.night !== known;
  return loose.length || told.some(changes) ? "answer_changed" : null;
}

function answerNow(view, night, held, lapsed) {
  const past = night !== view.night;
  const eyes = Object.fromEntries(eyesOf(view.answer.eyes).map((eye) => {
    const one = view.answer.eyes[eye];
    const said = (answer, key) => ({ answer, reasons: [{ key, values: {} }], meets_target: null, holds_until: null });
    if (held.includes(eye)) return [eye, one.answer === "do_not_wear" ? one : said("do_not_wear", "held_here")];
    if (NO_LENS.includes(one.answer)) return [eye, one];
    if (past) return [eye, view.planned[night] === false ? said("rest_by_plan", "plan_rests") : said("wear", "answer_old")];
    return [eye, lapsed && one.answer === "may_skip" ? said("wear", lapsed) : one];
  }));
  if (Object.entries(eyes).every(([eye, one]) => one === view.answer.eyes[eye]) && !lapsed) return view.answer;
  const each = Object.values(eyes);
  const reasons = [];
  for (const one of each.flatMap((eye) => eye.reasons)) {
    if (!reasons.some(({ key, values }) => key === one.key && JSON.stringify(values) === JSON.stringify(one.values))) reasons.push(one);
  }
  const same = each.every(({ answer }) => answer === each[0].answer);
  return { ...view.answer, wearer: same ? each[0].answer : "per_eye", reasons, eyes, meets_target: null };
}

// The one deed that this hour asks for.
function deed(view, { hour, lens, answer, leave, planned, check }) {
  const places = Object.values(lens).map(({ state }) => state);
  if (places.includes("in")) {
    const mayComeOut = Object.entries(lens).some(([eye, { state }]) => state === "in" && !leave.includes(eye));
    return ["morning", "day"].includes(hour) && mayComeOut ? "lenses_out" : "none";
  }
  const wears = Object.values(answer.eyes).some((one) => !NO_LENS.includes(one.answer));
  if (["evening", "night"].includes(hour)) return wears ? "lenses_in" : "none";
  const slept = places.every((state) => state === "unknown") && wears && planned;
  if (hour === "morning" && slept && !leave.length) return "lenses_out";
  return check?.when === "now" && view.may.includes("see_own_pages") ? "sight" : "none";
}

// The eyes that the deed is offered for: those with a lens in, else those that may have one in.
export function offered(kind, lens, answer, leave) {
  if (kind === "sight") return eyesOf(lens);
  const worn = eyesOf(lens).filter((eye) => lens[eye].state === "in" && !leave.includes(eye));
  return worn.length ? worn : eyesOf(answer.eyes).filter((eye) => !NO_LENS.includes(answer.eyes[eye].answer));
}

// The drawing from a day ago on, or null where it has come to its end.
function cut(curve, now, zone) {
  const found = curve.times.findIndex((one) => Date.parse(one) >= now - DRAWN_BACK);
  const from = found < 0 ? curve.times.length : found;
  if (from + 1 >= curve.times.length || Date.parse(curve.times.at(-1)) <= now) return null;
  const start = Date.parse(curve.times[from]);
  return {
    ...curve,
    from: curve.times[from],
    now: written(now, zone),
    times: curve.times.slice(from),
    eyes: Object.fromEntries(Object.entries(curve.eyes).map(([eye, { p05, p50, p95 }]) => [
      eye, { p05: p05.slice(from), p50: p50.slice(from), p95: p95.slice(from) },
    ])),
    nights: curve.nights.filter(({ to }) => Date.parse(to) > start),
    checks: curve.checks.filter(({ at }) => Date.parse(at) >= start),
  };
}

// One's own last tap that the server knows of, while it may have been a slip; what was tapped here has the strip.
function undoable({ undo }, { told, over }, fetched, now) {
  return undo && now - fetched <= UNDO_FOR && !told.length && !over.has(undo.entry_id) ? undo : null;
}

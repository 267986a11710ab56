// The diary as it stands on this phone: the nights that the server last told of, and beside them what was said here
// since. The phone folds no night anew: where something was said here, the night says so. Pure.

import { dateOf, daysBetween, written } from "./dates.js";
import { clockOf, nightOf } from "./now.js";

const SLEEP_BEFORE_OUT = 6 * 3_600_000;
const DAY = 24 * 3_600_000;
const EYES = ["right", "left"];
const OF_WEAR = ["lenses_in", "lenses_out", "no_lenses", "as_planned"];

// `kept` as the phone has it of a wearer, `rows` this wearer's part of the queue.
export function diaryNow(kept, rows, now) {
  const { diary } = kept.pages;
  const home = { zone: kept.tonight.wearer.zone, split: clockOf(kept.hours.split) };
  const here = saidHere(rows);
  const told = Object.values(diary.told).flat();
  const tonight = nightOf(now, home.zone, home.split);
  const nights = [...nightsSince(diary, kept.tonight.planned, tonight), ...diary.nights].map((one) => {
    const is = (entry) => nightsOf(entry, home).some(([since, until]) => since <= one.night && one.night <= until);
    const over = told.filter(({ id }) => here.over.has(id)).filter(is)
      .map((entry) => ({ ...entry, how: here.changed.has(entry.id) ? "correction" : "withdrawal" }));
    const said = here.said.filter(is);
    const eyes = EYES.filter((eye) => one[eye]).map((eye) => [eye, eyeNow(one[eye], eye, said, over)]);
    return { ...one, ...Object.fromEntries(eyes), here: said, over };
  });
  const untouched = !here.said.length && !here.over.size && tonight <= diary.tonight;
  return { ...diary, tonight: tonight > diary.tonight ? tonight : diary.tonight, nights, summary: untouched ? diary.summary : null };
}

// One night with all that was said of it; null where the phone knows nothing of it.
export function nightNow(kept, rows, night, now) {
  const view = diaryNow(kept, rows, now);
  const found = view.nights.find((one) => one.night === night);
  if (!found) return null;
  const { over, changed } = saidHere(rows);
  const entries = (view.told[night] ?? []).map((one) => ({
    ...one, ...changed.get(one.id), state: changed.has(one.id) ? "changed" : over.has(one.id) ? "taken_back" : null,
  }));
  const own = found.here.map((one) => ({ ...one, author: null, corrected: false, may_change: true, state: "only_here" }));
  return { night: found, asks: view.asks.filter((one) => one.night === night), entries: [...entries, ...own] };
}

// `said`: entries of this phone alone, as they stand. `over`: the ids of all that was taken back or changed here;
// `changed`: in whose words they stand, by the id of the entry that the server has.
function saidHere(rows) {
  const raws = rows.filter(({ state }) => state !== "rejected").sort((one, other) => one.order - other.order).map(({ raw }) => raw);
  const ids = new Set(raws.map(({ id }) => id));
  const last = new Map(); // the last word on each entry
  for (const raw of raws) {
    const target = raw.payload.withdraws ?? raw.payload.replaces;
    if (target) last.set(target, raw);
  }
  const local = ({ at, zone }) => written(Date.parse(at), zone);
  const wordsOf = ({ payload: { at, zone, payload } }) => ({ at: local({ at, zone }), zone, payload });
  const said = raws.filter(({ payload }) => !payload.withdraws && !payload.replaces).flatMap((raw) => {
    const word = last.get(raw.id);
    if (!word) return [{ ...raw, at: local(raw) }];
    return word.kind === "correction" ? [{ ...raw, ...wordsOf(word) }] : [];
  });
  const changed = new Map([...last].filter(([id, word]) => word.kind === "correction" && !ids.has(id)).map(([id, word]) => [id, wordsOf(word)]));
  return { said, changed, over: new Set([...last.keys()].filter((id) => !ids.has(id))) };
}

// From and until which nights an entry speaks of.
function nightsOf({ kind, at, zone, payload }, home) {
  if (kind === "as_planned") return [[payload.since, payload.until]];
  const lens = kind === "lenses_in" || kind === "lenses_out";
  const moment = Date.parse(at) - (kind === "lenses_out" ? SLEEP_BEFORE_OUT : 0);
  const night = kind === "no_lenses" ? payload.night : nightOf(moment, lens ? zone : home.zone, home.split);
  return [[night, night]];
}

// The nights that came after the server's last word: nothing is known of them.
function nightsSince({ tonight, nights }, planned, now) {
  const eyes = EYES.filter((eye) => nights[0]?.[eye]).map((eye) => [eye, { state: "unknown", hours: null, in: null, out: null, odd: [] }]);
  const count = Math.max(0, Math.min(daysBetween(tonight, now), 60));
  return Array.from({ length: count }, (_, back) => dateOf(Date.parse(now) - back * DAY)).map((night) => ({
    night, planned: planned[night] ?? true, ...Object.fromEntries(eyes), sight: [], reports: [], notes: [],
  }));
}

// What is taken back makes a night unknown; what is said here fills one of which nothing was known. Two that do not
// fit together leave it unknown.
function eyeNow(known, eye, said, over) {
  const concerns = ({ kind, payload }) => OF_WEAR.includes(kind) && [eye, "both", undefined].includes(payload.eyes);
  const open = known.state === "unknown" || over.some(concerns);
  if (!open) return known;
  const states = new Set(said.filter(concerns).filter(({ kind }) => kind !== "as_planned")
    .map(({ kind }) => (kind === "no_lenses" ? "not_worn" : "worn")));
  const state = known.state === "unknown" && !known.odd.length && states.size === 1 ? [...states][0] : "unknown";
  return { ...known, state, hours: null, in: null, out: null };
}

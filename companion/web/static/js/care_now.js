// Lens care as it is now: what the server last told, what was said here since, and the time. The port of
// companion/regimen/clocks.py and of the two clocks in companion/usecases/care.py. Pure.
//
// An end that somebody reads is shown late rather than early for peroxide; a stuck lens never waits longer.

import { eyesOf } from "./now.js";
import { wallClock } from "./moments.js";
import { written } from "./dates.js";

const MINUTE = 60_000;
const HOUR = 60 * MINUTE;
const DAY = 24 * HOUR;
const FREED_SHOWN_FOR = 12 * HOUR;
const SOON = 7;
const TAPS = ["lenses_in", "lenses_out"];

// `kept` and `rows` as in viewNow, whose answer is `now`; `times` {call_after_min, report_after_min} of a stuck lens.
export function careNow(kept, rows, now, times, at) {
  const { care } = kept.pages;
  const { zone } = care.wearer;
  const told = toldHere(rows);
  const held = eyesOf(now.answer.eyes).filter((eye) => now.answer.eyes[eye].answer === "do_not_wear");
  const clocks = stuckNow(kept, told, times, zone, at);
  return {
    ...care,
    now: written(at, zone),
    hour: now.hour,
    held: ["right", "left"].filter((eye) => held.includes(eye) || care.held?.includes(eye)),
    items: care.items.map((one) => ({ ...one, state: dueState(one, written(at, zone)) })),
    soak: care.soak && soakNow(kept, told, zone, at),
    stuck: clocks.running,
    freed: clocks.freed,
    practice: now.practice,
  };
}

// The clock of a stuck lens that started then (ms).
export function stuckClock(eyes, started, times, zone, at) {
  const from = Math.floor(started / MINUTE) * MINUTE;
  const [call, report] = [from + times.call_after_min * MINUTE, from + times.report_after_min * MINUTE];
  const stage = at >= report ? "report" : at >= call ? "call" : "loosen";
  return { eyes, started_at: written(from, zone), call_at: written(call, zone), report_at: written(report, zone), stage };
}

// What was said here, as it stands, by the time when it happened; `loose`, the ids of what was taken back elsewhere.
function toldHere(rows) {
  const raws = rows.filter(({ state }) => state !== "rejected").map(({ raw }) => raw);
  const ids = new Set(raws.map(({ id }) => id));
  const targets = raws.map(({ payload }) => payload.withdraws ?? payload.replaces).filter(Boolean);
  const over = new Set(targets);
  const said = raws.filter(({ id, kind }) => !over.has(id) && !["withdrawal", "correction"].includes(kind));
  return {
    said: said.sort((one, other) => Date.parse(one.at) - Date.parse(other.at)),
    loose: targets.filter((id) => !ids.has(id)),
  };
}

function dueState({ due_on: on, state }, now) {
  if (!on) return state;
  const left = (Date.parse(on) - Date.parse(now.slice(0, 10))) / DAY;
  return left <= 0 ? "due" : left <= SOON ? "soon" : "later";
}

// Where something was taken back that the time may rest on, no time is written down: nothing is ready then.
function soakNow({ pages: { care, diary } }, { said, loose }, zone, at) {
  const { hours } = care.soak;
  const kinds = Object.values(diary?.told ?? {}).flat();
  const touched = loose.some((id) => !["sight", "note", "stuck_lens"].includes(kinds.find((one) => one.id === id)?.kind));
  const soaks = said.filter(({ kind, payload }) => kind === "care_item" && payload.item === "soak").map((one) => Date.parse(one.at));
  const put = said.filter(({ kind }) => kind === "lenses_in").map((one) => Date.parse(one.at));
  const before = touched || !care.soak.started_at ? [] : [Date.parse(care.soak.started_at)];
  const started = Math.max(...before, ...soaks);
  if (started === -Infinity || Math.max(...put) >= started) {
    return { ...care.soak, state: "none", started_at: null, ready_at: null, is_ready: false };
  }
  const known = started === before[0];
  const ready = known ? Date.parse(care.soak.ready_at) : readableEnd(started + hours * HOUR, zone);
  const state = at < ready ? "waiting" : at < ready + care.numbers.stored_days * DAY ? "ready" : "again";
  return { ...care.soak, state, started_at: written(started, zone), ready_at: written(ready, zone), is_ready: state === "ready" };
}

// The first full minute that a clock on the wall cannot show too early, also where clocks go back.
function readableEnd(moment, zone) {
  let end = Math.ceil(moment / MINUTE) * MINUTE;
  while (wallClock(end - HOUR, zone) === wallClock(end, zone)) end += MINUTE;
  return end;
}

// Each eye by itself; both lenses that got stuck together have one clock.
function stuckNow({ pages: { care }, fetched_at: fetched }, { said }, times, zone, at) {
  const eyes = ["right", "left"];
  const fresh = at - Date.parse(fetched) <= FREED_SHOWN_FOR;
  const running = new Map();
  const freed = new Map(fresh ? care.freed.map(({ eye, often }) => [eye, often]) : []);
  for (const one of care.stuck) for (const eye of eyesIn(one.eyes)) running.set(eye, { id: one.started_at, at: Date.parse(one.started_at), often: one.often });
  for (const { id, kind, at: then, payload } of said) {
    const stuck = kind === "stuck_lens" && payload.said === "stuck";
    if (kind !== "stuck_lens" && !TAPS.includes(kind)) continue;
    for (const eye of eyesIn(payload.eyes)) {
      if (stuck && !running.has(eye)) {
        running.set(eye, { id, at: Math.min(Date.parse(then), at), often: false });
        freed.delete(eye);
      } else if (!stuck && running.has(eye)) {
        if (at - Date.parse(then) <= FREED_SHOWN_FOR) freed.set(eye, running.get(eye).often);
        running.delete(eye);
      }
    }
  }
  const each = eyes.filter((eye) => running.has(eye)).map((eye) => ({ eye, ...running.get(eye) }));
  const both = each.length === 2 && each[0].id === each[1].id;
  return {
    running: (both ? each.slice(0, 1) : each).map((one) => ({ ...stuckClock(both ? "both" : one.eye, one.at, times, zone, at), often: one.often })),
    freed: eyes.filter((eye) => freed.has(eye)).map((eye) => ({ eye, often: freed.get(eye) })),
  };
}

const eyesIn = (word) => (word === "both" ? ["right", "left"] : [word]);

// From a form marked data-told to entries: the same fields, read as companion/web/entries.py reads them. Pure.

import { atWallClock, lastTime } from "./moments.js";
import { newId } from "./ids.js";

const MINUTE = 60_000;
const DAY = 24 * 60 * MINUTE;
const EYES = ["right", "left"];
const LOGMAR = [-0.5, 2];
const DISTANCE = [0.2, 10];

class Wrong extends Error {
  constructor(key, values) {
    super(key);
    this.problem = { key, values };
  }
}

// Return {raws} for what this press says at `now` (ms), or {problem: {key, values}}.
export function entriesOf({ dataset }, field, now) {
  try {
    const said = READERS[dataset.told](field, now, dataset);
    return { raws: said.map(({ id, kind, at = now, payload }) => ({
      id: id || newId(), kind, at: new Date(at).toISOString(), zone: field.zone, made_at: new Date(now).toISOString(), payload,
    })) };
  } catch (error) {
    if (error instanceof Wrong) return { problem: error.problem };
    throw error;
  }
}

const READERS = {
  sight,
  note: ({ id, text }) => [{ id, kind: "note", payload: { text: written(text) } }],
  of_night: ofNight,
  correction,
  stuck_lens: (field, now) => [{
    id: field.id, kind: "stuck_lens", at: whenOf(field, now), payload: { eyes: field.eyes, said: field.said },
  }],
  soak: (field, now) => [{ id: field.id, kind: "care_item", at: whenOf(field, now), payload: { item: "soak" } }],
};

// In words or off a chart, for each eye; an eye left out says nothing.
function sight(field, now) {
  const at = whenOf(field, now);
  const said = EYES.flatMap((eye) => {
    const [word, logmar] = [field[`word_${eye}`], field[`logmar_${eye}`]?.trim()];
    return [
      word && { id: field[`id_word_${eye}`], kind: "sight", at, payload: { eye, word } },
      logmar && { id: field[`id_chart_${eye}`], kind: "sight", at, payload: { eye, ...chart(logmar, field) } },
    ].filter(Boolean);
  });
  if (!said.length) throw new Wrong("sight_missing");
  return said;
}

const chart = (logmar, field) => ({ logmar: decimal(logmar, LOGMAR), distance_m: decimal(field.distance_m, DISTANCE) });

// What is added to a past night: from noon on it was the evening, before noon the morning after.
function ofNight({ id, kind, eyes, clock, zone }, now, { night }) {
  if (kind === "no_lenses") return [{ id, kind, payload: { eyes, night } }];
  const minutes = minutesOf(clock);
  const at = atWallClock(Date.parse(night) + (minutes < 720 ? DAY : 0) + minutes * MINUTE, zone);
  return [{ id, kind, at, payload: { eyes } }];
}

// How an entry should read. Its kind stays, and so does its time unless another one was typed.
function correction(field, now, { replaces }) {
  const { id, kind, day, zone } = field;
  const at = day ? new Date(atWallClock(Date.parse(day) + minutesOf(field.clock) * MINUTE, zone)).toISOString() : field.at;
  if (!at || at === "Invalid Date") throw new Wrong("not_a_clock");
  return [{ id, kind: "correction", payload: { replaces, kind, at, zone, payload: corrected(kind, field) } }];
}

function corrected(kind, field) {
  switch (kind) {
    case "lenses_in":
    case "lenses_out": return { eyes: field.eyes };
    case "no_lenses": return { eyes: field.eyes, night: field.of_night };
    case "sight": return { eye: field.eye, ...(field.word ? { word: field.word } : chart(field.logmar ?? "", field)) };
    case "as_planned":
      return { since: field.since, until: field.until, except: field.except.split(",").filter(Boolean) };
    default: return { text: written(field.text) };
  }
}

function written(text) {
  if (!text?.trim()) throw new Wrong("entry_text_empty");
  return text;
}

function decimal(text, [low, high]) {
  const plain = (text ?? "").trim().replace(",", ".").replace("−", "-");
  const value = plain === "" ? NaN : Number(plain);
  if (Number.isNaN(value)) throw new Wrong("not_a_number");
  if (value < low || value > high) throw new Wrong("entry_number_out_of_range", { low, high });
  return value;
}

function minutesOf(clock) {
  const found = /^([01]\d|2[0-3]):([0-5]\d)/.exec(clock ?? "");
  if (!found) throw new Wrong("not_a_clock");
  return Number(found[1]) * 60 + Number(found[2]);
}

function whenOf({ clock, minutes_ago: ago = "0", zone }, now) {
  const at = clock ? lastTime(clock, zone, now) : now - Number(ago) * MINUTE;
  if (Number.isNaN(at)) throw new Wrong("not_a_clock");
  return at;
}

// From a form marked data-entry to an entry: the same fields, read as web/entries.py reads them. What cannot be said
// here (another form, a time that is none) is null, and the form then posts as without script.

import { newId } from "./ids.js";
import { lastTime } from "./moments.js";

const MINUTE = 60_000;
const EYES = new Set(["both", "right", "left"]);

// Return {wearer, raw} for what this press of `button` says at `now` (ms), or null.
export function entryOf(form, button, now) {
  const field = fieldsOf(form, button);
  const payload = payloadOf(form.dataset.entry, field, form.dataset);
  const at = whenOf(field, now);
  if (!payload || !form.dataset.wearer || !field.zone || Number.isNaN(at)) return null;
  const raw = {
    id: field.id || newId(),
    kind: form.dataset.entry === "tap" ? field.kind : form.dataset.entry,
    at: new Date(at).toISOString(),
    zone: field.zone,
    made_at: new Date(now).toISOString(),
    payload,
  };
  return { wearer: form.dataset.wearer, raw };
}

export function withdrawalOf(raw, now) {
  const at = new Date(now).toISOString();
  return { id: newId(), kind: "withdrawal", at, zone: raw.zone, made_at: at, payload: { withdraws: raw.id } };
}

function fieldsOf(form, button) {
  const fields = Object.fromEntries(new FormData(form));
  if (button?.name) fields[button.name] = button.value;
  return fields;
}

function payloadOf(entry, field, { withdraws }) {
  if (entry === "withdrawal") return withdraws ? { withdraws } : null;
  if (entry === "note") return field.text?.trim() ? { text: field.text } : null;
  if (entry === "as_planned") return field.since && field.until ? { since: field.since, until: field.until, except: [] } : null;
  if (entry !== "tap" || !EYES.has(field.eyes)) return null;
  switch (field.kind) {
    case "lenses_in":
    case "lenses_out":
      return { eyes: field.eyes };
    case "no_lenses":
      return field.night ? { eyes: field.eyes, night: field.night } : null;
    default:
      return null;
  }
}

function whenOf(field, now) {
  if (field.clock) return lastTime(field.clock, field.zone, now);
  const minutes = field.minutes_ago || "0";
  return /^\d{1,4}$/.test(minutes) && Number(minutes) <= 24 * 60 ? now - Number(minutes) * MINUTE : NaN;
}

// This page's own speaker, and times as this page writes them. Works once `ready()` has resolved.

import { loadWords, speaker } from "./speaker.js";

const DAY = { weekday: "short", day: "numeric", month: "short" };
const TIME = { hour: "numeric", minute: "2-digit" };

let voice = null;

export async function ready() {
  voice = speaker(await loadWords(), document.documentElement.dataset.digits);
}

export const say = (key, values) => voice.say(key, values);
export const knows = (key) => voice.has(key);

// The time of day at `instant` in the wearer's zone, with the day where it is not today's.
export function timeOf(instant, timeZone, now = Date.now()) {
  const day = new Intl.DateTimeFormat("en-CA", { timeZone });
  const at = Date.parse(instant);
  return written(at, { ...(day.format(at) === day.format(now) ? {} : DAY), ...TIME, timeZone });
}

// The date of a night, "YYYY-MM-DD".
export const dayOf = (night) => written(Date.parse(night), { ...DAY, timeZone: "UTC" });

const written = (at, how) => new Intl.DateTimeFormat(voice.tag, { numberingSystem: voice.digits, ...how }).format(at);

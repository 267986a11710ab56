// Times, days and lengths of time as the server says them (companion/phrasebook/phrases.py, which has Babel for it).
// A time is read off the ISO text: the clock on the wall where it was written, whatever zone this phone is in.

import { wallClock } from "./moments.js";

const HOUR = 3_600_000;
const DAY = 24 * HOUR;
const HOURS = {
  usual: { timeStyle: "short" },
  h23: { hour: "2-digit", minute: "2-digit", hourCycle: "h23" },
  h12: { hour: "numeric", minute: "2-digit", hourCycle: "h12" },
};
// [name, seconds, from how many on]: a length is said in the largest unit of which there are one and a half.
const UNITS = [["year", 31_536_000], ["month", 2_592_000], ["week", 604_800], ["day", 86_400], ["hour", 3_600], ["minute", 60]];

// What the clock on the wall showed at an ISO instant or at the start of a date, as ms of the same reading in UTC.
export const reading = (iso) => Date.parse(iso.length > 10 ? `${/^[^T]+T\d\d:\d\d(:\d\d)?/.exec(iso)[0]}Z` : iso);

// The instant (ms) as ISO text in `zone`.
export function written(instant, zone) {
  const shown = wallClock(instant, zone);
  const ahead = Math.round((shown - instant) / 60_000);
  const two = (value) => String(value).padStart(2, "0");
  const offset = `${ahead < 0 ? "-" : "+"}${two(Math.floor(Math.abs(ahead) / 60))}:${two(Math.abs(ahead) % 60)}`;
  return new Date(shown).toISOString().slice(0, 19) + offset;
}

export const dateOf = (ms) => new Date(ms).toISOString().slice(0, 10);
export const daysBetween = (one, other) => Math.round((Date.parse(other.slice(0, 10)) - Date.parse(one.slice(0, 10))) / DAY);

// Somebody who says times in one `locale`, with its digits and its way of counting hours.
export function calendar(locale, digits, hourCycle = "usual") {
  const made = new Map();
  const by = (name, how) => (iso) => {
    if (!made.has(name)) made.set(name, new Intl.DateTimeFormat(locale, { timeZone: "UTC", numberingSystem: digits, ...how }));
    return made.get(name).format(typeof iso === "number" ? iso : reading(iso));
  };

  function measured(ms) {
    const seconds = Math.abs(ms) / 1000;
    const [unit, size] = UNITS.find(([, each]) => seconds / each >= 1.5) ?? ["second", 1];
    return [Math.max(1, Math.round(seconds / size)), unit];
  }

  // A length of time, coarsely: "6 hours".
  function span(ms) {
    const [count, unit] = measured(ms);
    const how = { style: "unit", unit, unitDisplay: "long", numberingSystem: digits };
    return new Intl.NumberFormat(locale, how).format(count);
  }

  // "6 hours ago".
  function ago(ms) {
    const [count, unit] = measured(ms);
    return new Intl.RelativeTimeFormat(`${locale}-u-nu-${digits}`).format(-count, unit);
  }

  return {
    clock: by("clock", HOURS[hourCycle] ?? HOURS.usual),
    day: by("day", { weekday: "short", day: "numeric", month: "short" }),
    weekday: by("weekday", { weekday: "short" }),
    span,
    ago,
  };
}

// A time; with its day where that is not today.
export function timeAndDay({ say, clock, day }, instant, now) {
  const time = clock(instant);
  switch (daysBetween(now, instant)) {
    case 0: return time;
    case 1: return say("say.tomorrow_at", { time });
    case -1: return say("say.yesterday_at", { time });
    default: return say("say.day_at", { day: day(instant), time });
  }
}

// The day of an instant as seen from `now`: a near one by its word, else its date, or its weekday alone.
export function dayWord({ say, day, weekday }, instant, now, short = false) {
  const near = { 0: "today", 1: "tomorrow", "-1": "yesterday" }[daysBetween(now, instant)];
  return near ? say(`say.${near}`) : short ? weekday(instant) : day(instant);
}

// Whether anybody at the practice is there: the first line of a result that the practice has, as
// companion/phrasebook/result_words.py says it. What a practice said of itself holds for the moment of the last sync.

import { calendar, timeAndDay, written } from "./dates.js";
import { ownVoice } from "./saying.js";

const LINES = { on: "on_duty", on_call: "on_call", off: "off_duty", no_hours: "no_hours", not_told: "not_told" };

// The server's moment on this phone's clock, which goes `ahead` seconds before the server's.
export const onThisClock = (moment, ahead = 0) => moment && new Date(Date.parse(moment) + ahead * 1000).toISOString();

// Whether somebody is there still, as far as the last sync knew.
export const isThere = ({ on_duty: was, closes_at: until }) => was && !(Date.parse(until) <= Date.now());

export function dutyOf(practice) {
  if (!practice || practice.alerts_on === false) return "not_told";
  if (isThere(practice)) return practice.on_call ? "on_call" : "on";
  return practice.opens_at ? "off" : "no_hours";
}

// Say who is there, and what to do at this level; only who is there where a deed comes first.
export function firstLine(voice, practice, level, deed, zone) {
  const duty = dutyOf(practice);
  const key = deed ? `duty.${duty}` : `${LINES[duty]}.${level}`;
  return voice.vitalBy((speaks) => speaks.say(key, {
    practice: practice?.name,
    time: duty === "off" ? timeAndDay(withClock(speaks, voice), practice.opens_at, written(Date.now(), zone)) : null,
  }));
}

// Each speaker has a clock of their own; the reader's is as the reader wants it.
function withClock(speaks, voice) {
  return speaks === voice.own && ownVoice() ? ownVoice() : { ...speaks, ...calendar(speaks.locale, speaks.digits) };
}

// This page's own voice: its sentences and its times, as its reader has them. Works once `ready()` has resolved.

import { fact } from "./db.js";
import { calendar, timeAndDay, written } from "./dates.js";
import { loadWords, speaker } from "./speaker.js";

const page = document.documentElement.dataset;

let voice = null;

export async function ready() {
  const [words, reader] = await Promise.all([loadWords(), readerHere()]);
  // A page of the server's own knows its reader's digits; the shell is the same for everybody.
  const digits = (page.account ? page.digits : reader?.digits ?? page.digits) ?? words.digits;
  voice = { ...speaker(words, digits), ...calendar(words.locale, digits, reader?.hour_cycle) };
}

export const ownVoice = () => voice;
export const say = (key, values) => voice.say(key, values);
export const knows = (key) => voice.has(key);

// The time of day at `instant` in the wearer's zone, with the day where it is not today's.
export const timeOf = (instant, zone, now = Date.now()) =>
  timeAndDay(voice, written(Date.parse(instant), zone), written(now, zone));

// The date of a night, "YYYY-MM-DD".
export const dayOf = (night) => voice.day(night);

// What the last sync said of whoever is at home here: how they want digits, hours and light.
export async function readerHere() {
  const [reader, account] = await Promise.all([fact("reader"), fact("account")]).catch(() => []);
  return reader && reader.id === (page.account ?? account) ? reader : null;
}

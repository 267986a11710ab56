// This page's own voice: its sentences and its times, as its reader has them. Works once `ready()` has resolved, with
// what this phone keeps (db.homeState).

import { homeState, reading } from "./db.js";
import { calendar, timeAndDay, written } from "./dates.js";
import { loadWords, speaker } from "./speaker.js";

const page = document.documentElement.dataset;

let voice = null;

export async function ready() {
  const [words, home] = await Promise.all([loadWords(), reading(homeState)]);
  const reader = readerOf(home);
  // A page of the server's own knows its reader's digits; the shell is the same for everybody.
  const digits = (page.account ? page.digits : reader?.digits ?? page.digits) ?? words.digits;
  voice = { ...speaker(words, digits), ...calendar(words.locale, digits, reader?.hour_cycle) };
  return home;
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
export const readerOf = ({ account, reader }) => (reader && reader.id === (page.account ?? account) ? reader : null);

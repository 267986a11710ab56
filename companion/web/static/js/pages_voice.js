// Whoever speaks on the pages beside Tonight: their words come in a file of their own. Owns no sentence.

import { calendar, reading } from "./dates.js";
import { ownVoice } from "./saying.js";
import { loadFile, loadWords, speaker } from "./speaker.js";

// All the words that the address names, and those of these pages.
export async function allWords(address = document.documentElement.dataset.words) {
  const [words, more] = await Promise.all([loadWords(address), loadFile(address.replace(".json", ".pages.json"))]);
  return { ...words, words: { ...words.words, ...more.words } };
}

export async function pagesVoice(hourCycle) {
  return voiceOf(await allWords(), ownVoice().digits, hourCycle);
}

export function voiceOf(words, digits, hourCycle) {
  const said = speaker(words, digits);
  const { locale } = words;
  const fixed = new Intl.NumberFormat(said.tag, { numberingSystem: said.digits, minimumFractionDigits: 1, useGrouping: false });
  const list = new Intl.ListFormat(locale, { type: "conjunction" });
  const full = new Intl.DateTimeFormat(locale, { timeZone: "UTC", numberingSystem: said.digits, dateStyle: "full" });
  return {
    ...said,
    ...calendar(locale, said.digits, hourCycle),
    tenths: (value) => fixed.format(toTenths(value)),
    listing: (parts) => list.format(parts),
    longDay: (iso) => full.format(reading(iso)),
  };
}

// Half goes to the even digit, as the server has it.
function toTenths(value) {
  const hundredths = Math.round(value * 100);
  const [tenths, rest] = [Math.floor(hundredths / 10), hundredths % 10];
  return (rest > 5 || (rest === 5 && tenths % 2) ? tenths + 1 : tenths) / 10;
}

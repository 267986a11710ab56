// How safety text is said on this phone, as companion/web/safety_voice.py says it: in the reader's language, with the
// English beside, or in English alone with the numbers first. Where the server has not said which for a family, a
// stranger's way counts: nobody answers for the language, so both texts stand.

import { h } from "./markup.js";
import { loadWords, speaker } from "./speaker.js";

const STRICTEST = ["held", "beside", "source", "reviewed"];
const ADVICE_FOR = { right: "say.advice_right", left: "say.advice_left" };

// The voice for what these wearers' families read: as the strictest has it. What the server said holds for the
// language in which it said it.
export async function voiceFor(wearers, load = loadWords) {
  const page = document.documentElement.dataset;
  const words = await load();
  const own = speaker(words, page.digits);
  const said = wearers.map((one) => (one.language === own.tag && one.speech) || words.speech);
  const wanted = STRICTEST.find((one) => said.includes(one)) ?? words.speech;
  const english = ["held", "beside"].includes(wanted) ? await englishWords(page.english, load) : null;
  return makeVoice(own, english, english || wanted === "reviewed" ? wanted : "source");
}

// Without them the reader's own language is better than nothing.
async function englishWords(address, load = loadWords) {
  return load(address).then(speaker).catch(() => null);
}

function makeVoice(own, english, speech) {
  const held = speech === "held";
  const language = new Intl.DisplayNames([own.tag], { type: "language" }).of(own.tag);
  const beside = (said, kind) => h("span", { class: kind, lang: "en", dir: "ltr" }, said);

  // Say what `words(speaker)` says.
  function sayWith(words) {
    if (held) return [beside(words(english), "in-english")];
    return english ? [words(own), " ", beside(words(english), "beside")] : [words(own)];
  }
  return {
    speech,
    held,
    own,
    english,
    vitalBy: sayWith,
    vital: (key, values) => sayWith((speaks) => speaks.say(key, values)),
    advice: ({ key, eyes }, values) => sayWith((speaks) => adviceText(speaks, key, eyes, values)),
    once: (key) => (held ? english : own).say(key), // for a title bar
    say: own.say,
    number: own.number,
    note: () => (own.has(`note.${speech}`) ? own.say(`note.${speech}`, { language }) : null),
  };
}

// Who speaks English, for somebody who helps.
export const englishSpeaker = () => englishWords(document.documentElement.dataset.english);

// One piece of advice, naming the eye where it is about one alone.
export function adviceText(speaks, key, eyes, values) {
  const advice = speaks.say(`advice.${key}`, values);
  return eyes.length === 1 ? speaks.say(ADVICE_FOR[eyes[0]], { advice }) : advice;
}

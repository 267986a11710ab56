// What an entry says in one line, as companion/phrasebook/diary_words.py says it.

import { wordFor } from "./tonight_page.js";

export function entryText(voice, { kind, payload }) {
  const { say, day, has } = voice;
  switch (kind) {
    case "no_lenses": return say(`no_lenses.${payload.eyes}`, { night: day(payload.night) });
    case "as_planned": return asPlanned(voice, payload);
    case "sight": return sightText(voice, payload);
    case "note": return payload.text;
    case "care_item": {
      const part = payload.which ?? payload.eyes;
      return say(`renewed.${payload.item}${part ? `.${part}` : ""}`);
    }
    case "stuck_lens": return say(`stuck_said.${payload.said}.${payload.eyes}`);
    default: return say([`kind.${kind}.${payload.eyes}`, `kind.${kind}`].find(has) ?? "kind.other");
  }
}

function asPlanned({ say, day, listing }, { since, until, except = [] }) {
  const span = { since: day(since), until: day(until) };
  return except.length ? say("say.planned_except", { ...span, nights: listing(except.map((one) => day(one))) }) : say("say.planned_all", span);
}

function sightText({ say, number }, { eye, word, logmar, distance_m: distance }) {
  if (word) return say(`sight_said.${eye}`, { word: say(`sight.${word}`) });
  return say(`sight_read.${eye}`, { word: say(`sight.${wordFor(logmar)}`), distance: number(distance) });
}

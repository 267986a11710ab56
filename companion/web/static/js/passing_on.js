// A report for somebody without this app, as companion/web/passing_on.py has it: a text message, which needs no
// internet, and a page held out to whoever helps, in English beside the reader's language. Values in, elements out.

import { h } from "./markup.js";
import { EYES } from "./triage.js";
import { adviceText, englishSpeaker } from "./voice.js";

const FROM_LEVEL = 2; // below it nobody has to be told
const GO_FROM = 4;
const SINCE = ["under_1h", "over_1h", "over_24h_or_worse"];
const STILL_IN = ["stuck_now", "maybe_in_eye", "stuck_long_or_broken"];
const APART = /[\u2068\u2069]/g; // signs that keep directions apart are for pages: some phones show them as boxes

// `heard` = the answers to what was asked; `values` = the numbers in each piece of advice.
export function passOn(voice, rules, verdict, heard, practice, wearer, values) {
  if (verdict.level < FROM_LEVEL || !heard) return null;
  const parts = partsOf(rules, verdict, heard);
  const name = wearer?.name.trim().split(/\s+/)[0];
  const message = h("a", { class: "button" }, voice.say("helper.send"));
  const named = name && h("a", { class: "button" }, voice.say("helper.send_name", { name }));
  const helper = h("div", { class: "helper" });

  function fill(speakers) {
    const text = (who) => speakers.map((speaks) => messageText(speaks, verdict.level, parts, who)).join("\n");
    message.href = smsLink(practice, text(null));
    if (named) named.href = smsLink(practice, text(name));
    helper.replaceChildren(...helperSays(speakers, verdict, parts, values));
  }
  const { own, english, held } = voice;
  fill(held ? [english] : own.tag === "en" || !english ? [own] : [own, english]);
  if (own.tag !== "en" && !english) englishSpeaker().then((speaks) => speaks && fill([own, speaks]));
  return [
    h("div", { class: "row", id: "pass-on" }, message, named),
    h("p", { class: "quiet small" }, voice.say("helper.no_data")),
    h("details", { class: "more", id: "helper" }, h("summary", {}, voice.say("helper.show")), helper),
  ];
}

// What is to be said of a report besides its level. The worse of two eyes counts.
function partsOf(rules, { level, eyes }, heard) {
  const spoken = EYES.filter((eye) => Object.keys(heard[eye] ?? {}).length);
  const asked = spoken.length ? spoken : EYES;
  const worst = asked.filter((eye) => eyes[eye] === level);
  const about = worst.length ? worst : asked;
  const given = (id) => about.map((eye) => heard[eye]?.[id]).filter(Boolean);
  const { options } = rules.byId.course;
  const since = options[Math.max(0, ...given("course").map((one) => options.indexOf(one)))];
  const lenses = given("lens");
  const isIn = lenses.some((one) => STILL_IN.includes(one));
  const isOut = lenses.length > 0 && lenses.every((one) => rules.byId.lens.options.includes(one));
  return [
    about.length === 1 ? about[0] : "both",
    ...(SINCE.includes(since) ? [since] : []),
    ...(isIn ? ["lens_in"] : isOut ? ["lens_out"] : []),
  ];
}

const levelSentence = (speaks, level) => speaks.say("message.level", { level: speaks.say(`urgency.${level}`) });

function messageText(speaks, level, parts, name) {
  const about = name ? speaks.say("message.about_name", { name }) : speaks.say("message.about");
  const said = [about, levelSentence(speaks, level), ...[...parts, "call_us"].map((one) => speaks.say(`message.${one}`))];
  return said.join(" ").replace(APART, "");
}

// RFC 5724, and the sign between that phones of both families read.
const smsLink = (practice, text) => `sms:${practice?.phone ?? ""}?&body=${encodeURIComponent(text)}`;

function helperSays(speakers, { level, lens, advice }, parts, values) {
  // The helper's English is for reading as it stands: no browser translates it.
  const both = (words) => speakers.map((speaks) => {
    const asItIs = speaks.tag === "en" && "no";
    return h("p", { lang: speaks.tag, dir: speaks.dir, translate: asItIs }, words(speaks));
  });
  const said = [
    (speaks) => speaks.say("message.about"),
    (speaks) => levelSentence(speaks, level),
    (speaks) => parts.map((one) => speaks.say(`message.${one}`)).join(" "),
    (speaks) => speaks.say(level >= GO_FROM ? "helper.go" : "helper.call"),
  ];
  const steps = [
    ...EYES.filter((eye) => lens[eye] !== "none").map((eye) => (speaks) => speaks.say(`lens.${lens[eye]}.${eye}`)),
    ...advice.map((one) => (speaks) => adviceText(speaks, one.key, one.eyes, values[one.key])),
  ];
  return [
    ...said.map((words) => h("div", {}, both(words))),
    h("ul", {}, steps.map((words) => h("li", {}, both(words)))),
  ];
}

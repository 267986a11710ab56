// "Something is wrong" on the phone itself, with or without a network: emergency advice first, then the questions,
// then what to do, and the truth about who has been told. The shell's painter for it. Nothing here waits for the
// network; a report is in the queue before its result is on the screen.

import { firstPage, practiceOf, questionPage, resultPage } from "./advice.js";
import { written } from "./dates.js";
import { fact, keepFact, reading } from "./db.js";
import { dutyOf } from "./duty.js";
import { newId } from "./ids.js";
import { loadFile } from "./speaker.js";
import { firstSheet, documentOf, nextSheet, sheetAt } from "./sheet.js";
import { allWords } from "./pages_voice.js";
import { ready } from "./saying.js";
import { onNews } from "./sync.js";
import { afterKeeping, keep } from "./tapping.js";
import { thumbLifted } from "./thumb.js";
import { byNow } from "./timers.js";
import { answersFromScreen, evaluate, readRules, TOLD } from "./triage.js";
import { voiceFor } from "./voice.js";
import { worseOf } from "./worse.js";
import { judges, spoken, youngIn } from "./young.js";
import { zoneHere } from "./zone_here.js";

const RULES = new URL("../triage/rules.json", import.meta.url).href;
const NUMBERS = new URL("../escalation/emergency_numbers.json", import.meta.url).href;
const HERE = /^\/(?:w\/[^/]+\/)?(?:wrong|reports\/)/;
const REPORT = /^\/w\/[^/]+\/reports\/([^/]+)$/;
const MINUTE = 60_000;
const MAY = "report_symptoms";
const PATIENCE = 1_000; // ms for the phone to keep a report before its result is shown all the same

// What is on the screen: {about, rules, wearer, sheet, verdict, entry, told, answers}; null before the first paint.
// `answers` are a stranger's, of which there is no entry; `heard` the same, as far as they were asked for. `told.kept`:
// the report has stood on this phone's disk, so that it is not there any more means that the server has it.
let now = null;
let root = null;
let painting = Promise.resolve();

// Paint the place, or bring what is painted up to date: a sync must not take the questions from under a thumb.
export function paint(main, place) {
  painting = painting.catch(() => {}).then(() => paintPlace(main, place));
  return painting;
}

async function paintPlace(main, { home: { account }, wearer }) {
  if (now && root?.isConnected && root.childElementCount && now.account === account) return hear();
  root = standIn(main);
  const about = await gather(account);
  const rules = readRules(await loadFile(RULES));
  now = { account, about, rules };
  const asked = new URLSearchParams(location.search);
  const whose = about.wearers.find((one) => one.id === wearer) ?? null;
  const kept = REPORT.exec(location.pathname)?.[1];
  if (kept) return reopen(kept, whose, account);
  const sheet = HERE.test(location.pathname) && firstSheet(rules, asked.get("eyes"), Object.fromEntries(asked));
  show(sheet ? { sheet, wearer: whose } : {}, { stay: true }); // the focus moves only after a press
  return undefined;
}

// Go on here with what a server's page of questions holds, where its form cannot be sent: [[name, value], ..].
export async function goOn(main, { account = null, wearer = null }, fields, go) {
  root = main;
  const about = await gather(account);
  now = { account, about, rules: readRules(await loadFile(RULES)) };
  const whose = about.wearers.find((one) => one.id === wearer) ?? null;
  const sheet = sheetAt(now.rules, fields, null, go === "back" ? -1 : 0);
  onNews(hear); // no router brings it here
  return go === "back" ? show({ sheet, wearer: whose }) : answer(sheet, whose, fields);
}

// The emergency advice that is on the page without script makes room for the same, painted here.
function standIn(main) {
  const still = document.getElementById("wrong");
  if (!still || still === root) return still ?? main;
  still.classList.toggle("asked", location.hash !== "#wrong");
  addEventListener("hashchange", () => still.classList.toggle("asked", HERE.test(location.pathname) && !location.hash));
  document.querySelector(".something-wrong")?.addEventListener("click", () => now && show({}));
  return still;
}

// All that the pages need to know, from what the phone keeps; nothing of it is needed to give advice.
async function gather(account) {
  const { wearers, picked, pickedIn } = await known(account).catch(() => ({ wearers: [] }));
  const rows = (await loadFile(NUMBERS)).rows;
  await ready().catch(() => {});
  const about = {
    wearers,
    voice: await voiceOf(wearers),
    countries: rows.map((row) => row.country),
    place: placeOf(rows, picked ?? practiceOf(wearers[0])?.country ?? null, picked ? pickedIn : wearers[0]?.zone),
    onPlace(country) {
      about.place = placeOf(rows, country);
      keepFact("country", country).then(() => keepFact("country_zone", zoneHere())).catch(() => {});
      show(now, { stay: true });
    },
  };
  return about;
}

// The words of fewer pages come in a file of their own; without it the usual ones are right too.
async function voiceOf(wearers) {
  if (!wearers.some((one) => youngIn(one) || !judges(one))) return voiceFor(wearers);
  return voiceFor(wearers, allWords).catch(() => voiceFor(wearers));
}

async function known(account) {
  const rows = account ? await reading(({ wearers }) => wearers.all()) : [];
  const theirs = rows.filter((one) => one.account === account && practiceOf(one) && (one.may ?? [MAY]).includes(MAY));
  return { wearers: theirs, picked: await fact("country"), pickedIn: await fact("country_zone") };
}

// `zone` is where the place was right: a clock in another one asks whether it still is.
function placeOf(rows, country, zone = null) {
  const row = rows.find((one) => one.country === country);
  return { country, number: row?.verified ? row.number : null, moved: Boolean(zone) && zone !== zoneHere() };
}

// Put a page on the screen: the first one, one of questions (`sheet`), or a result (`verdict`).
function show(what, { stay = false } = {}) {
  const { wearer = null, verdict = null, entry = null, told = null, answers = null, heard = null } = what;
  const sheet = judges(wearer) ? what.sheet ?? null : null; // a practice may have switched the questions off
  Object.assign(now, { sheet, wearer, verdict, entry, told, answers, heard, duty: dutyOf(practiceOf(wearer)) });
  const { about, rules } = now;
  const again = () => show({});
  const pages = verdict ? resultPage(about, rules, verdict, wearer, told, again, after())
    : sheet ? questionPage(about, rules, sheet, wearer, {
      next: (fields) => answer(sheet, wearer, fields),
      back: (fields) => show({ sheet: sheetAt(rules, fields, sheet, -1), wearer }),
      both: (lens) => show({ sheet: firstSheet(rules, "both", lens), wearer }),
      first: again,
    })
      : firstPage(about, (eyes, whose) => show({ sheet: firstSheet(rules, eyes), wearer: whose }));
  const open = stay ? [...root.querySelectorAll("details[open][id]")].map((one) => one.id) : [];
  root.replaceChildren(...pages.flat(Infinity).filter(Boolean));
  for (const one of root.querySelectorAll("details[id]")) one.open ||= open.includes(one.id);
  entitle(verdict ? `urgency.${verdict.level}` : sheet ? spoken(about.voice, youngIn(wearer))(`page.${sheet.page.id}`) : null);
  if (!stay) look(sheet?.problems.length ? ".problems" : "h1");
}

function entitle(key) {
  const { voice } = now.about;
  const said = key && !voice.held ? voice.once(key) : voice.say("say.something_wrong");
  document.title = `${said} · ${voice.say("say.app")}`;
}

function look(selector) {
  const target = root.querySelector(selector);
  target.tabIndex = -1;
  target.focus({ preventScroll: true });
  root.closest("main")?.scrollTo(0, 0);
  scrollTo(0, 0);
}

async function answer(before, wearer, fields) {
  const { rules } = now;
  const sheet = nextSheet(rules, before, fields);
  if (!sheet.done) return show({ sheet, wearer });
  // Nobody knows here what the practice has chosen: the stricter choices hold.
  const answers = answersFromScreen(sheet.shown, sheet.given, rules);
  const verdict = evaluate(answers, rules, { oneEyeHoldsBoth: true });
  if (!wearer) return show({ verdict, answers, heard: documentOf(sheet), told: { state: "stranger" } });
  return deliver(entryOf(sheet, verdict, wearer), verdict, wearer);
}

// Into the queue first, then on the screen.
async function deliver(entry, verdict, wearer) {
  const saved = keep(wearer.id, entry).then(() => true, () => false);
  const soon = await Promise.race([saved, new Promise((resolve) => setTimeout(resolve, PATIENCE, false))]);
  show({ verdict, wearer, entry, told: { state: soon ? "saved" : "unsaved" } });
  if (!(await saved)) return undefined;
  if (now.entry === entry) now.told.kept = true;
  await afterKeeping().catch(() => {});
  return hear();
}

// The report as the server's form makes it, and what this phone has told the family.
function entryOf(sheet, verdict, wearer) {
  const at = new Date().toISOString();
  return {
    id: newId(),
    kind: "symptom_report",
    at,
    zone: wearer.zone,
    made_at: at,
    payload: {
      answers: documentOf(sheet),
      language: now.about.voice.own.tag,
      judged_level: verdict.level,
      rules_version: verdict.rules_version,
    },
  };
}

// Somebody who sees the eye asks for more than the answers gave: the same answers once more, from the same moment.
function askFor(level) {
  const { rules, entry, wearer, answers, heard } = now;
  if (!entry) {
    const verdict = evaluate(answers, rules, { oneEyeHoldsBoth: true, askedLevel: level });
    return show({ verdict, answers, heard, told: { state: "stranger" } });
  }
  const payload = { ...entry.payload, asked_level: level, judged_level: level };
  const raw = { ...entry, id: newId(), made_at: new Date().toISOString(), payload };
  return deliver(raw, counts(raw, wearer).verdict, wearer);
}

// What follows a result: when to look again, which counts from the report on, and asking for more.
function after() {
  const { entry, rules, wearer, told, verdict } = now;
  const look = entry && counts(entry, wearer).look;
  const ask = (known) => () => show({ sheet: firstSheet(rules, look.eyes, known), wearer });
  return {
    look: look && told.state !== "refused" && { ...look, at: written(look.at, wearer.zone), now: written(Date.now(), wearer.zone) },
    onSaid: look && { same: ask({}), better: ask({}), worse: ask(worseOf(look.eyes)) },
    onAsk: askFor,
    heard: entry?.payload.answers ?? now.heard,
    raised: entry && verdict.level > entry.payload.judged_level
      && (verdict.deciding.includes(TOLD) ? "judged_higher" : "more_urgent"),
  };
}

// A report that this phone has not sent yet, opened again: as it counts by now.
async function reopen(id, wearer, account) {
  const row = await reading(({ entries }) => entries.get(id));
  if (!row || !wearer || row.account !== account || row.raw.kind !== "symptom_report") throw new Error("not on this phone");
  show({ wearer, entry: row.raw, told: { state: "saved", kept: true }, verdict: counts(row.raw, wearer).verdict }, { stay: true });
  return hear();
}

// What a report counts as by now: time makes it worse, or leaves it; and nobody is told less than the server's rules
// say.
function counts(entry, wearer) {
  const judged_level = Math.max(entry.payload.judged_level, judgedThere(entry, wearer));
  return byNow({ ...entry, payload: { ...entry.payload, judged_level } }, now.rules, wearer, Date.now());
}

// The level that the server's rules gave it, once they have; else 0.
const judgedThere = ({ id }, wearer) =>
  Math.max(0, ...(wearer.reports ?? []).filter((one) => one.entry_id === id).map(({ level }) => level));

setInterval(async () => {
  await thumbLifted();
  if (!now?.entry || !root?.isConnected || !now.verdict) return;
  const { verdict } = counts(now.entry, now.wearer);
  if (verdict.level > now.verdict.level) show({ ...now, verdict }, { stay: true });
  else if (now.duty !== dutyOf(practiceOf(now.wearer))) show(now, { stay: true });
}, MINUTE);

// What has become of the report on the screen, if there is one, and who is there for it by now.
async function hear() {
  const { entry, told, wearer } = now;
  if (!entry) return;
  const row = await reading(({ entries }) => entries.get(entry.id)).catch(() => null);
  if (row === null || (row === undefined && (!told.kept || told.state === "refused"))) return;
  const state = row === undefined || row.state === "sent" ? "sent" : row.state === "rejected" ? "refused" : "saved";
  const fresh = (await reading(({ wearers }) => wearers.get(wearer.id)).catch(() => null)) ?? wearer;
  await thumbLifted();
  const [same, { verdict }] = [state === now.told?.state, counts(entry, fresh)];
  const raised = verdict.level > now.verdict.level;
  if (now.entry !== entry || (same && !raised && dutyOf(practiceOf(fresh)) === now.duty)) return;
  const report = navigator.onLine ? `/w/${wearer.id}/reports/${entry.id}` : null;
  show({ ...now, ...(raised && { verdict }), wearer: fresh, told: same ? now.told : { state, said: row?.why?.said, report, kept: true } }, { stay: true });
}

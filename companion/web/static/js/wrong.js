// "Something is wrong" on the phone itself, with or without a network: emergency advice first, then the questions,
// then what to do, and the truth about who has been told. The shell's painter for it. Nothing here waits for the
// network; a report is in the queue before its result is on the screen.

import { firstPage, practiceOf, questionPage, resultPage } from "./advice.js";
import { fact, keepFact, reading } from "./db.js";
import { newId } from "./ids.js";
import { loadFile } from "./speaker.js";
import { firstSheet, documentOf, nextSheet, sheetAt } from "./sheet.js";
import { afterKeeping, keep } from "./tapping.js";
import { answersFromScreen, evaluate, readRules } from "./triage.js";
import { voiceFor } from "./voice.js";

const RULES = new URL("../triage/rules.json", import.meta.url).href;
const NUMBERS = new URL("../escalation/emergency_numbers.json", import.meta.url).href;
const HERE = /^\/(?:w\/[^/]+\/)?wrong/;
const MAY = "report_symptoms";
const PATIENCE = 1_000; // ms for the phone to keep a report before its result is shown all the same

// What is on the screen: {about, rules, wearer, sheet, verdict, entry, told}; null before the first paint.
let now = null;
let root = null;
let painting = Promise.resolve();

// Paint the place, or bring what is painted up to date: a sync must not take the questions from under a thumb.
export function paint(main, place) {
  painting = painting.catch(() => {}).then(() => paintPlace(main, place));
  return painting;
}

async function paintPlace(main, { account, wearer = null }) {
  if (now && root?.isConnected && root.childElementCount && now.account === account) return hear();
  root = standIn(main);
  const about = await gather(account);
  const rules = readRules(await loadFile(RULES));
  now = { account, about, rules };
  const asked = new URLSearchParams(location.search);
  const whose = about.wearers.find((one) => one.id === wearer) ?? null;
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
  const { wearers, picked } = await known(account).catch(() => ({ wearers: [], picked: null }));
  const rows = (await loadFile(NUMBERS)).rows;
  const about = {
    wearers,
    voice: await voiceFor(wearers),
    countries: rows.map((row) => row.country),
    place: placeOf(rows, picked ?? practiceOf(wearers[0])?.country ?? null),
    onPlace(country) {
      about.place = placeOf(rows, country);
      keepFact("country", country).catch(() => {});
      show(now, { stay: true });
    },
  };
  return about;
}

async function known(account) {
  const rows = account ? await reading(({ wearers }) => wearers.all()) : [];
  const theirs = rows.filter((one) => one.account === account && practiceOf(one) && (one.may ?? [MAY]).includes(MAY));
  return { wearers: theirs, picked: await fact("country") };
}

function placeOf(rows, country) {
  const row = rows.find((one) => one.country === country);
  return { country, number: row?.verified ? row.number : null };
}

// Put a page on the screen: the first one, one of questions (`sheet`), or a result (`verdict`).
function show({ sheet = null, wearer = null, verdict = null, entry = null, told = null }, { stay = false } = {}) {
  Object.assign(now, { sheet, wearer, verdict, entry, told });
  const { about, rules } = now;
  const again = () => show({});
  const pages = verdict ? resultPage(about, rules, verdict, wearer, told, again)
    : sheet ? questionPage(about, rules, sheet, wearer, {
      next: (fields) => answer(sheet, wearer, fields),
      back: (fields) => show({ sheet: sheetAt(rules, fields, sheet, -1), wearer }),
      both: (lens) => show({ sheet: firstSheet(rules, "both", lens), wearer }),
      first: again,
    })
      : firstPage(about, (eyes, whose) => show({ sheet: firstSheet(rules, eyes), wearer: whose }));
  const open = stay && root.querySelector("details")?.open;
  root.replaceChildren(...pages.flat(Infinity).filter(Boolean));
  if (open) root.querySelector("details").open = true;
  entitle(verdict ? `urgency.${verdict.level}` : sheet ? `page.${sheet.page.id}` : null);
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
  const verdict = evaluate(answersFromScreen(sheet.shown, sheet.given, rules), rules, { oneEyeHoldsBoth: true });
  if (!wearer) return show({ verdict, told: { state: "stranger" } });
  const entry = entryOf(sheet, verdict, wearer);
  const saved = keep(wearer.id, entry).then(() => true, () => false);
  const soon = await Promise.race([saved, new Promise((resolve) => setTimeout(resolve, PATIENCE, false))]);
  show({ verdict, wearer, entry, told: { state: soon ? "saved" : "unsaved" } });
  if (!(await saved)) return undefined;
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

// What has become of the report on the screen, if there is one.
async function hear() {
  const { entry, told, wearer } = now;
  if (!entry) return;
  const row = await reading(({ entries }) => entries.get(entry.id)).catch(() => null);
  if (row === null) return;
  const state = row === undefined || row.state === "sent" ? "sent" : row.state === "rejected" ? "refused" : "saved";
  if (state === told.state || now.entry !== entry) return;
  const report = `/w/${wearer.id}/reports/${entry.id}`;
  show({ ...now, told: { state, said: row?.why?.said, report: navigator.onLine ? report : null } }, { stay: true });
}

// The shell's painter of Tonight: from what this phone keeps to the page, as templates/family/tonight.html paints it on
// the server, from the same view. Works without a network; says how old what it shows is.

import { figure } from "./band.js";
import { dayWord, timeAndDay } from "./dates.js";
import { isHalfTyped, keepUnfolded } from "./in_use.js";
import { light } from "./light.js";
import { h } from "./markup.js";
import { lookAgain, lookedAt } from "./look.js";
import { eyesOf, viewNow } from "./now.js";
import { lastOutcome } from "./pace.js";
import { ownVoice } from "./saying.js";
import { callPractice, levelMark, who } from "./shapes.js";
import { paintPlace } from "./shell.js";
import { loadFile } from "./speaker.js";
import { thumbLifted } from "./thumb.js";
import { tonightPage } from "./tonight_page.js";
import { tap, undo, ways, week } from "./tonight_taps.js";

const MINUTE = 60_000;
const FRESH = 5 * MINUTE; // no older, the page says nothing of its age
const SHORTCUTS = { in: "lenses_in", out: "lenses_out" };

let shown = null; // {address, says}: what stands in the shell
let ticking = null;
let turns = 0; // what was asked for last is what is painted, whichever is ready first

export async function paint(main, place) {
  const turn = ++turns;
  const voice = ownVoice();
  const { account, wearers, entries } = place.home;
  const theirs = Object.values(wearers)
    .filter((one) => one.account === account && one.tonight)
    .sort((one, other) => one.age - other.age || one.name.localeCompare(other.name));
  const asked = theirs.length === 1 && !place.wearer ? theirs[0] : theirs.find(({ id }) => id === place.wearer);
  if (!theirs.length || (place.wearer && !asked)) throw new Error("nothing is kept here of whom this page is about");
  const now = Date.now();
  const views = [];
  for (const one of asked ? [asked] : theirs) {
    const rows = Object.values(entries).filter((row) => row.wearer === one.id && row.account === account);
    views.push(viewNow(one, rows, await verdicts(rows, one, now), now));
  }
  await thumbLifted();
  if (turn !== turns) return;
  const [same, says] = [shown?.address === location.href && main.querySelector(".columns"), told(views)];
  if (same && shown.says === says && isHalfTyped(main)) return;
  const page = asked ? pageOf(voice, shortcut(views[0], place.hash), theirs.length > 1) : chooser(voice, views);
  const focused = main.contains(document.activeElement);
  const put = () => main.replaceChildren(...page.nodes);
  if (same) keepUnfolded(main, put);
  else put();
  main.parentElement.classList.toggle("two-columns", Boolean(asked));
  document.title = `${page.title} · ${voice.say("say.app")}`;
  light(views[0].wearer.zone, place.reader, now);
  around();
  if (focused) heading(main);
  shown = { address: location.href, says };
  ticking ??= setInterval(tick, MINUTE, main);
}

// What must be seen at once, whatever is being typed.
const told = (views) => JSON.stringify(views.map(({ answer, leave, action, alert, unsent }) => [answer, leave, action, alert, unsent]));

// The page of one wearer: {title, nodes}.
export function pageOf(voice, view, hasOthers = false) {
  const { say, day, number, clock } = voice;
  const page = tonightPage(view, voice);
  const { wearer, action, practice, alert } = view;
  const here = (path) => `/w/${wearer.id}/${path}`;
  const link = (path, key, style = "button") => h("a", { class: style, href: here(path) }, say(`say.${key}`));
  const may = (what) => view.may.includes(what);
  const writes = may("write_diary");
  const [nights, today] = [wearer.night_number, day(view.now)];
  const line = nights ? `${say("say.night_number", { number: number(nights) })} · ${today}` : today;
  const opens = practice.opens_at && h("p", { class: "quiet" }, say("say.they_open", { time: timeAndDay(voice, practice.opens_at, view.now) }));
  const isLens = ["lenses_in", "lenses_out"].includes(action.kind) && action.eyes.length > 0;
  const isIn = Object.values(view.lens).some(({ state }) => state === "in");

  const deed = isLens ? writes && [tap(voice, view, action.kind), ways(voice, view, action.kind, page.lastNight)]
    : action.kind === "sight" ? h("p", {}, link("sight", "say_sight", "button act great"))
      : ["do_not_wear", "ask_clinic"].includes(view.answer.wearer)
        && [h("p", {}, h("a", { class: "button act great", href: `tel:${practice.phone}` }, say("say.call", { practice: practice.name }))), opens];
  const diary = () => [
    view.week && week(voice, view),
    page.checkLine && h("p", { class: "aside" }, page.checkLine),
    h("div", { class: "row" }, action.kind !== "sight" && link("sight", "say_sight"), link(`diary/${view.night}`, "log_else")),
  ];
  const carer = () => [
    h("dl", {}, eyesOf(view.lens).map((eye) => [h("dt", {}, say(`eyes.${eye}`)), h("dd", {}, say(`say.lens_${view.lens[eye].state}`))])),
    h("p", {}, link("care", "care_steps")),
    callPractice(voice, practice),
  ];

  return {
    title: page.headline,
    nodes: [
      who(wearer, line, hasOthers && within(h("a", { class: "button others", href: "/tonight" }, say("say.others")))),
      age(voice, view),
      view.handover && h("p", { class: "aside" }, h("b", {}, say("say.handover")), " ", h("a", { class: "button", href: here("handover") }, say("say.read_it"))),
      alert && h("section", { class: "card" },
        levelMark(voice, alert.level, say(`urgency.${alert.level}`)),
        h("p", {}, page.alertLine),
        h("div", { class: "stack" }, link(`reports/${alert.report_id}`, "see_report"), isCut() && callPractice(voice, practice))),
      view.unsent && h("section", { class: "card" },
        levelMark(voice, view.unsent.level, say(`urgency.${view.unsent.level}`)),
        h("p", {}, h("b", {}, say("wrong.saved"))),
        h("div", { class: "stack" }, link(`reports/${view.unsent.id}`, "see_report"), callPractice(voice, practice))),
      view.look && may("report_symptoms") && lookAgain(view.look, say, voice, lookedAt(here("wrong"), view.look.eyes)),
      page.surprise && h("section", { class: "card" },
        h("h2", {}, page.surprise.heading),
        h("p", {}, h("b", {}, page.surprise.trouble)),
        h("ol", {}, page.surprise.steps.map((one) => h("li", {}, one))),
        callPractice(voice, practice), opens),
      h("div", { class: "columns" },
        h("section", {},
          h("h1", {}, page.headline),
          h("p", { class: "lead quiet" }, page.reason),
          page.eyeLines.map((one) => h("p", {}, h("b", {}, `${say(`eyes.${one.eye}`)}:`), ` ${one.answer}. `, h("span", { class: "quiet" }, one.reasons.join(" ")))),
          deed,
          writes && action.kind === "none" && isIn && [tap(voice, view, "lenses_out", ""), ways(voice, view, "lenses_out")],
          view.undo && undo(view, say("say.undo", { what: tapped(voice, view.undo), time: clock(view.undo.at) })),
          writes ? diary() : carer(),
          // What the days to come are like is a page of the server's; here are the ways to it.
          view.ahead && h("div", { class: "row" }, link("days", "days_that_matter"), view.ahead.is_new && link("first-weeks", "first_weeks")),
          view.asks.map((one) => h("div", { class: "aside" },
            h("p", {}, h("b", {}, `${day(one.night)}:`), ` ${say(`oddity.${one.code}`)}`),
            link(`diary/${one.night}`, "look_at_night")))),
        may("see_own_pages") && h("section", { class: "card" }, lasting(voice, view, page))),
    ].flat(Infinity).filter(Boolean),
  };
}

// How long sight should last: the drawing, what it is worth, and the same as a table.
function lasting(voice, view, page) {
  const { say, clock } = voice;
  const small = (words) => h("p", { class: "small quiet" }, words);
  const target = view.answer.target_at;
  const title = h("h2", {}, say("say.sight_lasts"));
  if (!view.curve) return [title, page.forecastLines.length ? page.forecastLines.map((one) => h("p", {}, one)) : h("p", {}, say("say.nothing_drawn"))];
  const eyes = eyesOf(view.curve.eyes);
  return [
    title,
    h("p", {}, page.holdsUntil ? say("say.good_until", { until: page.holdsUntil }) : say("say.good_unsure")),
    page.bands.map(([eye, shapes]) => figure(shapes, say(`eyes.${eye}`), say, (date) => dayWord(voice, date, view.now, true))),
    small(say("say.band_read")),
    page.certainty && target && h("dl", {},
      h("dt", {}, say("say.out_tonight", { time: timeAndDay(voice, target, view.now) })),
      h("dd", {}, h("b", {}, page.certainty))),
    view.age > FRESH && view.forecast && small(say("offline.forecast_as_of", { time: when(voice, view.forecast.as_of, view.now) })),
    page.forecastLines.map(small),
    h("details", { class: "more" },
      h("summary", {}, say("say.as_table")),
      h("table", {},
        h("caption", {}, say("say.table_of")),
        h("thead", {}, h("tr", {}, h("th", { scope: "col" }, say("say.when")), eyes.map((eye) => h("th", { scope: "col" }, say(`eyes.${eye}`))))),
        h("tbody", {}, page.rows.map((row) => h("tr", {},
          h("th", { scope: "row" }, `${dayWord(voice, row.at, view.now)} `, h("time", { datetime: row.at }, clock(row.at))),
          eyes.map((eye) => h("td", {}, row.eyes[eye]))))))),
  ];
}

// Several people on one phone: name and sign first, then what tonight is; the taps are on each one's own page.
function chooser({ say, ...rest }, views) {
  const title = say("say.whose");
  const cards = views.map((view) => {
    const { headline } = tonightPage(view, { say, ...rest });
    const card = h("a", { class: "button whose", href: `/w/${view.wearer.id}/tonight` }, who(view.wearer, headline));
    return h("div", { class: "stack" }, within(card));
  });
  return { title, nodes: [h("h1", {}, title), age({ say, ...rest }, views[0]), ...cards].filter(Boolean) };
}

// Within the shell there is nothing to fetch: another address, the same page.
export function within(link) {
  link.addEventListener("click", go);
  return link;
}

function go(event) {
  if (event.metaKey || event.ctrlKey || event.shiftKey) return;
  event.preventDefault();
  history.pushState(null, "", event.currentTarget.href + location.hash);
  dispatchEvent(new PopStateEvent("popstate"));
}

export const isCut = () => !navigator.onLine || lastOutcome() === "offline";
const when = (voice, instant, now) => `${voice.ago(Date.parse(now) - Date.parse(instant))} (${timeAndDay(voice, instant, now)})`;

// How old it is what this page knows, and that it is no matter to go on.
export function age(voice, view) {
  if (view.age <= FRESH && !isCut()) return null;
  return h("p", { class: "aside small" },
    isCut() && [h("b", {}, `${voice.say("offline.title")}.`), ` ${voice.say("offline.line")} `],
    voice.say("offline.as_of", { time: when(voice, view.fetched_at, view.now) }));
}

// The home screen's shortcut asks for one of the two taps, whatever the hour.
function shortcut(view, hash) {
  const kind = SHORTCUTS[hash];
  if (!kind || view.action.kind === kind) return view;
  const eyes = eyesOf(view.lens).filter((eye) => (kind === "lenses_in"
    ? view.lens[eye].state !== "in" && !["do_not_wear", "ask_clinic"].includes(view.answer.eyes[eye].answer)
    : view.lens[eye].state !== "out" && !view.leave.includes(eye)));
  return eyes.length ? { ...view, action: { kind, eyes } } : view;
}

function tapped({ say, has }, { kind, eyes }) {
  return say(has(`kind.${kind}.${eyes}`) ? `kind.${kind}.${eyes}` : `kind.${kind}`);
}

// What the rules say of reports that only this phone has. They are few, and mostly none: the rules load when needed.
export async function verdicts(rows, kept = null, now = Date.now()) {
  const reports = rows.filter(({ raw }) => raw.kind === "symptom_report");
  if (!reports.length) return {};
  const [{ readRules }, { byNow }] = await Promise.all([import("./triage.js"), import("./timers.js")]);
  const rules = readRules(await loadFile(document.documentElement.dataset.rules));
  return Object.fromEntries(reports.map(({ id, raw }) => {
    const { verdict, level, look } = byNow(raw, rules, kept, now);
    return [id, { ...verdict, level, look }];
  }));
}

function around() {
  for (const one of document.querySelectorAll(".around a")) {
    if (one.pathname === "/tonight") one.setAttribute("aria-current", "page");
  }
}

export function heading(main) {
  const title = main.querySelector("h1");
  title.tabIndex = -1;
  title.focus({ preventScroll: true });
}

// Time goes on: *now* moves, the evening comes. Never under somebody's thumb.
function tick(main) {
  const busy = main.querySelector("details[open]") || main.contains(document.activeElement);
  const here = main.querySelector(".columns, .whose");
  if (!busy && here && document.visibilityState === "visible") paintPlace().catch(console.warn);
}

// The shell's painter of the pages beside Tonight: sight, the diary, lens care, days that matter; and what keeps on
// this phone what their forms say, on the server's pages as well. A page that this phone can't paint says so (shell.js).

import { careNow, stuckClock } from "./care_now.js";
import { carePage } from "./care_page.js";
import { homeState, reading as stored, queueState } from "./db.js";
import { diaryNow, nightNow } from "./diary_now.js";
import { diaryPage, notePage } from "./diary_page.js";
import { daysPage } from "./days_page.js";
import { showProblem } from "./fields.js";
import { helpPage, stuckPage } from "./help_page.js";
import { isHalfTyped, keepUnfolded } from "./in_use.js";
import { light } from "./light.js";
import { h } from "./markup.js";
import { nightPage } from "./night_page.js";
import { viewNow } from "./now.js";
import { carry } from "./pace.js";
import { allWords, pagesVoice } from "./pages_voice.js";
import { readerOf } from "./saying.js";
import { inShell } from "./shell.js";
import { who } from "./shapes.js";
import { sightPage } from "./sight_page.js";
import { loadFile } from "./speaker.js";
import { afterKeeping, keep, postPlainly, undoable } from "./tapping.js";
import { thumbLifted } from "./thumb.js";
import { entriesOf } from "./told.js";
import { age, heading, verdicts } from "./tonight.js";
import { voiceFor } from "./voice.js";

const ROUTE = /^\/(?:w\/[^/]+\/)?(sight|note|days|diary|care)(?:\/(.+))?$/;
const TAB = { sight: "tonight", days: "tonight", note: "diary", diary: "diary", care: "care" };
const CARE = new URL("../regimen/care.json", import.meta.url).href;
const LONGEST_CARRIED = 24 * 3_600_000;
const PATIENCE = 2_500; // ms for the server to hear of it, before a page of the server's goes on

let turns = 0;
let shown = null; // {path, words, first}: what stands in the shell
let said = false; // what was typed is kept: the page may be painted anew

export async function paint(main, place) {
  const turn = ++turns;
  const path = location.pathname;
  const { home, reader } = place;
  const voice = await pagesVoice(reader?.hour_cycle);
  const theirs = Object.values(home.wearers)
    .filter((one) => one.account === home.account && one.tonight && one.pages)
    .sort((one, other) => one.age - other.age || one.name.localeCompare(other.name));
  const asked = place.wearer ? theirs.find(({ id }) => id === place.wearer) : theirs.length === 1 ? theirs[0] : null;
  if (!theirs.length || (place.wearer && !asked)) throw new Error("nothing is kept here of whom this page is about");
  const [, name] = ROUTE.exec(path);
  const rows = Object.values(home.entries).filter((row) => row.wearer === asked?.id && row.account === home.account);
  const page = asked ? await pageFrom(voice, asked, rows, location, theirs.length > 1) : chooser(voice, theirs, name);
  await thumbLifted();
  if (turn !== turns || path !== location.pathname) return;
  const root = h("div", {}, page.nodes);
  const same = shown?.path === path && shown.first === main.firstElementChild;
  if (same && !said && (isHalfTyped(main) || shown.words === root.textContent)) return;
  const focused = said || main.contains(document.activeElement);
  said = false;
  shown = { path, words: root.textContent, first: root.firstElementChild };
  const put = () => main.replaceChildren(...root.childNodes);
  if (same) keepUnfolded(main, put);
  else put();
  main.parentElement.classList.remove("two-columns");
  document.title = `${page.title} · ${voice.say("say.app")}`;
  light((asked ?? theirs[0]).tonight.wearer.zone, reader, Date.now());
  around(TAB[name]);
  if (focused) heading(main);
}

// The page of one wearer at this address: {title, nodes}. Throws where this phone does not have what it needs.
export async function pageFrom(voice, kept, rows, { pathname, search }, others = false, at = Date.now()) {
  const [, name, more] = ROUTE.exec(pathname);
  const now = viewNow(kept, rows, await verdicts(rows, kept, at), at);
  const old = age(voice, now);
  const { diary, care } = kept.pages;
  const writes = now.may.includes("write_diary");
  if (name === "sight" && writes) return sightPage(voice, now, old);
  if (name === "note" && writes) return notePage(voice, now, old);
  if (name === "days" && now.ahead?.all) return daysPage(voice, now, old);
  if (name === "diary" && diary && !more && !new URLSearchParams(search).has("weeks")) return diaryPage(voice, diaryNow(kept, rows, at), now, old, others);
  if (name === "diary" && diary && more) {
    const night = nightNow(kept, rows, more, at);
    if (night) return nightPage(voice, night, now, old);
  }
  if (name === "care" && care) {
    const page = await careOf(voice, kept, rows, now, { more, search, old, others, at });
    if (page) return page;
  }
  throw new Error(`nothing is kept here for ${pathname}`);
}

async function careOf(voice, kept, rows, now, { more, search, old, others, at }) {
  const { help, stuck: times } = await loadFile(CARE);
  const view = careNow(kept, rows, now, times, at);
  if (!more) return carePage(voice, view, help.map(({ id }) => id), old, others);
  const found = help.find(({ id }) => more === `help/${id}`);
  if (!found) return null;
  const safe = await voiceFor([kept], allWords);
  if (found.id !== "stuck") return helpPage(voice, safe, view, found, old);
  return stuckPage(voice, safe, view, found, view.stuck.length ? view.stuck : carried(view, search, times, at), old);
}

// The clock that rides in the address, for whoever keeps no diary.
function carried({ wearer }, search, times, at) {
  const asked = new URLSearchParams(search);
  const since = Date.parse(asked.get("since"));
  const known = ["both", "right", "left"].includes(asked.get("eyes")) && since <= at && at - since <= LONGEST_CARRIED;
  return known ? [stuckClock(asked.get("eyes"), since, times, wearer.zone, at)] : [];
}

function chooser({ say }, wearers, name) {
  const title = say("say.whose");
  const cards = wearers.map((one) => h("div", { class: "stack" }, h("a", { class: "button whose", href: `/w/${one.id}/${name}` }, who(one))));
  return { title, nodes: [h("h1", {}, title), ...cards] };
}

// A press on a form marked data-told: kept here first, then sent; then on to where the form leads.
export async function told(form, button) {
  const field = Object.fromEntries(new FormData(form));
  if (button?.name) field[button.name] = button.value;
  const { wearer, then } = form.dataset;
  const { raws, problem } = entriesOf(form, field, Date.now());
  if (problem) return refused(form, button, problem);
  if (raws[0].kind === "stuck_lens" && !(await keepsDiary(wearer))) return inShell() ? carryOn(field, raws[0]) : postPlainly(form, button);
  if (button) button.disabled = true;
  try {
    await keep(wearer, ...raws);
  } catch {
    return postPlainly(form, button);
  }
  said = !then;
  undoable(wearer, raws, form, button);
  const path = then ?? location.pathname;
  if (inShell()) {
    if (then) history.pushState(null, "", then);
    await afterKeeping();
    if (then) scrollTo(0, 0);
    return undefined;
  }
  await afterKeeping();
  const sent = carry().then(({ outcome }) => outcome === "done");
  const heard = await Promise.race([sent, new Promise((resolve) => setTimeout(resolve, PATIENCE, false))]);
  return location.assign(heard ? `${path}?saved=1` : path);
}

// A page of the server's lets the server say what is wrong, as without script.
async function refused(form, button, problem) {
  if (!inShell() && navigator.onLine) return postPlainly(form, button);
  const reader = readerOf(await stored(homeState));
  return showProblem(await pagesVoice(reader?.hour_cycle), form, problem);
}

async function keepsDiary(wearer) {
  const { wearers } = await stored(queueState);
  return (wearers[wearer]?.may ?? ["write_diary"]).includes("write_diary");
}

function carryOn({ said: what, eyes }, { at }) {
  history.pushState(null, "", what === "stuck" ? `${location.pathname}?${new URLSearchParams({ eyes, since: at })}` : location.pathname);
  said = true;
  dispatchEvent(new PopStateEvent("popstate"));
}

function around(tab) {
  for (const one of document.querySelectorAll(".around a")) {
    if (one.pathname === `/${tab}`) one.setAttribute("aria-current", "page");
    else one.removeAttribute("aria-current");
  }
}

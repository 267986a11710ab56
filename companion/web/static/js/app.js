// What every page of the family starts: the worker, the strip of what is not sent, taps kept on this phone, and in the
// shell the page itself. Wiring only. Without script, or with a database out of order, the pages work as they are.

import { fact, putAway, settleIn } from "./db.js";
import { wireLeaving } from "./leaving.js";
import { carry, keepPace } from "./pace.js";
import { watchLooks } from "./counting.js";
import { renew } from "./renew.js";
import { inShell, paintPlace } from "./shell.js";
import { onNews } from "./sync.js";
import { draw, heardOf, namesOf, wireTaps } from "./tapping.js";
import { makeStrip } from "./unsent.js";
import { ready } from "./saying.js";
import { watchThumb } from "./thumb.js";
import { tellZone } from "./zone_here.js";

const page = document.documentElement.dataset;

navigator.serviceWorker?.register("/sw.js", { scope: "/" }).then(overlooked).catch(() => {});

tellZone();
await start();

async function start() {
  const home = await ready();
  if (page.account) await settleIn(page.account);
  else if (new URLSearchParams(location.search).has("bye")) await putAway();
  makeStrip();
  wireTaps();
  wireLeaving(namesOf);
  keepPace(lookAgain);
  watchThumb();
  watchLooks();
  if (inShell()) {
    addEventListener("popstate", () => paintPlace());
    document.addEventListener("kept", () => paintPlace());
    await paintPlace(home);
  }
  await draw();
  let fresh = true; // what the first sync fetches, the server has just painted
  onNews(async (news) => {
    await heardOf(news);
    if (inShell() || news.sent || !fresh) await lookAgain();
  });
  await carry();
  fresh = false;
  if (await fact("emptied")) await import("./emptied.js").then(({ tell }) => tell());
  await draw();
  if (inShell()) await paintPlace();
}

// Bring the page up to date with what has come, and with the hour.
function lookAgain() {
  return inShell() ? paintPlace() : renew();
}

// A page that was on its way while the worker took over is left without one: it asks to be taken in.
async function overlooked() {
  const { active } = await navigator.serviceWorker.ready;
  if (!navigator.serviceWorker.controller) active.postMessage("claim");
}

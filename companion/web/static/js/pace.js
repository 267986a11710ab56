// When to sync: on opening, when the page is looked at again, when the network comes back, after a tap, and, while
// something waits, after growing pauses. What a sync is, is sync.js's.

import { owed, sync } from "./sync.js";

const PAUSES = [5_000, 15_000, 60_000, 300_000];

let tries = 0;
let timer = null;
let outcome = null;

export const lastOutcome = () => outcome;

export async function carry() {
  clearTimeout(timer);
  timer = null;
  const told = await sync();
  outcome = told.outcome;
  const waits = (outcome === "offline" || outcome === "trouble" || outcome === "busy") && (await owed()).length > 0;
  if (waits) timer ??= setTimeout(carry, pause()); // whoever waited for the same flight may have set it
  else tries = 0;
  return told;
}

// `then` follows each time that the page is looked at again: what it says may have been true an hour ago.
export function keepPace(then) {
  const again = () => startOver().then(then);
  addEventListener("online", again);
  addEventListener("pageshow", ({ persisted }) => persisted && again());
  document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && again());
}

// Ask the system to wake the worker when there is a network, should this page be gone by then.
export async function askForWaking() {
  try {
    const registration = await navigator.serviceWorker.ready;
    await registration.sync.register("companion");
  } catch { /* not every browser knows how, nor lets us */ }
}

function startOver() {
  tries = 0;
  return carry();
}

// Never in step with the neighbours' phones.
function pause() {
  const base = PAUSES[Math.min(tries, PAUSES.length - 1)];
  tries += 1;
  return base * (0.75 + Math.random() / 2);
}

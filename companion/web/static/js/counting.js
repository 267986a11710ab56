// Counts on the screen until an eye is to be looked at again. The page says when, by the clock of whoever painted it;
// time that has passed since is this device's, so that a clock that is wrong by an hour says nothing an hour early.
// A page cannot ring a closed phone: it asks for an alarm, and this only shows.

import { say } from "./saying.js";

const MINUTE = 60_000;
const IN_MINUTES = 90; // up to so many

// Count whatever appears in the page, whoever paints it.
export function watchLooks() {
  const main = document.getElementById("main");
  new MutationObserver(() => found(main)).observe(main, { childList: true, subtree: true });
  document.addEventListener("visibilitychange", () => main.querySelectorAll(".look[data-at]").forEach(show));
  found(main);
}

function found(main) {
  for (const look of main.querySelectorAll(".look[data-at]:not([data-began])")) {
    look.dataset.began = Date.now();
    show(look);
  }
}

function show(look) {
  if (!look.isConnected) return;
  const { at, now, began } = look.dataset;
  const left = Date.parse(at) - Date.parse(now) - (Date.now() - Number(began));
  const due = left <= 0;
  for (const one of look.querySelectorAll("[data-wait]")) one.hidden = due;
  look.querySelector("[data-due]").hidden = !due;
  const count = look.querySelector("[data-left]");
  count.hidden = due;
  if (due) return;
  const minutes = Math.ceil(left / MINUTE);
  count.textContent = minutes <= IN_MINUTES
    ? say("look.minutes", { num: minutes }) : say("look.hours", { num: Math.round(minutes / 60) });
  clearTimeout(look.timer);
  look.timer = setTimeout(show, left % MINUTE || MINUTE, look);
}

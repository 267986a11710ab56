// Bring a page that the server painted up to date after something was sent or heard, without losing the place. Owns
// when that may happen: only on pages that are read, and never over something half typed.

import { inUse } from "./in_use.js";
import { thumbLifted } from "./thumb.js";

const RENEWED = /^\/w\/[^/]+\/(?:tonight|diary|reports\/[^/]+)$/;

export async function renew() {
  if (!RENEWED.test(location.pathname) || isBusy()) return;
  const response = await fetch(location.pathname, { cache: "no-store" }).catch(() => null);
  if (!response?.ok || response.redirected) return;
  const fresh = new DOMParser().parseFromString(await response.text(), "text/html");
  const main = document.getElementById("main");
  if (fresh.documentElement.dataset.build !== document.documentElement.dataset.build) {
    location.reload(); // painted by a newer build: its styles and scripts belong with it
    return;
  }
  await thumbLifted();
  if (isBusy()) return;
  const focused = main.contains(document.activeElement);
  main.replaceChildren(...fresh.getElementById("main").childNodes);
  document.title = fresh.title;
  if (focused) {
    main.tabIndex = -1;
    main.focus({ preventScroll: true });
  }
}

// What a helper is being shown stays unfolded, too.
const isBusy = () => document.querySelector("dialog[open], #helper[open]") !== null || inUse(document.getElementById("main"));

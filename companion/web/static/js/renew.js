// Bring a page that the server painted up to date after something was sent or heard, without losing the place. Owns
// when that may happen: only on pages that are read, and over something half typed only if the page says another thing.

import { isHalfTyped, keepUnfolded } from "./in_use.js";
import { thumbLifted } from "./thumb.js";

const RENEWED = /^\/w\/[^/]+\/(?:tonight|diary|reports\/[^/]+)$/;

export async function renew() {
  if (!RENEWED.test(location.pathname)) return;
  const response = await fetch(location.pathname, { cache: "no-store" }).catch(() => null);
  if (!response?.ok || response.redirected) return;
  const fresh = new DOMParser().parseFromString(await response.text(), "text/html");
  const [main, page] = [document.getElementById("main"), fresh.getElementById("main")];
  if (fresh.documentElement.dataset.build !== document.documentElement.dataset.build) {
    if (!isHalfTyped(main)) location.reload(); // painted by a newer build: its styles and scripts belong with it
    return;
  }
  await thumbLifted();
  if (document.querySelector("dialog[open]") || (isHalfTyped(main) && saysOf(main) === saysOf(page))) return;
  const focused = main.contains(document.activeElement);
  keepUnfolded(main, () => main.replaceChildren(...page.childNodes));
  document.title = fresh.title;
  if (focused) {
    main.tabIndex = -1;
    main.focus({ preventScroll: true });
  }
}

// What must be seen at once, whatever is being typed: the page's first word.
const saysOf = (part) => part.querySelector("h1")?.textContent;

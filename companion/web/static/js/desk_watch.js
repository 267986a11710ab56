// Ask the server every few seconds whether there is news, and say when there is no answer. Paints nothing.

const SEEN = 5_000;
const HIDDEN = 15_000;
const PATIENCE = 10_000;
const MISSES = 2; // one lost answer is a hiccup

// `on` hears of news(reply), of being lost() and back(), and of being out(): signed out, or no longer of the practice.
export function watch(address, on) {
  let cursor = "";
  let misses = 0;
  let timer = null;
  let asking = null;
  let over = false;

  async function ask() {
    clearTimeout(timer);
    if (over || asking) return;
    asking = new AbortController();
    const giveUp = setTimeout(() => asking?.abort(), PATIENCE);
    try {
      const answer = await fetch(address + cursor, { redirect: "manual", cache: "no-store", signal: asking.signal });
      over = answer.type === "opaqueredirect" || answer.status === 401 || answer.status === 403;
      if (over) return on.out();
      if (!answer.ok) throw new Error(`${answer.status}`);
      const reply = await answer.json();
      if (misses >= MISSES) on.back();
      misses = 0;
      if (reply.cursor !== cursor) await on.news(reply);
      cursor = reply.cursor;
    } catch {
      misses += 1;
      if (misses === MISSES) on.lost();
    } finally {
      clearTimeout(giveUp);
      asking = null;
      if (!over) timer = setTimeout(ask, document.hidden ? HIDDEN : SEEN);
    }
  }

  for (const what of ["online", "offline", "pageshow"]) addEventListener(what, ask);
  document.addEventListener("visibilitychange", () => document.hidden || ask());
  return ask();
}

// What must be known before the page is seen: whether this app is locked, and whether the window is another app's.
// A classic script that the page waits for. It keeps private things out of sight and leaves the rest to lock.js and
// inside.js. The ways to help and to a sign-in stay open, whatever is locked.
//
// localStorage "lock" = {account, salt, rounds, hash, tries, shut, seen_at}; without it there is no lock.

(() => {
  const LOCK = "lock";
  const LONG = 5 * 60_000; // ms away
  const OPEN = /^\/(?:(?:wrong|sign-in|join|recover|pass)\b|w\/[^/]+\/(?:wrong|reports)\b)/;
  // What the windows of other apps call themselves; on a home screen an app has a window of its own.
  const INSIDE = /\bFBA[NV]\b|\bFB_IAB\b|\bInstagram\b|\bLine\/|\bMicroMessenger\b|\bWhatsApp\b|; wv\)/;
  const page = document.documentElement.dataset;

  // Whoever reads this page has shown a password since: the code of whoever was before counts no more.
  function isOver(lock) {
    if (page.account) return lock.account !== page.account;
    return location.pathname === "/sign-in" && new URLSearchParams(location.search).has("bye");
  }

  function look({ type }) {
    const was = page.locked;
    const lock = JSON.parse(localStorage.getItem(LOCK));
    if (!lock || isOver(lock)) {
      localStorage.removeItem(LOCK);
      delete page.locked;
    } else {
      const back = type === "start" || (type === "visibilitychange" && document.visibilityState === "visible");
      lock.shut ||= back && Date.now() - lock.seen_at > LONG;
      // Another tab's change is not answered with one of ours.
      if (type !== "storage") localStorage.setItem(LOCK, JSON.stringify({ ...lock, seen_at: Date.now() }));
      if (!lock.shut) delete page.locked;
      else page.locked = OPEN.test(location.pathname) || location.hash === "#wrong" ? "aside" : "all";
    }
    if (page.locked || was) import("./lock.js").then(({ show }) => show());
  }

  try {
    look({ type: "start" });
    for (const what of ["storage", "hashchange", "popstate", "pagehide", "locked"]) addEventListener(what, look);
    document.addEventListener("visibilitychange", look);
  } catch { /* a window without storage keeps nothing to lock */ }

  const own = navigator.standalone || matchMedia("(display-mode: standalone)").matches;
  if (!own && INSIDE.test(navigator.userAgent)) import("./inside.js").then(({ tell }) => tell());
})();

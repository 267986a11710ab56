// The service worker: keeps the public shell of one build (self.COMPANION, which the server writes above this) and
// nothing private, answers pages with it where there is no network, sends the queue when the system wakes it, and
// shows what is pushed.
// The server sends it with its modules as one classic script, since not every browser's workers know modules.
//
// A new build takes over at once: what is tapped and not sent lives in the database, which all builds share. The
// cache of the build before stays until the next one, since pages of it may still be open.

import { reading } from "./db.js";
import { owed, sync } from "./sync.js";
import { movePushed, openPushed, showPushed } from "./pushed.js";

const PREFIX = "companion ";
const MINE = PREFIX + self.COMPANION.build;
const SHELL = "/app";
const SLOW = 3_000; // ms for a page, before the shell stands in for it
const FAMILY = /^\/(?:$|app$|tonight|diary|care|wrong|w\/)/;
const ONE_REPORT = /^\/w\/[^/]+\/reports\/([^/]+)$/;
const KEPT = /^\/(?:static|words)\//;

self.addEventListener("install", (event) => {
  event.waitUntil(caches.open(MINE).then((cache) => cache.addAll(self.COMPANION.files)).then(() => self.skipWaiting()));
});

self.addEventListener("activate", (event) => {
  event.waitUntil(takeOver());
});

async function takeOver() {
  const builds = (await caches.keys()).filter((name) => name.startsWith(PREFIX) && name !== MINE);
  await Promise.all(builds.slice(0, -1).map((name) => caches.delete(name)));
  await self.registration.navigationPreload?.enable();
  await self.clients.claim();
}

self.addEventListener("message", (event) => {
  if (event.data === "claim") event.waitUntil(self.clients.claim());
});

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const url = new URL(request.url);
  if (url.origin !== self.location.origin) return;
  if (request.mode === "navigate") {
    event.respondWith(request.method === "GET" ? page(event, url) : sentForm(request));
  } else if (request.method === "GET" && KEPT.test(url.pathname)) {
    event.respondWith(caches.match(request, { ignoreVary: true }).then((found) => found ?? fetch(request)));
  }
});

// The shell opens from the cache; other pages from the network, and the shell stands in where that does not answer.
async function page(event, url) {
  const shell = await caches.match(SHELL, { cacheName: MINE, ignoreVary: true });
  if (shell && url.pathname === SHELL) return shell;
  const live = fromNetwork(event);
  if (!shell) return live;
  const late = new Promise((resolve) => {
    setTimeout(async () => { if (await isHere(url)) resolve(shell); }, SLOW);
  });
  return Promise.race([live, late]).catch(() => shell);
}

// Whether this phone can paint the page. A report that is sent is here no more: its page is worth waiting for.
async function isHere({ pathname }) {
  const report = ONE_REPORT.exec(pathname)?.[1];
  if (!report) return FAMILY.test(pathname);
  const row = await reading(({ entries }) => entries.get(report)).catch(() => null);
  return row?.state === "here";
}

async function fromNetwork(event) {
  return (await event.preloadResponse) ?? fetch(event.request);
}

// A form that this phone cannot keep for later: the page that it came from still holds what was typed.
async function sentForm(request) {
  try {
    return await fetch(request);
  } catch {
    return Response.redirect(`${SHELL}#not-sent`, 303);
  }
}

self.addEventListener("sync", (event) => {
  event.waitUntil(send());
});

// Failing asks the system to wake us again, later and later.
async function send() {
  if (!(await owed()).length) return;
  const { outcome } = await sync();
  if (outcome === "offline" || outcome === "trouble") throw new Error(outcome);
}

self.addEventListener("push", (event) => {
  event.waitUntil(showPushed(event.data).then(fetchNews));
});

// Windows that are open hear of it as of every sync.
async function fetchNews() {
  await sync().catch(() => {});
}

self.addEventListener("notificationclick", (event) => {
  event.waitUntil(openPushed(event.notification));
});

self.addEventListener("pushsubscriptionchange", (event) => {
  event.waitUntil(movePushed(event));
});

// The screen of a locked app: no name on it, a code to type, a way back in by signing in again. The code itself is
// kept nowhere, only a slow hash of it, on this phone alone. It keeps curious eyes out and is no encryption.
// Whether it is locked, early.js says; what "Something is wrong" needs is not covered.

import { putAway } from "./db.js";
import { h } from "./markup.js";
import { ready, say } from "./saying.js";

const LOCK = "lock";
const TRIES = 5;
const ROUNDS = 300_000;
export const DIGITS = { minlength: 4, maxlength: 6, pattern: "\\p{Nd}{4,6}", inputmode: "numeric", autocomplete: "off" };

let screen = null;
let title = null; // what the page would be called
const watch = new MutationObserver(entitle);

export const kept = () => JSON.parse(localStorage.getItem(LOCK));

// Set a code for whoever is at home on this phone.
export async function setCode(account, code) {
  const salt = hex(crypto.getRandomValues(new Uint8Array(16)));
  const hash = await hashOf(code, salt, ROUNDS);
  put({ account, salt, rounds: ROUNDS, hash, tries: 0, shut: false });
}

export const shutNow = () => put({ ...kept(), shut: true });

export const dropCode = () => put(null);

// Show the screen as it should stand now.
export async function show() {
  const { dataset } = document.documentElement;
  if (dataset.locked === "all") await Promise.all([ready(), drawnUp()]);
  if (dataset.locked !== "all") return leave();
  if (screen) return undefined;
  for (const open of document.querySelectorAll("dialog[open]")) open.close();
  screen = made();
  document.getElementById("main").after(screen);
  entitle();
  watch.observe(document.querySelector("title"), { childList: true });
  screen.querySelector("input, button").focus();
  return undefined;
}

function leave() {
  if (!screen) return;
  watch.disconnect();
  document.title = title;
  title = null;
  screen.remove();
  screen = null;
}

// A title may name a child or tell of tonight: it waits too.
function entitle() {
  const locked = `${say("lock.title")} · ${say("say.app")}`;
  if (document.title === locked) return;
  title = document.title;
  document.title = locked;
}

function made() {
  const out = kept().tries >= TRIES;
  const told = h("p", { role: "alert", class: "problem" }, out ? say("lock.out") : "");
  const again = h("button", { type: "button", class: out && "act great", onclick: () => signInAgain(told) }, say("lock.again"));
  const field = h("input", { id: "lock-code", type: "password", required: true, ...DIGITS });
  const form = h("form", { class: "stack", action: "/" },
    h("label", { for: field.id }, say("lock.ask")), field,
    h("button", { class: "act great" }, say("lock.open")));
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    tryCode(field, told);
  });
  return h("main", { class: "lock page" },
    h("h1", {}, say("lock.title")), told, !out && form, !out && h("p", { class: "quiet" }, say("lock.lost")), again,
    h("p", { class: "quiet" }, say("lock.wrong_open")));
}

async function tryCode(field, told) {
  if (field.disabled) return; // one try at a time
  field.disabled = true;
  const lock = kept();
  put({ ...lock, tries: lock.tries + 1 }); // counted before it is judged: closing the window wins no try
  const hash = await hashOf(field.value, lock.salt, lock.rounds);
  if (hash === lock.hash) {
    put({ ...lock, tries: 0, shut: false });
    return;
  }
  field.value = "";
  field.disabled = false;
  if (lock.tries + 1 >= TRIES) {
    leave();
    await show();
  } else {
    told.textContent = say("lock.wrong");
    field.focus();
  }
}

// Sign out as the page under Us does, and sign in: that forgets the code. What was not sent waits for the same person.
async function signInAgain(told) {
  const page = await fetch("/us", { cache: "no-store" }).catch(() => null);
  if (!page) {
    told.textContent = say("lock.again_later");
    return;
  }
  const us = new DOMParser().parseFromString(await page.text(), "text/html");
  const form = [...us.forms].find(({ action }) => new URL(action).pathname === "/sign-out");
  if (form) {
    form.hidden = true;
    document.body.append(document.adoptNode(form));
    form.submit();
  } else {
    await putAway(); // nobody is signed in any more
    dropCode();
    location.assign("/sign-in");
  }
}

function put(lock) {
  if (lock) localStorage.setItem(LOCK, JSON.stringify(lock));
  else localStorage.removeItem(LOCK);
  dispatchEvent(new Event("locked"));
}

async function hashOf(code, salt, iterations) {
  const bytes = (text) => new TextEncoder().encode(text);
  const key = await crypto.subtle.importKey("raw", bytes(latin(code)), "PBKDF2", false, ["deriveBits"]);
  const how = { name: "PBKDF2", hash: "SHA-256", salt: bytes(salt), iterations };
  return hex(new Uint8Array(await crypto.subtle.deriveBits(how, key, 256)));
}

// A digit is the same digit whichever row of keys it was typed on.
function latin(code) {
  return code.trim().replace(/[\u0660-\u0669\u06f0-\u06f9\uff10-\uff19]/g, (sign) => sign.charCodeAt(0) & 15);
}

const hex = (bytes) => Array.from(bytes, (one) => one.toString(16).padStart(2, "0")).join("");

const drawnUp = () => new Promise((resolve) => {
  if (document.readyState !== "loading") resolve();
  else document.addEventListener("DOMContentLoaded", resolve, { once: true });
});

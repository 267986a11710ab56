// Carries the queue to the server and the server's news to this phone, one flight at a time, in a page or in the
// worker. Offline is a normal state: it is an outcome, not an error. The rules of the queue are queue.js's.
//
// sync() resolves with {outcome, sent, refused, news, build}; outcome is one of
//   done        nothing is left to send or to fetch       nobody     no account is at home on this phone
//   offline     the server was not reached                trouble    it was, and could not take it now
//   signed_out  it wants a sign-in first                  busy       another page or the worker is at it
//   consent_due it wants the person to agree first

import { batch, isForGood, MOST, refuse, settle, stepBack, take, toHear, waiting } from "./queue.js";
import { changeQueue, keepFact, reading, writing } from "./db.js";
import { newId } from "./ids.js";

const PATIENCE = 30_000; // ms for one round trip
const LEASE = 60_000;
const LOCK = "companion sync";
const CHANNEL = "companion";
const RETRIED = ["offline", "trouble", "busy"]; // after a pause, by whoever called

let flight = null;
let onceMore = false;
let most = MOST;

export function sync() {
  if (flight) {
    onceMore = true; // what was added since the flight set off
    return flight;
  }
  flight = alone(rounds).finally(() => { flight = null; }).then((told) => (isDue(told) ? sync() : told));
  return flight;
}

const isDue = ({ outcome }) => onceMore && !RETRIED.includes(outcome);

// Call `listener(what)` whenever a page or the worker has changed what this phone keeps.
export function onNews(listener) {
  new BroadcastChannel(CHANNEL).onmessage = ({ data }) => listener(data);
}

export function spread(what) {
  const channel = new BroadcastChannel(CHANNEL);
  channel.postMessage(what);
  channel.close();
}

async function rounds() {
  const sum = { outcome: "done", sent: 0, refused: 0, news: 0 };
  for (let goOn = true; goOn; ) {
    onceMore = false;
    const told = await round();
    Object.assign(sum, { outcome: told.outcome, build: told.build ?? sum.build });
    for (const count of ["sent", "refused", "news"]) sum[count] += told[count] ?? 0;
    goOn = told.goOn || isDue(told);
  }
  if (sum.sent || sum.refused || sum.news) spread(sum);
  return sum;
}

// One request and what it means.
async function round() {
  const load = await pack();
  if (!load.account) return load.key ? byKey(load) : { outcome: "nobody" };
  const answer = await post(load);
  if (!answer) return { outcome: "offline" };
  if (answer.status === 401) return load.key ? byKey(load) : { outcome: "signed_out" };
  if (!isOurs(answer)) return inTrouble(load, answer);
  most = Math.min(MOST, most * 2);
  return received(load, answer.reply);
}

// Not some page from in front of the server.
const isOurs = ({ status, reply }) => status === 200 && Array.isArray(reply?.wearers);

// Read what to send and note, in the same transaction, that it is on its way.
async function pack() {
  const load = {};
  await changeQueue((state) => {
    const next = batch(state, most);
    Object.assign(load, { account: state.account, asked: next.wearers, ids: next.ids });
    return take(state, next.ids);
  });
  await writing(async ({ meta, entries }) => {
    load.device = (await meta.get("device"))?.value;
    if (!load.device) await meta.put({ name: "device", value: (load.device = newId()) });
    load.key = (await meta.get("device_key"))?.value;
    load.rows = await entries.all();
  });
  return load;
}

async function received(load, reply) {
  if (reply.device_key) await keepFact("device_key", { account: reply.account.id, key: reply.device_key });
  await keepFact("reader", reply.account);
  if (reply.emptied) await keepFact("emptied", reply.now); // before this phone's first tap since: emptied.js tells
  const told = { outcome: reply.consent_due ? "consent_due" : "done", build: reply.build, news: 0 };
  let left;
  await changeQueue((state) => {
    const settled = settle(state, load.asked, reply);
    told.news = settled.seen.length + settled.gone.length + settled.retold.length;
    left = waiting(settled.state).length;
    return settled;
  });
  count(told, load, reply);
  const moved = told.sent + told.refused > 0;
  told.goOn = reply.wearers.some((one) => one.more) || (left > 0 && moved);
  if (left > 0 && !moved && told.outcome === "done") told.outcome = "trouble";
  return told;
}

// The sign-in is over: reports of trouble still go, by the key that it left; all else waits for the next one.
async function byKey(load) {
  const reports = toHear(load.rows, load.key.account);
  if (!reports.length) return { outcome: load.account ? "signed_out" : "nobody" };
  const wearers = {};
  const sent = reports.slice(0, most);
  for (const row of sent) (wearers[row.wearer] ??= { cursor: 0, entries: [] }).entries.push(row.raw);
  const ids = sent.map((row) => row.id);
  await changeQueue((state) => take(state, ids));
  const answer = await post({ ...load, asked: wearers, ids }, load.key.key);
  if (!answer) return { outcome: "offline" };
  const told = { outcome: "signed_out" };
  if (answer.status === 401 || answer.status === 403) return told;
  if (!isOurs(answer)) return inTrouble({ ids }, answer);
  most = Math.min(MOST, most * 2);
  await changeQueue((state) => settle(state, wearers, answer.reply));
  count(told, { ids }, answer.reply);
  told.goOn = reports.length > sent.length && told.sent + told.refused > 0;
  return told;
}

function count(told, load, reply) {
  const ours = new Set(load.ids);
  const named = (list) => (list ?? []).filter((one) => ours.has(one.id ?? one)).length;
  told.sent = reply.wearers.reduce((sum, one) => sum + named(one.accepted), 0);
  told.refused = reply.wearers.reduce((sum, one) => sum + named(one.rejected?.filter(isForGood)), 0);
}

// Something in this batch is more than the server takes, or breaks it: smaller batches find it, and the rest goes on.
// Only the server's own word refuses it for good. What stands in front of it knows nothing of entries.
async function inTrouble(load, { status, reply }) {
  const tooMuch = status === 400 || status === 413;
  const refused = tooMuch && reply?.error;
  if (refused && load.ids.length === 1) {
    await changeQueue((state) => refuse(state, load.ids, { code: refused }));
    return { outcome: "done", refused: 1, goOn: true };
  }
  if (status >= 500 || tooMuch) most = Math.max(1, Math.ceil(load.ids.length / 2));
  if (status >= 500 || (tooMuch && !refused)) await changeQueue((state) => stepBack(state, load.ids));
  return { outcome: "trouble", goOn: tooMuch && load.ids.length > 1 };
}

// Resolve with {status, reply}, or null if the server was not reached.
async function post(load, key = null) {
  const abort = new AbortController();
  const timer = setTimeout(() => abort.abort(), PATIENCE);
  try {
    const response = await fetch("/sync", {
      method: "POST",
      credentials: key ? "omit" : "same-origin",
      cache: "no-store",
      signal: abort.signal,
      headers: {
        "Content-Type": "application/json",
        "X-Companion": "sync",
        ...(key && { Authorization: `Device ${key}` }),
      },
      body: JSON.stringify({
        version: 1,
        device: load.device,
        device_key_id: load.key?.account === load.account ? load.key?.key.split(".")[0] : undefined,
        account: load.account ?? undefined,
        sent_at: new Date().toISOString(),
        zone: Intl.DateTimeFormat().resolvedOptions().timeZone,
        wearers: load.asked,
      }),
    });
    return { status: response.status, reply: await response.json().catch(() => null) };
  } catch {
    return null;
  } finally {
    clearTimeout(timer);
  }
}

// One page or worker at a time. Two at once would do no harm, only the same work twice.
async function alone(work) {
  if (navigator.locks) return navigator.locks.request(LOCK, work);
  const mine = newId();
  const free = await writing(async ({ meta }) => {
    const held = (await meta.get("lock"))?.value;
    if (held && held.until > Date.now()) return false;
    await meta.put({ name: "lock", value: { by: mine, until: Date.now() + LEASE } });
    return true;
  });
  if (!free) return { outcome: "busy", sent: 0, refused: 0, news: 0 };
  try {
    return await work();
  } finally {
    await writing(async ({ meta }) => {
      if ((await meta.get("lock"))?.value.by === mine) await meta.drop("lock");
    });
  }
}

// All that a sync would send, of whomever: reports that wait for nobody's sign-in as well.
export const owed = () => reading(async ({ meta, entries }) => {
  const [account, key] = await Promise.all([meta.get("account"), meta.get("device_key")]);
  const rows = await entries.all();
  const own = account ? rows.filter((row) => row.state === "here" && row.account === account.value) : [];
  return [...own, ...toHear(rows, key?.value.account).filter((row) => !own.includes(row))];
});

// How much of this account is not sent, to be named to whoever is at home.
export const unsent = () => reading(async ({ meta, entries }) => {
  const account = (await meta.get("account"))?.value;
  return (await entries.all()).filter((row) => row.state === "here" && row.account === account);
});

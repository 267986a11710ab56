// What this phone keeps, in IndexedDB: what was tapped here, what the server has shown, and a few facts of its own.
// Owns the stores and their shape; the rules of the queue are queue.js's.
//
//   entries  by id: rows of the queue          wearers  by id: the server's last words on a wearer
//   seen     by [wearer, seq]: the diary       meta     by name: account, device, device_key, lock, ...
//
// A change counts when its transaction is on the disk ("strict"), and only then does it resolve.

const NAME = "companion";
const VERSION = 1; // a new version may only add: pages and workers of two builds share the database
const KEYS = { entries: "id", seen: ["wearer", "seq"], wearers: "id", meta: "name" };

let opening = null;

export function openDatabase() {
  opening ??= new Promise((resolve, reject) => {
    const request = indexedDB.open(NAME, VERSION);
    request.onupgradeneeded = () => {
      for (const [store, keyPath] of Object.entries(KEYS)) {
        if (!request.result.objectStoreNames.contains(store)) request.result.createObjectStore(store, { keyPath });
      }
    };
    request.onsuccess = () => {
      const database = request.result;
      database.onversionchange = () => database.close();
      database.onclose = () => { opening = null; };
      resolve(database);
    };
    request.onerror = () => reject(request.error);
    request.onblocked = () => reject(new Error("an older page holds the database"));
  }).catch((error) => {
    opening = null;
    throw error;
  });
  return opening;
}

// Run `work(stores)` in one transaction; resolve with what it returned when all of it is kept, else keep nothing.
// `work` may await only what the stores' own methods return.
async function transact(mode, work) {
  const database = await openDatabase();
  const transaction = database.transaction(Object.keys(KEYS), mode, { durability: "strict" });
  const kept = new Promise((resolve, reject) => {
    transaction.oncomplete = resolve;
    transaction.onerror = () => reject(transaction.error);
    transaction.onabort = () => reject(transaction.error ?? new Error("put aside"));
  });
  kept.catch(() => {});
  const stores = Object.fromEntries(Object.keys(KEYS).map((name) => [name, promised(transaction.objectStore(name))]));
  let result;
  try {
    result = await work(stores);
  } catch (error) {
    try { transaction.abort(); } catch { /* it is over already */ }
    throw error;
  }
  await kept;
  return result;
}

const answered = (request) => new Promise((resolve, reject) => {
  request.onsuccess = () => resolve(request.result);
  request.onerror = () => reject(request.error);
});

const promised = (real) => ({
  get: (key) => answered(real.get(key)),
  all: (range) => answered(real.getAll(range)),
  put: (row) => answered(real.put(row)),
  drop: (key) => answered(real.delete(key)),
});

export const reading = (work) => transact("readonly", work);
export const writing = (work) => transact("readwrite", work);

// All rows of the diary of one wearer.
export const ofWearer = (wearer) => IDBKeyRange.bound([wearer], [wearer, []]);

export async function fact(name) {
  return reading(async ({ meta }) => (await meta.get(name))?.value);
}

export async function keepFact(name, value) {
  return writing(({ meta }) => (value === undefined ? meta.drop(name) : meta.put({ name, value })));
}

const byId = (rows) => Object.fromEntries(rows.map((row) => [row.id, row]));

// The state of the queue as it stands, for whoever is at home on this phone.
export async function queueState({ meta, entries, wearers }) {
  const [account, said, known] = await Promise.all([meta.get("account"), entries.all(), wearers.all()]);
  return { account: account?.value ?? null, entries: byId(said), wearers: byId(known) };
}

// The same with what the last sync said of its reader: all that a page is painted from, in one go.
export async function homeState(stores) {
  const [state, reader] = await Promise.all([queueState(stores), stores.meta.get("reader")]);
  return { ...state, reader: reader?.value ?? null };
}

// Read the queue, let `how(state)` say the next one, and keep the difference, all in one transaction. `how` may
// return {state, seen, gone} as queue.settle does.
export async function changeQueue(how) {
  return writing(async (stores) => {
    const before = await queueState(stores);
    const told = how(before);
    const { state, seen = [], gone = [] } = told.state ? told : { state: told };
    for (const name of ["entries", "wearers"]) {
      for (const id of Object.keys(before[name])) if (!(id in state[name])) await stores[name].drop(id);
      for (const [id, row] of Object.entries(state[name])) if (row !== before[name][id]) await stores[name].put(row);
    }
    for (const wearer of gone) await stores.seen.drop(ofWearer(wearer));
    for (const row of seen) await stores.seen.put(row);
    return state;
  });
}

// Somebody is at home: whoever was before leaves nothing but what they have not sent.
export async function settleIn(account) {
  await writing(async (stores) => {
    const before = (await stores.meta.get("account"))?.value ?? null;
    if (before === account) return;
    if (before) await forgetAll(stores, before);
    await stores.meta.put({ name: "account", value: account });
  });
}

// Put away all that this phone knows of the people it cared for. What was tapped and never sent stays, under the
// account that said it; `droppingUnsent` lets that go too, except reports of trouble.
export async function putAway({ droppingUnsent = false } = {}) {
  await writing(async (stores) => {
    const account = (await stores.meta.get("account"))?.value ?? null;
    if (account) await forgetAll(stores, account, droppingUnsent);
  });
}

async function forgetAll(stores, account, droppingUnsent = false) {
  let reports = 0;
  for (const row of await stores.entries.all()) {
    if (row.account !== account) continue;
    const isReport = row.raw.kind === "symptom_report";
    if (row.state !== "here" || (droppingUnsent && !isReport)) await stores.entries.drop(row.id);
    else reports += isReport;
  }
  for (const one of await stores.wearers.all()) await stores.wearers.drop(one.id);
  await stores.seen.drop(IDBKeyRange.lowerBound([]));
  await stores.meta.drop("account");
  // The key opens nothing; it can only carry a report that still waits here.
  if (!reports) await stores.meta.drop("device_key");
}

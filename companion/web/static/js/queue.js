// The rules of what waits on this phone and what has been told. Pure: no page, no database, no network, no clock.
//
// state = {account, entries: {id: row}, wearers: {id: what the server last said of a wearer, with its cursor}}
// row   = {id, wearer, account, raw, order, tried, back, state: "here" | "sent" | "rejected", why?}
//   here      the server has not said that it has it, as far as we know
//   sent      it has it, and has not shown it to us yet: kept for the eyes, never sent again
//   rejected  it will not have it as it is: kept in sight until a person puts it away
//
// Every function returns a new state and changes nothing that it was given. Whatever order replies come in, however
// often, a row leaves only when the server has named its id, and a cursor never moves past an entry not seen.

export const MOST = 200;
const HEAVIEST = 400_000; // characters of a batch; the server takes a megabyte
const NOT_YET = new Set(["sign_in_first", "consent_first"]); // refused for now, not for ever
const REPORT = "symptom_report";
const JUDGED = 20; // reports of which it is kept how the server judged them
const MADE_ANEW = new Set(["now", "as_of", "curve"]); // parts of a view that differ from minute to minute

export const blank = (account = null) => ({ account, entries: {}, wearers: {} });

const byOrder = (one, other) => one.order - other.order;

// Add what a tap said. The same id again changes nothing: a double tap is one entry.
export function add(state, wearer, raw) {
  if (state.entries[raw.id]) return state;
  const order = 1 + Math.max(0, ...Object.values(state.entries).map((row) => row.order));
  const row = { id: raw.id, wearer, account: state.account, raw, order, tried: false, back: 0, state: "here" };
  return { ...state, entries: { ...state.entries, [raw.id]: row } };
}

// Take a tap back: one that never left the phone just goes; else `withdrawal` follows it.
export function undo(state, id, wearer, withdrawal) {
  const row = state.entries[id];
  if (row && (row.state === "rejected" || !row.tried)) return { ...state, entries: without(state.entries, [id]) };
  const taken = Object.values(state.entries).some((one) => one.raw.payload.withdraws === id);
  return taken ? state : add(state, wearer, withdrawal);
}

// What to send next, reports first: {wearers: {id: {cursor, entries}}, ids}.
export function batch(state, limit = MOST) {
  const wearers = {};
  for (const [id, one] of Object.entries(state.wearers)) wearers[id] = { cursor: one.cursor, entries: [] };
  const ids = [];
  let weight = 0;
  for (const row of waiting(state)) {
    weight += JSON.stringify(row.raw).length;
    if (ids.length && (ids.length === limit || weight > HEAVIEST)) break;
    (wearers[row.wearer] ??= { cursor: 0, entries: [] }).entries.push(row.raw);
    ids.push(row.id);
  }
  return { wearers, ids };
}

// This account's unsent rows in the order in which they go. A row that keeps company with trouble steps back, and
// what speaks of another entry never overtakes it.
export function waiting(state) {
  const turn = (row) => {
    const target = state.entries[row.raw.payload.withdraws ?? row.raw.payload.replaces];
    return Math.max(row.back, target?.state === "here" ? target.back : 0) + (row.raw.kind === REPORT ? -1e9 : 0);
  };
  return Object.values(state.entries)
    .filter((row) => row.state === "here" && row.account === state.account)
    .sort((one, other) => turn(one) - turn(other) || byOrder(one, other));
}

// The reports of one account that wait, of all `rows`, in the order in which they go.
export const toHear = (rows, account) => rows
  .filter((row) => row.state === "here" && row.account === account && row.raw.kind === REPORT)
  .sort((one, other) => one.back - other.back || byOrder(one, other));

// Whether a refusal ends the waiting.
export const isForGood = ({ code }) => !NOT_YET.has(code);

// Note that these ids are on their way: from here on the server may have them, whatever we hear.
export function take(state, ids) {
  return change(state, ids, (row) => ({ ...row, tried: true }));
}

// Note that a batch met trouble at the server: its rows step behind the others.
export function stepBack(state, ids) {
  return change(state, ids, (row) => ({ ...row, back: row.back + 1 }));
}

// Note that the server will not have these at all.
export function refuse(state, ids, why) {
  return change(state, ids, (row) => (row.state === "here" ? { ...row, state: "rejected", why } : row));
}

// What a reply means. `asked` is the `wearers` of the request that it answers. Returns {state, seen, gone, retold}:
// rows of the diary as the server gave them, to be kept by [wearer, seq], after all that was seen of the wearers gone
// is put away; and the wearers of whose tonight it says something else than before.
export function settle(state, asked, reply) {
  let entries = { ...state.entries };
  const wearers = { ...state.wearers };
  const [seen, retold] = [[], []];
  const ours = reply.account?.id === state.account && !reply.consent_due;
  const lost = ours ? (reply.gone ?? []) : [];
  const gone = [...lost];
  const carried = new Set(Object.values(asked).flatMap((one) => one.entries.map(({ id }) => id)));
  for (const one of reply.wearers ?? []) {
    const known = wearers[one.id];
    const from = asked[one.id]?.cursor ?? 0;
    // A reply that starts beyond what we have seen (all was put away meanwhile) would leave a hole.
    const fits = ours && one.cursor !== undefined && from <= (known?.cursor ?? 0);
    const shown = fits && !one.more;
    for (const id of one.accepted ?? []) {
      if (!entries[id]) continue;
      if (shown) delete entries[id];
      else entries[id] = { ...entries[id], state: "sent", why: undefined };
    }
    for (const { id, code, said } of (one.rejected ?? []).filter(isForGood)) {
      const row = entries[id];
      if (row?.state === "here") entries[id] = { ...row, state: "rejected", why: { code, said } };
    }
    if (!fits) continue;
    for (const entry of one.entries ?? []) {
      seen.push({ ...entry, wearer: one.id });
      delete entries[entry.id];
    }
    // The house counts from lower than we asked: it starts afresh, from an older copy or for other rights.
    const afresh = one.cursor < from;
    if (afresh) gone.push(one.id);
    const cursor = afresh ? one.cursor : Math.max(known?.cursor ?? 0, one.cursor);
    const { entries: _, accepted: __, rejected: ___, more: ____, ...view } = one;
    view.reports = [...(known?.reports ?? []), ...(one.reports ?? [])].slice(-JUDGED);
    const newer = !known || Date.parse(reply.now) >= Date.parse(known.fetched_at);
    if (newer && saidBy(one.tonight) !== saidBy(known?.tonight)) retold.push(one.id);
    wearers[one.id] = newer ? { ...view, cursor, fetched_at: reply.now, account: state.account, skew_s: reply.skew_s } : { ...known, cursor, reports: view.reports };
  }
  for (const id of lost) {
    delete wearers[id];
    for (const row of Object.values(entries)) {
      if (row.wearer !== id || row.account !== state.account) continue;
      if (row.state === "here" && row.raw.kind === REPORT && !carried.has(row.id)) continue; // not heard yet
      if (row.state === "sent") delete entries[row.id];
      else entries[row.id] = { ...row, state: "rejected", why: row.why ?? { code: "gone" } };
    }
  }
  entries = without(entries, undone(entries));
  return { state: { ...state, entries, wearers }, seen, gone, retold };
}

const saidBy = (view) => JSON.stringify(view, (key, value) => (MADE_ANEW.has(key) ? undefined : value));

// What stands on the phone beside the server's words, oldest first: taken back is out of sight.
export function standing(state) {
  const rows = Object.values(state.entries).filter((row) => row.account === state.account);
  const taken = new Set(rows.filter((row) => row.state !== "rejected").map((row) => row.raw.payload.withdraws));
  return rows.filter((row) => row.raw.kind !== "withdrawal" && !taken.has(row.id)).sort(byOrder);
}

// A refused withdrawal of an entry that was itself refused has said all that it had to say; so has its target.
function undone(entries) {
  return Object.values(entries).flatMap((row) => {
    const target = entries[row.raw.payload.withdraws];
    return row.state === "rejected" && target?.state === "rejected" ? [row.id, target.id] : [];
  });
}

function change(state, ids, how) {
  const entries = { ...state.entries };
  for (const id of ids) if (entries[id]) entries[id] = how(entries[id]);
  return { ...state, entries };
}

function without(entries, ids) {
  const left = { ...entries };
  for (const id of ids) delete left[id];
  return left;
}

// One schedule of a bad network, run with the phone's own queue.js against the real house, which `post` reaches.
// Two phones tap, double-tap, take back, send, get cut off and are killed; requests and replies are lost, doubled,
// late and out of order. Returns what each phone tapped and holds in the end; throws where a tap is not on its phone
// exactly once at any moment.

export async function run(queue, { seed, wearer, accounts, now, steps }, post) {
  const chance = dice(seed);
  const pick = (list) => list[Math.floor(chance() * list.length)];
  const phones = accounts.map((account) => ({ which: account, disk: "", taps: [], ...fresh(account) }));
  const backs = new Set(); // the taps that take another back: the house takes back none of these
  let air = []; // [phone, {request} or {asked, reply}]

  function fresh(account) {
    return { state: queue.blank(account), seen: {} };
  }

  // What a database does: all of it or nothing, and plain values only.
  function keep(phone, state, seen = phone.seen) {
    const cursor = (one) => one.wearers[wearer]?.cursor ?? 0;
    if (cursor(state) < cursor(phone.state)) throw new Error(`seed ${seed}: a cursor went back`);
    phone.disk = JSON.stringify({ state, seen });
    Object.assign(phone, JSON.parse(phone.disk));
    for (const id of phone.taps) {
      const places = (id in phone.state.entries) + Object.values(phone.seen).filter((one) => one.id === id).length;
      if (places !== 1) throw new Error(`seed ${seed}: ${id} stands ${places} times on its phone`);
    }
  }

  function tap(phone) {
    const at = new Date(now + 1000 * Math.floor(chance() * 40_000)).toISOString();
    const kind = pick(["lenses_in", "lenses_out", "note"]);
    const payload = kind === "note" ? { text: "Well." } : { eyes: pick(["both", "right", "left"]) };
    const raw = { id: crypto.randomUUID(), kind, at, zone: "Europe/London", made_at: at, payload };
    phone.taps.push(raw.id);
    keep(phone, queue.add(phone.state, wearer, raw));
    if (chance() < 0.3) keep(phone, queue.add(phone.state, wearer, { ...raw }));
  }

  function takeBack(phone) {
    const id = pick(phone.taps.filter((one) => !backs.has(one)));
    if (!id) return;
    const at = new Date(now + 50_000_000).toISOString();
    const frame = { id: crypto.randomUUID(), kind: "withdrawal", at, zone: "Europe/London", made_at: at };
    const raw = { ...frame, payload: { withdraws: id } };
    const state = queue.undo(phone.state, id, wearer, raw);
    if (id in phone.state.entries && !(id in state.entries)) phone.taps = phone.taps.filter((one) => one !== id);
    if (raw.id in state.entries) {
      phone.taps.push(raw.id);
      backs.add(raw.id);
    }
    keep(phone, state);
  }

  function settle(phone, asked, reply) {
    const { state, seen, gone } = queue.settle(phone.state, asked, reply);
    if (gone.length) throw new Error(`seed ${seed}: nobody is gone`);
    keep(phone, state, { ...phone.seen, ...Object.fromEntries(seen.map((one) => [`${one.wearer} ${one.seq}`, one])) });
  }

  function pack(phone) {
    const { wearers, ids } = queue.batch(phone.state, pick([1, 2, queue.MOST]));
    keep(phone, queue.take(phone.state, ids));
    return wearers;
  }

  async function arrives(phone, asked) {
    const reply = await post(phone.which, asked);
    const fate = chance();
    if (fate < 0.5) settle(phone, asked, reply);
    if (fate > 0.4 && fate < 0.8) air.push([phone, { asked, reply }]); // late, or late once more
  }

  async function send(phone) {
    const asked = pack(phone);
    const fate = chance();
    if (fate < 0.15) return; // dropped
    if (fate < 0.35) air.push([phone, { request: asked }]); // late, and perhaps doubled
    if (fate > 0.25) await arrives(phone, asked);
  }

  async function land([phone, { request, asked, reply }]) {
    if (request) await arrives(phone, request);
    else settle(phone, asked, reply);
  }

  // The browser ends: what was kept is there when it starts again, and replies under way to it are not.
  function kill(phone) {
    Object.assign(phone, phone.disk ? JSON.parse(phone.disk) : fresh(phone.which));
    air = air.filter(([whose, { request }]) => whose !== phone || request);
  }

  for (let step = 0; step < steps; step += 1) {
    const phone = pick(phones);
    switch (pick(["tap", "tap", "send", "send", "land", "land", "back", "kill"])) {
      case "tap": tap(phone); break;
      case "send": await send(phone); break;
      case "land": if (air.length) await land(air.splice(Math.floor(chance() * air.length), 1)[0]); break;
      case "back": takeBack(phone); break;
      case "kill": kill(phone); break;
    }
  }
  while (air.length) await land(air.splice(Math.floor(chance() * air.length), 1)[0]);
  for (let quiet = 0; quiet < 2 * phones.length; ) {
    const phone = phones[quiet % 2];
    const asked = pack(phone);
    const reply = await post(phone.which, asked);
    settle(phone, asked, reply);
    const more = queue.waiting(phone.state).length || reply.wearers.some((one) => one.more);
    quiet = more ? 0 : quiet + 1;
  }
  return phones.map(({ taps, state, seen }) => ({
    taps,
    left: Object.values(state.entries),
    seen: Object.values(seen).sort((one, other) => one.seq - other.seq).map((one) => one.id),
    cursor: state.wearers[wearer]?.cursor,
  }));
}

// A small generator with a seed (mulberry32), so that a schedule can be run again.
function dice(seed) {
  let a = seed >>> 0;
  return () => {
    a = (a + 0x6d2b79f5) | 0;
    let t = Math.imul(a ^ (a >>> 15), 1 | a);
    t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t;
    return ((t ^ (t >>> 14)) >>> 0) / 4294967296;
  };
}

// Instants from what a clock on a wall showed, in the wearer's zone. Same rules as companion/common/moments.py:
// a time that a clock change skips counts as far past the gap, one that comes twice as the first.

const formats = new Map();
const HOUR = 3_600_000;

// What the clock on the wall in `zone` shows at `instant` (ms), as the ms of the same reading in UTC.
export function wallClock(instant, zone) {
  if (!formats.has(zone)) {
    formats.set(zone, new Intl.DateTimeFormat("en-u-ca-gregory-nu-latn", {
      timeZone: zone, hourCycle: "h23", year: "numeric", month: "numeric", day: "numeric",
      hour: "numeric", minute: "numeric", second: "numeric",
    }));
  }
  const part = {};
  for (const { type, value } of formats.get(zone).formatToParts(instant)) part[type] = Number(value);
  return Date.UTC(part.year, part.month - 1, part.day, part.hour, part.minute, part.second);
}

// The instant (ms) at which the wall clock in `zone` reads `reading` (ms as if in UTC).
export function atWallClock(reading, zone) {
  const ahead = (near) => wallClock(near, zone) - near;
  const before = ahead(reading - 24 * HOUR);
  const after = ahead(reading + 24 * HOUR);
  const earlier = reading - before;
  return ahead(earlier) === before || ahead(reading - after) !== after ? earlier : reading - after;
}

// The last instant (ms) up to `now` at which the wall clock in `zone` showed `clock` ("HH:MM"); NaN if it is none.
export function lastTime(clock, zone, now) {
  const found = /^([01]\d|2[0-3]):([0-5]\d)$/.exec(clock);
  if (!found) return NaN;
  const midnight = Math.floor(wallClock(now, zone) / (24 * HOUR)) * 24 * HOUR;
  const reading = midnight + (Number(found[1]) * 60 + Number(found[2])) * 60_000;
  const today = atWallClock(reading, zone);
  return today <= now ? today : atWallClock(reading - 24 * HOUR, zone);
}

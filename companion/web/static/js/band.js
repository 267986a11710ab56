// The drawing of how sight holds and fades: shapes on a sheet of 360 by 178, as companion/web/band.py has them, and
// the drawing itself. Better sight is higher; time runs with the reading direction.

import { dateOf, reading } from "./dates.js";
import { h, svg } from "./markup.js";

const HOUR = 3_600_000;
const DAY = 24 * HOUR;
const [WIDTH, HEIGHT, TOP, FLOOR] = [360, 178, 20, 148];
const [BEST, WORST] = [-0.15, 1.05]; // logMAR; what lies beyond is drawn at the edge
const TABLE_HOURS = [8, 13, 18, 22];
const LEAST_OF_A_DAY = 50; // of the sheet, to be named

const share = (value, from, to) => Math.min(Math.max((value - from) / (to - from), 0), 1);
const tenth = (value) => Math.round(value * 10) / 10;

// The shapes of one eye of a curve.
export function draw(curve, eye, rtl) {
  const start = Date.parse(curve.from);
  const end = Date.parse(curve.to);
  const across = (ms) => tenth(WIDTH * (rtl ? 1 - share(ms, start, end) : share(ms, start, end)));
  const x = (iso) => across(Date.parse(iso));
  const y = (logmar) => tenth(TOP + (FLOOR - TOP) * share(logmar, BEST, WORST));
  const times = curve.times.map(x);
  const line = (part) => curve.eyes[eye][part].map((value, n) => `${times[n]},${y(value)}`);
  const nights = curve.nights.filter(({ eyes }) => eyes.includes(eye))
    .map(({ from, to }) => [x(from), x(to)].sort((one, other) => one - other));
  return {
    fan: [...line("p05"), ...line("p95").reverse()].join(" "),
    middle: line("p50").join(" "),
    enoughY: y(curve.target),
    nowX: x(curve.now),
    nights: nights.filter(([low, high]) => high > low).map(([low, high]) => [low, tenth(high - low)]),
    checks: curve.checks.filter((one) => one.eye === eye && Date.parse(one.at) >= start && Date.parse(one.at) <= end)
      .map(({ at, logmar }) => [x(at), y(logmar)]),
    days: daysOf(curve, across),
    startX: rtl ? WIDTH : 0,
    endX: rtl ? 0 : WIDTH,
  };
}

// Each day at its noon, or where it is cut off, provided that enough of it is seen.
function daysOf({ from, to }, across) {
  const offset = reading(from) - Date.parse(from);
  const [start, end] = [reading(from), Date.parse(to) + offset];
  const days = [];
  for (let day = Date.parse(from.slice(0, 10)); day <= Date.parse(to.slice(0, 10)); day += DAY) {
    const [dawn, dusk] = [Math.max(start, day), Math.min(end, day + DAY - 60_000)].map((ms) => across(ms - offset));
    if (Math.abs(dusk - dawn) >= LEAST_OF_A_DAY) days.push({ x: tenth((dawn + dusk) / 2), day: dateOf(day) });
  }
  return days;
}

// The same as rows: the curve at a few hours of each day, on the clock that its start is written in.
export function table(curve) {
  const moments = curve.times.map((one) => Date.parse(one));
  const offset = reading(curve.times[0]) - moments[0];
  const nearest = (ms) => moments.reduce((best, one, n) => (Math.abs(one - ms) < Math.abs(moments[best] - ms) ? n : best), 0);
  const wanted = new Set();
  for (let day = Date.parse(curve.times[0].slice(0, 10)); day - offset <= moments.at(-1); day += DAY) {
    for (const hour of TABLE_HOURS) {
      const ms = day + hour * HOUR - offset;
      if (moments[0] <= ms && ms <= moments.at(-1)) wanted.add(nearest(ms));
    }
  }
  return [...wanted].sort((one, other) => one - other).map((n) => ({
    at: curve.times[n],
    eyes: Object.fromEntries(Object.entries(curve.eyes).map(([eye, { p05, p95 }]) => [eye, { p05: p05[n], p95: p95[n] }])),
  }));
}

// One eye's sheet. `say` names things, `dayName(date)` the days below.
export function figure(shapes, title, say, dayName) {
  const text = (name, x, y, words) => svg("text", { class: name, x, y }, words);
  return h("figure", { class: "band" },
    h("figcaption", {}, title),
    svg("svg", { viewBox: `0 0 ${WIDTH} ${HEIGHT}`, role: "img", "aria-label": say("say.band_label", { eye: title }) },
      shapes.nights.map(([x, width]) => svg("rect", { class: "night", x, y: TOP, width, height: FLOOR - TOP })),
      svg("polygon", { class: "fan", points: shapes.fan }),
      svg("polyline", { class: "middle", points: shapes.middle }),
      svg("line", { class: "enough", x1: 0, x2: WIDTH, y1: shapes.enoughY, y2: shapes.enoughY }),
      svg("line", { class: "now", x1: shapes.nowX, x2: shapes.nowX, y1: 16, y2: FLOOR }),
      shapes.checks.map(([cx, cy]) => svg("circle", { class: "check", cx, cy, r: 4.5 })),
      text("here middle-of", shapes.nowX, 12, say("say.now")),
      text("beside", shapes.startX, 32, say("sight.sharp")),
      text("beside end-of", shapes.endX, shapes.enoughY - 5, say("say.good_enough")),
      text("beside", shapes.startX, 144, say("sight.blurred")),
      shapes.days.map(({ x, day }) => text("middle-of", x, 168, dayName(day)))));
}

// Shapes and small pieces that recur, as templates/parts has them: whom a page is about, how urgent a report is, whom
// to call. Values in, elements out.

import { h, svg } from "./markup.js";

const OUTLINES = {
  5: ["path", { d: "M13 3H27L37 13V27L27 37H13L3 27V13Z" }],
  4: ["path", { d: "M20 1 39 20 20 39 1 20Z" }],
  3: ["circle", { cx: 20, cy: 20, r: 17 }],
  2: ["rect", { x: 4, y: 4, width: 32, height: 32, rx: 5 }],
  1: ["path", { d: "M6 35H34" }],
};

// Whom it is about: the sign that the family picked, the name as it was given, a line below.
export function who(wearer, line = null, others = null) {
  return h("div", { class: "who" },
    h("span", { class: "mark", "aria-hidden": "true", translate: "no" }, markOf(wearer)),
    h("span", {}, h("b", { translate: "no" }, wearer.name), line && h("small", {}, line)),
    others);
}

// The shell has the signs drawn; without one, a letter.
function markOf({ mark, name }) {
  const drawn = mark?.length > 2 && document.getElementById(`mark-${mark}`);
  if (!drawn) return mark && mark.length <= 2 ? mark : name.slice(0, 1);
  return svg("svg", { class: "sign", viewBox: "0 0 24 24", focusable: "false" }, svg("use", { href: `#${drawn.id}` }));
}

// A level's number in its own outline; `word` stands beside it.
export function levelMark(voice, level, word) {
  const [tag, geometry] = OUTLINES[level];
  return h("span", { class: `level level-${level}` },
    svg("svg", { viewBox: "0 0 40 40", "aria-hidden": "true", focusable: "false" },
      svg(tag, { class: "shape", ...geometry }),
      svg("text", { class: "number", x: 20, y: 26 }, voice.number(level))),
    h("span", {}, h("span", { class: "for-ears" }, `${voice.say("say.level", { level })} `), word));
}

export function callPractice(voice, practice, great = false) {
  return practice && [
    h("a", { class: `button${great ? " act great" : ""}`, href: `tel:${practice.phone}` },
      voice.say("say.call", { practice: practice.name })),
    h("p", { class: "small quiet figures" }, h("bdi", { dir: "ltr", "data-as-typed": true }, practice.phone)),
  ];
}

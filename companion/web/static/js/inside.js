// For a window inside another app: in two drawings, how to get to the browser. What is saved in here stays in here,
// and no home screen takes it. Says it until it is put away; not where "Something is wrong" is open.

import { fact, keepFact } from "./db.js";
import { h, svg } from "./markup.js";
import { notice } from "./notice.js";
import { ready, say } from "./saying.js";

const HELP = /^\/(?:w\/[^/]+\/)?wrong/;
const FRAME = "M10 4h70a6 6 0 0 1 6 6v72H4V10a6 6 0 0 1 6-6zM4 22h82";

export async function tell() {
  await ready();
  const seen = await fact("inside_seen").catch(() => false);
  if (seen || HELP.test(location.pathname)) return;
  notice("inside", say("keeping.in_app_title"), [
    h("p", {}, say("keeping.in_app_why")),
    h("ol", {},
      h("li", {}, drawn(...menuClosed()), h("p", {}, say("keeping.in_app_menu"))),
      h("li", {}, drawn(...menuOpen()), h("p", {}, say("keeping.in_app_open")))),
  ], say("keeping.read"), () => keepFact("inside_seen", true).catch(() => {}));
}

// A window whose three dots are ringed, with a finger on its way there.
const menuClosed = () => [
  svg("path", { class: "line", d: `${FRAME}M14 38h36M14 50h30M14 62h24` }),
  dots(),
  svg("circle", { class: "here", cx: 75, cy: 13, r: 10 }),
  svg("path", { class: "line", d: "M66 48V32a4 4 0 0 1 8 0v12l8 3v14H66l-8-10q3-4 8 0z" }),
];

// The menu let down from the dots; its last line, with an arrow that leaves its box, is ringed.
const menuOpen = () => [
  svg("path", { class: "line", d: `${FRAME}M30 26h52v50H30zM38 37h30M38 48h24` }),
  dots(),
  svg("rect", { class: "here", x: 26, y: 55, width: 60, height: 19, rx: 5 }),
  svg("path", { class: "line", d: "M34 65h20M70 61h-6v9h9v-5M69 66l7-7m-5 0h5v5" }),
];

const dots = () => [8, 13, 18].map((cy) => svg("circle", { class: "dot", cx: 75, cy, r: 1.8 }));

const drawn = (...parts) => svg("svg", { viewBox: "0 0 92 86", "aria-hidden": "true" }, parts);

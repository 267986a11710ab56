// A notice above the page, about this phone or this browser and never about an eye: it stays until somebody has read
// it, takes no room from "Something is wrong" below, and is not there while that is open.

import { h } from "./markup.js";

// Put it there unless it stands there. `onRead()` notes that it was read; it goes once that is kept, lest it come back.
export function notice(name, title, children, read, onRead) {
  const id = `notice-${name}`;
  if (document.getElementById(id)) return;
  const heading = h("h2", { id: `${id}-title` }, title);
  const done = h("button", { type: "button", onclick: () => Promise.resolve(onRead()).finally(() => box.remove()) }, read);
  const box = h("section", { id, class: "notice", "aria-labelledby": heading.id }, heading, children, done);
  document.getElementById("main").before(box);
}

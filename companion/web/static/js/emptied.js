// What the browser took when it emptied this phone's storage: told on every page until somebody has read it. That it
// happened the server says (web/sync.py), which still knows the phone that kept something here before.

import { fact, keepFact } from "./db.js";
import { h } from "./markup.js";
import { notice } from "./notice.js";
import { say } from "./saying.js";

export async function tell() {
  if (!(await fact("emptied"))) return;
  const { wearer } = document.documentElement.dataset;
  notice("emptied", say("keeping.emptied"), [
    h("p", {}, say("keeping.emptied.how")),
    h("p", {}, h("a", { class: "button", href: wearer ? `/w/${wearer}/diary` : "/diary" }, say("keeping.emptied.look"))),
  ], say("keeping.read"), () => keepFact("emptied", undefined));
}

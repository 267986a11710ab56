// Signing out on this phone: what is not sent is named first, and the person says what becomes of it. Owns the
// question; the rest of what was kept goes when the server has said good-bye (app.js).

import { putAway } from "./db.js";
import { sync, unsent } from "./sync.js";
import { element, rowWords } from "./unsent.js";
import { say } from "./saying.js";

const PATIENCE = 5_000;
const ANSWERS = ["keep", "drop", "stay"];

export function wireLeaving(names) {
  document.addEventListener("submit", async (event) => {
    const form = event.target;
    if (new URL(form.action).pathname !== "/sign-out") return;
    event.preventDefault();
    try {
      await Promise.race([sync(), new Promise((resolve) => setTimeout(resolve, PATIENCE))]);
      const rows = await unsent();
      const answer = rows.length ? await ask(rows, await names()) : "keep";
      if (answer === "stay") return;
      if (answer === "drop") await putAway({ droppingUnsent: true });
    } catch {
      // The database is out of order: nothing there to ask about.
    }
    form.submit();
  });
}

function ask(rows, names) {
  const dialog = element("dialog", {});
  const heading = element("h2", { id: "leaving", textContent: say("leaving.heading") });
  dialog.setAttribute("aria-labelledby", heading.id);
  const list = element("ul", {});
  list.append(...rows.map((row) => element("li", { textContent: rowWords(row, names) })));
  const choices = ANSWERS.map((value) =>
    element("button", { type: "submit", value, textContent: say(`leaving.${value}`) }));
  choices[0].className = "act";
  const form = element("form", { method: "dialog", className: "stack" });
  form.append(...choices);
  dialog.append(heading, list, element("p", { textContent: say("leaving.how") }), form);
  document.body.append(dialog);
  return new Promise((resolve) => {
    dialog.addEventListener("close", () => {
      dialog.remove();
      resolve(dialog.returnValue || "stay");
    });
    dialog.showModal();
  });
}

// Signing out on this phone: what is not sent is named first, and the person says what becomes of it. Owns the
// question; the rest of what was kept goes when the server has said good-bye (app.js).

import { putAway } from "./db.js";
import { sync, unsent } from "./sync.js";
import { element, rowLine } from "./unsent.js";
import { say } from "./saying.js";

const PATIENCE = 5_000;
const ANSWERS = { keep: "signing_out.keep", drop: "signing_out.delete", stay: "say.back" };

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
  const heading = element("h2", { id: "leaving", textContent: say("signing_out.unsent", { num: rows.length }) });
  dialog.setAttribute("aria-labelledby", heading.id);
  const list = element("ul", {});
  list.append(...rows.map((row) => rowLine(row, names)));
  const choices = Object.entries(ANSWERS).map(([value, key]) =>
    element("button", { type: "submit", value, textContent: say(key) }));
  choices[0].className = "act";
  const form = element("form", { method: "dialog", className: "stack" });
  form.append(...choices);
  dialog.append(heading, list, element("p", { textContent: say("signing_out.deleted_note") }), form);
  document.body.append(dialog);
  return new Promise((resolve) => {
    dialog.addEventListener("close", () => {
      dialog.remove();
      resolve(dialog.returnValue || "stay");
    });
    dialog.showModal();
  });
}

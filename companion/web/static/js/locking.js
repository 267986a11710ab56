// Under Us: set a code for this phone, lock at once, or use none any more. What a code does is lock.js's.

import { h } from "./markup.js";
import { DIGITS, dropCode, kept, setCode, shutNow } from "./lock.js";
import { ready, say } from "./saying.js";

const { account } = document.documentElement.dataset;
const box = document.getElementById("locking");

if (account && window.crypto?.subtle) {
  await ready();
  draw();
  box.hidden = false;
}

function draw() {
  const button = (key, onclick) => h("button", { type: "button", onclick }, say(key));
  box.replaceChildren(
    h("h2", {}, say("lock.heading")),
    h("p", {}, say("lock.when"), " ", say("lock.wrong_open")),
    kept()
      ? h("div", { class: "stack" }, h("p", { role: "status" }, say("lock.is_set")),
        button("lock.now", shutNow), button("lock.off", () => { dropCode(); draw(); }))
      : asked(),
    h("p", { class: "quiet small" }, say("lock.note")));
}

// The digits are seen while they are set: nobody locks themselves out by a slip.
function asked() {
  const field = h("input", { id: "new-code", required: true, "aria-describedby": "new-code-told", ...DIGITS });
  const told = h("p", { id: "new-code-told", class: "hint" }, say("lock.digits"));
  const form = h("form", { class: "stack", action: "/" },
    h("label", { for: field.id }, say("lock.set")), told, field, h("button", {}, say("lock.set")));
  form.noValidate = true;
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    if (!field.checkValidity()) {
      told.textContent = say("lock.not_digits");
      told.className = "problem";
      field.focus();
      return;
    }
    form.querySelector("button").disabled = true;
    await setCode(account, field.value);
    draw();
    box.querySelector("button").focus();
  });
  return form;
}

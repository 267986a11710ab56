// Forms and their fields, as templates/parts/fields.html has them. What is marked data-told, told.js reads and keeps.

import { newId } from "./ids.js";
import { h } from "./markup.js";

export const hidden = (values) => Object.entries(values).map(([name, value]) => h("input", { type: "hidden", name, value }));

// A form about one wearer; `id` counts a double press once.
export function toldForm(wearer, told, path, { then = null, ...more }, ...children) {
  const where = { method: "post", action: `/w/${wearer.id}/${path}`, "data-told": told, "data-wearer": wearer.id };
  return h("form", { ...where, "data-then": then && `/w/${wearer.id}/${then}`, ...more },
    hidden({ id: newId(), zone: wearer.zone }), children);
}

export function text(name, label, { id = name, type = "text", hint = null, value = "", ...more } = {}) {
  const told = hint && `${id}-hint`;
  return h("div", { class: "field" },
    h("label", { for: id }, label),
    hint && h("p", { class: "hint", id: told }, hint),
    type === "area" ? h("textarea", { id, name, "aria-describedby": told, ...more }, value)
      : h("input", { id, name, type, value, "aria-describedby": told, ...more }));
}

// One question as radio buttons; `options` are [value, words] pairs.
export function choices(name, legend, options, chosen = null) {
  return h("fieldset", {}, h("legend", {}, legend), options.map((one) => choice(name, one, chosen)));
}

export function choice(name, [value, words], chosen = null) {
  return h("label", { class: "choice" }, h("input", { type: "radio", name, value, checked: value === chosen }), " ", h("span", {}, words));
}

export const eyeChoices = ({ say }) => ["both", "right", "left"].map((eyes) => [eyes, say(`eyes.${eyes}`)]);

// What is wrong with a form, above its fields and for ears; it takes the place of what was wrong before.
export function showProblem({ say }, form, { key, values }) {
  form.querySelector(".problems")?.remove();
  const box = h("div", { class: "problems", role: "alert", tabindex: -1 },
    h("h2", {}, say("pages.look_again")), h("p", {}, say(`problem.${key}`, values)), h("p", {}, say("pages.still_here")));
  form.prepend(box);
  box.focus();
}

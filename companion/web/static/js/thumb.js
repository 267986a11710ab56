// Whether a thumb rests on the page: what is painted then takes its button away before the press has become a click.

const CLICK = 50; // ms from the thumb's leaving to its click

let lifted = Promise.resolve();
let lift = () => {};

export function watchThumb() {
  addEventListener("pointerdown", () => { lift(); lifted = new Promise((resolve) => { lift = resolve; }); }, true);
  for (const end of ["pointerup", "pointercancel", "blur"]) addEventListener(end, () => setTimeout(lift, CLICK), true);
}

// Resolve as soon as nothing is being pressed.
export async function thumbLifted() {
  for (let seen = null; seen !== lifted; ) await (seen = lifted);
}

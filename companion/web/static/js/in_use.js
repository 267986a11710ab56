// What somebody is at work on when the page is painted anew: something half typed, which waits for them unless the page
// has something graver to say (its painter knows), and what they have unfolded, which stays so. Both until they press.

const FIELDS = "input:not([type=hidden]), textarea";

export const isHalfTyped = (main) => [...main.querySelectorAll(FIELDS)].some(
  (one) => (one.value !== one.defaultValue || one.checked !== one.defaultChecked) && !(one.form && isPressed(one.form)),
);

// Let `paint` change what stands in `main`, and unfold again what was unfolded.
export function keepUnfolded(main, paint) {
  const open = isPressed(main) ? [] : [...main.querySelectorAll("details[open] > summary")].map(nameOf);
  paint();
  for (const one of main.querySelectorAll("details > summary")) one.parentElement.open ||= open.includes(nameOf(one));
}

const isPressed = (part) => part.querySelector("button:disabled") !== null;

// On a page with many cards, the same words stand on each.
const nameOf = (summary) => `${summary.closest("[id]")?.id} ${summary.textContent}`;

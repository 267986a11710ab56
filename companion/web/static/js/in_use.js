// Whether somebody is at work on the page, so that nothing is painted over it: a form that they have unfolded, or
// something half typed; until it is pressed.

const FIELDS = "input:not([type=hidden]), textarea";

export const inUse = (main) => isUnfolded(main) || [...main.querySelectorAll(FIELDS)].some(isHalfTyped);

const isPressed = (part) => part.querySelector("button:disabled") !== null;

// Those that are unfolded from the start say so.
function isUnfolded(main) {
  const open = [...main.querySelectorAll("details[open]:not(.unfolded)")];
  return !isPressed(main) && open.some((one) => one.querySelector("form"));
}

function isHalfTyped(field) {
  const changed = field.value !== field.defaultValue || field.checked !== field.defaultChecked;
  return changed && !(field.form && isPressed(field.form));
}

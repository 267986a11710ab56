// Whether somebody is at work on the page, so that nothing is painted over it: a form that they have unfolded and not
// pressed yet, or something half typed.

export const inUse = (main) => [...main.querySelectorAll("details[open]:not(.unfolded)")].some(
  (one) => one.querySelector("form") && !one.querySelector("button:disabled"),
) || [...main.querySelectorAll("input, textarea")].some(
  (one) => one.type !== "hidden" && (one.value !== one.defaultValue || one.checked !== one.defaultChecked),
);

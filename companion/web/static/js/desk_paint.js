// Make a part of the page what the server has just painted, touching nothing that is the same: what has the focus keeps
// it, and what somebody looks at stays where it is. Rows are told apart by data-key.

export function paint(part, html) {
  const fresh = new DOMParser().parseFromString(`<div>${html}</div>`, "text/html").body.firstElementChild;
  const focused = part.contains(document.activeElement) ? document.activeElement : null;
  const row = focused?.closest("[data-key]")?.dataset.key;
  steadily(part, () => fill(part, fresh));
  if (focused && document.activeElement !== focused) refocus(part, focused, row);
}

// Change something above or in a part of the page; what somebody looks at in it stays where it is.
export function steadily(part, change) {
  const anchor = scrollY > 0 ? anchorOf(part) : null;
  const before = anchor?.getBoundingClientRect().top;
  const made = change();
  if (anchor?.isConnected) scrollBy({ top: anchor.getBoundingClientRect().top - before, behavior: "instant" });
  return made;
}

// The row under the pointer, or with the focus, else the first one in sight.
function anchorOf(part) {
  const rows = [...part.querySelectorAll("[data-key]"), ...part.children];
  const has = (what) => rows.find((row) => row.matches(what));
  return has(":hover") ?? has(":focus-within") ?? rows.find((row) => row.getBoundingClientRect().bottom > 0);
}

// Its button is gone, say: then what one does next with the same row, else the top of the list.
function refocus(part, focused, row) {
  const same = row && part.querySelector(`[data-key="${CSS.escape(row)}"]`);
  const next = focused.isConnected ? focused : same?.querySelector(".is-deed :is(a, button)") ?? same?.querySelector("a, button");
  (next ?? part.querySelector("[tabindex='-1']"))?.focus({ preventScroll: true });
}

function become(here, there) {
  if (here.nodeType !== Node.ELEMENT_NODE) {
    if (here.data !== there.data) here.data = there.data;
    return;
  }
  for (const { name } of [...here.attributes]) if (!there.hasAttribute(name)) here.removeAttribute(name);
  for (const { name, value } of there.attributes) if (here.getAttribute(name) !== value) here.setAttribute(name, value);
  fill(here, there);
}

function fill(here, there) {
  const rows = new Map([...here.children].filter(keyOf).map((one) => [keyOf(one), one]));
  let at = here.firstChild;
  for (const next of [...there.childNodes]) {
    const same = keyOf(next) ? rows.get(keyOf(next)) : alike(at, next) ? at : null;
    if (!same) here.insertBefore(document.importNode(next, true), at);
    else {
      if (same === at) at = at.nextSibling;
      else here.insertBefore(same, at);
      become(same, next);
    }
  }
  while (at) {
    const gone = at;
    at = at.nextSibling;
    gone.remove();
  }
}

function keyOf(node) {
  return node.dataset?.key;
}

function alike(one, other) {
  return one && one.nodeName === other.nodeName && !keyOf(one);
}

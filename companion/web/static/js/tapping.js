// A press on a form marked data-entry: kept on this phone first, shown at once, then sent; and Undo. Where this phone
// cannot keep it, the form posts as without script.

import { changeQueue, reading, queueState } from "./db.js";
import { newId } from "./ids.js";
import { askForWaking, carry, lastOutcome } from "./pace.js";
import { questionAfter } from "./question.js";
import { add, standing, undo, waiting } from "./queue.js";
import { entryOf, withdrawalOf } from "./taps.js";
import { paintStrip, UNDO_FOR } from "./unsent.js";
import { say } from "./saying.js";

const page = document.documentElement.dataset;
const pressed = new Map(); // what each id was used for on this page

let last = null; // {wearer, raws, form, button, until}: the tap that can be undone
let asked = null; // about that tap
let sent = false;

export function wireTaps() {
  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (!event.defaultPrevented && form.dataset.told) return tellLater(event, form, event.submitter);
    if (event.defaultPrevented || form.dataset.entry === undefined) return;
    const read = entryOf(form, event.submitter, Date.now());
    if (!read) return;
    event.preventDefault();
    press(form, event.submitter, read);
  });
}

// Forms of the pages beside Tonight say more than a tap: what reads them comes when it is needed.
function tellLater(event, form, button) {
  event.preventDefault();
  import("./pages.js").then(({ told }) => told(form, button)).catch(() => postPlainly(form, button));
}

async function press(form, button, { wearer, raw }) {
  const says = JSON.stringify([raw.kind, raw.payload, button?.name, button?.value]);
  if (pressed.get(raw.id) === says) return; // a double tap
  if (pressed.has(raw.id)) raw.id = newId(); // another button of the same form
  pressed.set(raw.id, says);
  if (button) button.disabled = true;
  try {
    await keep(wearer, raw);
  } catch {
    postPlainly(form, button);
    return;
  }
  undoable(wearer, [raw], form, button);
  afterKeeping();
}

// Offer to take back for a while what was just kept.
export function undoable(wearer, raws, form, button) {
  last = { wearer, raws, form, button, until: Date.now() + UNDO_FOR };
  asked = questionAfter(wearer, raws[0], Date.now());
  setTimeout(draw, UNDO_FOR);
}

// Write entries into the queue under whoever this page belongs to. Resolves when they are on the disk.
export async function keep(wearer, ...raws) {
  await changeQueue((state) => {
    if (!state.account || (page.account && page.account !== state.account)) throw new Error("somebody else's page");
    return raws.reduce((kept, raw) => add(kept, wearer, raw), state);
  });
}

// What follows every change of the queue by a person: show, then send.
export async function afterKeeping() {
  sent = false;
  document.dispatchEvent(new Event("kept"));
  await draw();
  navigator.storage?.persist?.();
  askForWaking();
  carry().then(draw);
}

export function heardOf(news) {
  if (news.sent) sent = true;
  return draw();
}

async function takeBack() {
  const { wearer, raws, form, button } = last;
  last = asked = null;
  await changeQueue((state) => raws.reduce((kept, raw) => undo(kept, raw.id, wearer, withdrawalOf(raw, Date.now())), state));
  if (button) button.disabled = false;
  if (form.elements.id) form.elements.id.value = newId();
  afterKeeping();
}

function answered() {
  asked = null;
  return draw();
}

async function putAside(id) {
  await changeQueue((state) => undo(state, id));
  draw();
}

// Paint the strip from the queue as it stands.
export async function draw() {
  const state = await reading(queueState);
  const names = namesIn(state);
  const id = last?.raws[0].kind !== "withdrawal" && last?.raws[0].id; // what was taken back is said anew, if need be
  const undoes = id && Date.now() < last.until && !document.querySelector(`.columns [data-withdraws="${id}"]`);
  paintStrip({
    rows: standing(state).filter((row) => row.state !== "sent"),
    names,
    said: statusOf(state),
    undoes: undoes ? id : null,
    asked,
    onUndo: takeBack,
    onDrop: putAside,
    onYes: answered,
  });
}

export const namesOf = async () => namesIn(await reading(queueState));

const namesIn = ({ wearers }) => Object.fromEntries(Object.values(wearers).map(({ id, name }) => [id, name]));

function statusOf(state) {
  if (waiting(state).length) {
    const waitsFor = { signed_out: "phone.sign_in_to_send", consent_due: "phone.agree_to_send" };
    return say(waitsFor[lastOutcome()] ?? "phone.saved_here");
  }
  return sent ? say("phone.sent") : "";
}

export function postPlainly(form, button) {
  if (button?.name) {
    const field = Object.assign(document.createElement("input"), { type: "hidden", name: button.name, value: button.value });
    form.append(field);
  }
  form.submit();
}

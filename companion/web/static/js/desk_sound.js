// Sounds of our own, made as they are needed: only where somebody has switched them on in this browser.

const KEY = "desk-sound";
const AGAIN = 6_000;
const SOON = 300;
// Seconds from the start, and hertz.
const NOTES = {
  urgent: [[0, 660], [0.18, 880], [0.5, 660], [0.68, 880], [1, 660], [1.18, 880]],
  once: [[0, 660], [0.22, 880]],
  lost: [[0, 660], [0.25, 440]],
};
const LENGTH = 0.17; // of a note [s]

let context = null;
let sounding = false;
let timer = null;
let hear = () => {};

for (const touch of ["pointerdown", "keydown"]) addEventListener(touch, () => isOn() && wake(), true);

// `heard(true)`: this browser holds the sound back until somebody has touched the page.
export function onSilence(heard) {
  hear = heard;
}

export function wireSound(button) {
  const [toOn, toOff] = button.children;
  const show = () => {
    toOn.hidden = isOn();
    toOff.hidden = !isOn();
  };
  button.addEventListener("click", () => {
    remember(!isOn());
    show();
    if (!isOn()) hear(false);
    else if (sounding) again();
    else play("once");
  });
  show();
}

// An alert is there that nobody has taken, or none is any more.
export function keepSounding(is) {
  if (is && !sounding) {
    sounding = true;
    again();
  }
  sounding = is;
  if (!is) clearTimeout(timer);
}

export function quiet() {
  keepSounding(false);
  context?.close();
  context = null;
}

export async function play(kind) {
  if (!isOn()) return;
  const ready = await Promise.race([wake(), pause(SOON)]);
  hear(!ready);
  if (!ready) return;
  notes(context, kind);
  document.dispatchEvent(new CustomEvent("sounded", { detail: kind }));
}

// Put the notes of one sound into a context's future.
export function notes(into, kind, at = into.currentTime) {
  for (const [after, pitch] of NOTES[kind]) {
    const start = at + after;
    const note = into.createOscillator();
    const loudness = into.createGain();
    note.type = "triangle";
    note.frequency.value = pitch;
    loudness.gain.setValueAtTime(0, start);
    loudness.gain.linearRampToValueAtTime(0.3, start + 0.02);
    loudness.gain.exponentialRampToValueAtTime(0.001, start + LENGTH);
    note.connect(loudness).connect(into.destination);
    note.start(start);
    note.stop(start + LENGTH);
  }
}

function again() {
  clearTimeout(timer);
  play("urgent");
  timer = setTimeout(again, AGAIN);
}

// Resolve to true once sounds can be heard; it may wait for a touch.
async function wake() {
  context ??= new AudioContext();
  await context.resume();
  hear(false);
  return true;
}

const pause = (ms) => new Promise((resolve) => { setTimeout(resolve, ms, false); });

function isOn() {
  try {
    return localStorage.getItem(KEY) === "on";
  } catch {
    return false;
  }
}

function remember(on) {
  try {
    if (on) localStorage.setItem(KEY, "on");
    else localStorage.removeItem(KEY);
  } catch { /* a browser without storage stays as it is */ }
}

// Tell of alerts that are new, to eyes and ears, and of trouble with the page itself. What was told is remembered in
// this tab, so that going from page to page tells nothing twice.

const KNOWN = "desk-known";
const { desk, person } = document.getElementById("watch").dataset;

// Return the alerts that nobody has taken and that were not told at this level before; `shown`: the page has just been
// painted with all of them, so there is nothing to tell.
export function tell(alerts, shown) {
  const known = knownHere();
  const fresh = alerts.filter(({ id, level, taken }) => !taken && !(known[id] >= level));
  for (const one of shown ? [] : fresh) {
    document.getElementById(one.level >= 4 ? "watch-cried" : "watch-said").append(lineOf(one));
  }
  for (const line of document.querySelectorAll("#watch [data-alert]")) {
    const { alert, level } = line.dataset;
    if (!alerts.some((one) => one.id === alert && String(one.level) === level && !one.taken)) line.remove();
  }
  keep(Object.fromEntries(alerts.map(({ id, level }) => [id, Math.max(level, known[id] ?? 0)])));
  return fresh;
}

// Show or take away one of the page's prepared words; `time` stands where they have room for one.
export function trouble(name, is, time = null) {
  const box = document.getElementById("watch-trouble");
  const there = box.querySelector(`[data-trouble="${name}"]`);
  if (!is) there?.remove();
  else if (!there) {
    const words = document.getElementById(`words-${name}`).content.cloneNode(true).firstElementChild;
    words.dataset.trouble = name;
    if (time !== null) words.querySelector("time").textContent = time;
    box.append(words);
  }
}

function lineOf({ id, level, said }) {
  const line = document.createElement("p");
  line.dataset.alert = id;
  line.dataset.level = level;
  const link = document.createElement("a");
  link.href = `${desk}/alerts/${id}`;
  link.textContent = said;
  line.append(link);
  return line;
}

function knownHere() {
  try {
    const kept = JSON.parse(sessionStorage.getItem(KNOWN));
    return kept?.person === person ? kept.levels : {};
  } catch {
    return {};
  }
}

function keep(levels) {
  try {
    sessionStorage.setItem(KNOWN, JSON.stringify({ person, levels }));
  } catch { /* without storage each page tells anew */ }
}

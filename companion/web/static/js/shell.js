// The shell's router: which module paints this address from what the phone keeps, and the honest page where none can.
// A painter is a module with `paint(main, place)`; place = {home, reader, wearer, hash}, home as db.homeState.

import { homeState, reading } from "./db.js";
import { element } from "./unsent.js";
import { light } from "./light.js";
import { readerOf, say } from "./saying.js";
import { zoneHere } from "./zone_here.js";

const PAINTERS = [
  [/^\/wrong/, "wrong"],
  [/^\/w\/([^/]+)\/wrong/, "wrong"],
  [/^\/w\/([^/]+)\/reports\/[^/]+$/, "wrong"],
  [/^\/w\/([^/]+)\/tonight$/, "tonight"],
  [/^\/(?:app|tonight)?$/, "tonight"],
  [/^\/w\/([^/]+)\/(?:sight|note|days|diary|care)(?:\/|$)/, "pages"],
  [/^\/(?:diary|care)$/, "pages"],
];
const ALWAYS = new Set(["wrong"]); // these need nobody at home
const AT_HAND = new Set(["tonight"]); // comes with this module, and lights the page as it paints it
const START = "/app";

export const inShell = () => place() !== null;

const place = () => document.getElementById("shell");

let lit = false;
let turns = 0; // where somebody went last is what is painted, whichever module comes first

// From what this phone keeps; `known` is that where it has just been read.
export async function paintPlace(known = null) {
  const turn = ++turns;
  const main = place();
  const hash = location.hash.slice(1);
  const home = known ?? await reading(homeState);
  const { account } = home;
  const reader = readerOf(home);
  const [found, name] = hash === "wrong" ? [[], "wrong"] : nameOf(location.pathname);
  if (turn !== turns) return undefined;
  if (!AT_HAND.has(name)) lightOnce(reader);
  if (hash === "not-sent") return paintNotice(main, "notice.not_sent");
  if (name && (account || ALWAYS.has(name))) {
    try {
      const painter = await import(`./${name}.js`);
      if (turn !== turns) return undefined;
      return await painter.paint(main, { home, reader, wearer: found[1] ?? null, hash });
    } catch (error) {
      console.warn(error); // the notice is for the family, this for whoever mends it
    }
  }
  lightOnce(reader);
  if (location.pathname === START && !hash) return location.replace(account ? "/tonight" : "/");
  return paintNotice(main, "notice.needs_network");
}

// By this phone's clock, until a painter knows the wearer's.
function lightOnce(reader) {
  if (!lit) light(zoneHere(), reader, Date.now());
  lit = true;
}

function nameOf(path) {
  for (const [pattern, name] of PAINTERS) {
    const found = pattern.exec(path);
    if (found) return [found, name];
  }
  return [[], null];
}

function paintNotice(main, key) {
  const again = element("button", { type: "button", textContent: say("notice.again") });
  again.addEventListener("click", () => (location.hash ? history.back() : location.reload()));
  main.replaceChildren(
    element("h1", { textContent: say(key) }),
    element("p", { textContent: say(`${key}.how`) }),
    again,
  );
  document.title = say(key);
}

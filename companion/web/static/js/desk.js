// Every page of the practice, while it is open: an alert that comes is told, counted in the title and, on request,
// sounded; the desk's list renews itself. Wiring only. Without script the pages work as they are.

import { paint, steadily } from "./desk_paint.js";
import { keepSounding, onSilence, play, quiet, wireSound } from "./desk_sound.js";
import { tell, trouble } from "./desk_tell.js";
import { watch } from "./desk_watch.js";
import { thumbLifted, watchThumb } from "./thumb.js";

const place = document.getElementById("watch").dataset;
const list = document.getElementById("desk-list");
const main = document.getElementById("main");
const tools = document.getElementById("desk-tools");
const title = document.title.replace(/^\([^)]*\) /, "");
const opened = new Date().toLocaleTimeString(document.documentElement.lang, { timeStyle: "short" });

let first = true;

watchThumb();
onSilence((held) => trouble("mute", held));
if (tools) {
  tools.hidden = false;
  wireSound(document.getElementById("sound"));
}

watch(`${place.news}&${list ? "" : "brief&"}cursor=`, {
  async news(reply) {
    if (reply.account !== place.person) { // somebody else has signed in in this browser
      location.reload();
      return;
    }
    document.title = reply.waiting ? `(${reply.waiting}) ${title}` : title;
    if (reply.build !== place.made) trouble("new", true);
    const fresh = steadily(list ?? main, () => tell(reply.alerts, first && list !== null));
    first = false;
    keepSounding(reply.alerts.some((one) => one.rings));
    if (fresh.length && !fresh.some((one) => one.rings)) play("once");
    if (reply.html) {
      await thumbLifted();
      paint(list, reply.html);
    }
    place.live = reply.clock;
  },
  lost() {
    trouble("lost", true, place.live ?? opened);
    play("lost");
  },
  back() {
    trouble("lost", false);
    trouble("back", true);
  },
  out() {
    quiet();
    for (const one of ["lost", "back", "mute", "new"]) trouble(one, false);
    trouble("out", true);
    if (!list) return;
    list.replaceChildren();
    tools.hidden = true;
    document.title = document.querySelector("#watch-trouble b").textContent;
  },
});

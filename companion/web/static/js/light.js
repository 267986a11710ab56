// How the shell's pages are lit: a bedroom stays dark.

const LAMP = [19, 7]; // from and until [h, local]: by lamp, whatever the device prefers

// By lamp in the evening and the night of a place, as companion/web/painting.py; what the reader picked stays.
export function light(zone, reader, now) {
  const pinned = reader?.theme;
  document.documentElement.className = (reader?.text_size ?? "usual") === "usual" ? "" : `text-${reader.text_size}`;
  const hour = Number(new Intl.DateTimeFormat("en-GB", { timeZone: zone, hour: "2-digit", hourCycle: "h23" }).format(now));
  const lit = ["lamp", "paper"].includes(pinned) ? pinned : hour >= LAMP[0] || hour < LAMP[1] ? "lamp" : "device";
  document.documentElement.dataset.light = lit;
  document.querySelector("meta[name=color-scheme]").content = { lamp: "dark", paper: "light" }[lit] ?? "light dark";
  const sheet = document.querySelector('link[href$="lamp.css"]');
  if (sheet) sheet.media = { lamp: "all", paper: "not all" }[lit] ?? "(prefers-color-scheme: dark)";
}

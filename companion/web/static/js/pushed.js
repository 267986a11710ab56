// What the worker does with a push: shows its words, and leads a tap to where the message points. The words come from
// the server, in the person's language, and are fit for a locked screen; nothing is added to them here. No picture
// either: it would come from the network, and a browser may wait for it before it shows the words.

export async function showPushed(data) {
  const told = readPushed(data);
  await self.registration.showNotification(told.title, {
    body: told.text,
    lang: told.language,
    dir: "auto",
    tag: told.about,
    renotify: true,
    requireInteraction: true,
    data: { path: told.path },
  });
}

// A window that shows the place already comes to the front; any other keeps what is being typed in it.
export async function openPushed(notification) {
  notification.close();
  const url = new URL(notification.data?.path ?? "/", self.location.origin);
  if (url.origin !== self.location.origin) return;
  const windows = await self.clients.matchAll({ type: "window", includeUncontrolled: true });
  const there = windows.find((one) => new URL(one.url).pathname === url.pathname);
  await (there ? there.focus() : self.clients.openWindow(url.href));
}

// The browser has made itself a new place for pushes: the server has to know.
export async function movePushed(event) {
  const again = event.newSubscription
    ?? (event.oldSubscription && await self.registration.pushManager.subscribe(event.oldSubscription.options));
  if (!again) return;
  const headers = { "Content-Type": "application/json", "X-Companion": "alerts" };
  const told = { subscription: again.toJSON(), instead_of: event.oldSubscription?.endpoint ?? null };
  await fetch("/us/alerts/on", { method: "POST", headers, body: JSON.stringify(told) });
}

// A browser must show something for every push, whatever it holds.
function readPushed(data) {
  const plain = { title: "The companion", text: "", path: "/", about: "companion", language: "en" };
  try {
    return { ...plain, ...data.json() };
  } catch {
    return plain;
  }
}

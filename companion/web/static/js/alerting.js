// Alerts on this device, under Us: the browser is asked, and its answer goes to the server. Refusing, failing and not
// knowing how are normal: each is said in words that the page holds already. Nothing here is needed for mail.

const box = document.getElementById("alerting");
const URLS = { on: "/us/alerts/on", off: "/us/alerts/off" };

show(await state());
document.getElementById("alerts-on").addEventListener("click", () => tried(switchOn));
document.getElementById("alerts-off").addEventListener("click", () => tried(switchOff));
document.getElementById("says-more").addEventListener("change", () => {
  if (box.dataset.state === "on") tried(switchOn);
});

async function state() {
  if (!("serviceWorker" in navigator && "PushManager" in window && "Notification" in window)) return "lacking";
  if (Notification.permission === "denied") return "blocked";
  const at = await navigator.serviceWorker.getRegistration("/");
  const taken = await at?.pushManager.getSubscription();
  return taken && Notification.permission === "granted" && "here" in box.dataset ? "on" : "off";
}

function show(now) {
  box.dataset.state = now;
  for (const one of box.querySelectorAll("[data-when]")) one.hidden = !one.dataset.when.split(" ").includes(now);
}

async function tried(deed) {
  const buttons = box.querySelectorAll("button, input");
  for (const one of buttons) one.disabled = true;
  try {
    show(await deed());
  } catch (error) {
    console.warn(error); // the words are for the person, this for whoever mends it
    show("failed");
  } finally {
    for (const one of buttons) one.disabled = false;
  }
}

async function switchOn() {
  const said = await Notification.requestPermission();
  if (said !== "granted") return said === "denied" ? "blocked" : "off";
  await navigator.serviceWorker.register("/sw.js", { scope: "/" });
  const { pushManager } = await navigator.serviceWorker.ready;
  const subscription = await subscribed(pushManager);
  const { checked } = document.getElementById("says-more");
  await tell(URLS.on, { subscription: subscription.toJSON(), says_more: checked });
  location.replace("/us/alerts?saved=1");
  return "on";
}

// A subscription that was made with another key than today's takes nothing from us: it makes room.
async function subscribed(pushManager) {
  const options = { userVisibleOnly: true, applicationServerKey: bytes(box.dataset.key) };
  try {
    return await pushManager.subscribe(options);
  } catch (error) {
    const old = await pushManager.getSubscription();
    if (!old) throw error;
    await old.unsubscribe();
    return pushManager.subscribe(options);
  }
}

async function switchOff() {
  const { pushManager } = await navigator.serviceWorker.ready;
  const subscription = await pushManager.getSubscription();
  if (subscription) {
    await tell(URLS.off, { endpoint: subscription.endpoint });
    await subscription.unsubscribe();
  }
  location.replace("/us/alerts?saved=1");
  return "off";
}

async function tell(url, told) {
  const headers = { "Content-Type": "application/json", "X-Companion": "alerts" };
  const answer = await fetch(url, { method: "POST", headers, body: JSON.stringify(told) });
  if (!answer.ok) throw new Error(`${url}: ${answer.status}`);
}

function bytes(text) {
  const plain = atob(text.replaceAll("-", "+").replaceAll("_", "/"));
  return Uint8Array.from(plain, (sign) => sign.charCodeAt(0));
}

// The server's pages of questions when the network goes away in their midst: what was answered so far goes on on the
// phone (wrong.js). Owns the moment of handing over; with a network the form goes to the server as without script.

const PATIENCE = 2_500; // ms for a sign of life

const form = document.querySelector("form[data-questions]");
form?.addEventListener("submit", async (event) => {
  event.preventDefault();
  const go = event.submitter?.value ?? "next";
  if (await reached()) return sendPlainly(go);
  try {
    const { goOn } = await import("./wrong.js");
    const { account, wearer } = document.documentElement.dataset;
    await goOn(document.getElementById("main"), { account, wearer }, [...new FormData(form)], go);
  } catch (error) {
    console.warn(error); // an incomplete phone: the browser says that there is no network, and keeps the page
    sendPlainly(go);
  }
  return undefined;
});

async function reached() {
  if (!navigator.onLine) return false;
  const signal = AbortSignal.timeout(PATIENCE);
  return fetch("/health", { method: "HEAD", cache: "no-store", signal }).then(() => true, () => false);
}

function sendPlainly(go) {
  form.append(Object.assign(document.createElement("input"), { type: "hidden", name: "go", value: go }));
  form.submit();
}

// "Lock" and Alt+L: the page is covered at once, and every other tab of this browser; then the service is told.

import { coverPage, covered, sayOnCover, uncoverIfSamePerson } from "./cover.js";

const TRY_AGAIN_MS = 3_000;
// What was typed goes out under the sign-in that typed it; a slow connection must not keep the service unlocked.
const SENDING_MS = 8_000;
const form = document.querySelector("form[data-lock]");
const tabs = new BroadcastChannel("vaslab lock");

if (form) {
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    lock();
  });
  document.addEventListener("keydown", (event) => {
    if (!event.altKey || event.ctrlKey || event.metaKey || event.code !== "KeyL") return;
    event.preventDefault();
    if (!covered()) lock();
  });
  // Another tab of this browser was locked, or opened again by its person.
  tabs.addEventListener("message", ({ data }) => {
    if (data === "locked") coverPage("locked");
    else if (covered()) uncoverIfSamePerson();
  });
}

function lock() {
  // A field that is left is saved.
  document.activeElement?.blur();
  const sending = [];
  document.dispatchEvent(new CustomEvent("locking", { detail: sending }));
  coverPage("locked", tellTheService(Promise.all(sending)));
  tabs.postMessage("locked");
  document.addEventListener("uncovered", () => tabs.postMessage("unlocked"), { once: true });
}

// Until the service knows, only the pages that stand open are covered.
async function tellTheService(sent) {
  await Promise.race([sent, new Promise((tooSlow) => setTimeout(tooSlow, SENDING_MS))]);
  for (;;) {
    const token = document.cookie.match(/(?:^|; )csrftoken=([^;]+)/)?.[1] ?? "";
    const headers = { Accept: "application/json", "X-CSRFToken": token };
    const answer = await fetch(form.action, { method: "POST", headers }).catch(() => undefined);
    if (answer && answer.status < 500) return;
    sayOnCover("No connection. This page is covered; it can be opened again when the connection is back.");
    await new Promise((later) => setTimeout(later, TRY_AGAIN_MS));
  }
}

// Covers the page when nobody has used it for a while, so that a patient's record does not stand open on an
// unattended desk.
//
// Someone who types without anything being sent is at the desk all the same; the service is told so.

import { coverPage, covered, whoIsHere } from "./cover.js";

const TELL_EVERY_MS = 60_000;
const { person, idleMinutes } = document.body.dataset;
const limitMs = Number(idleMinutes) * 60_000;

let lastUse = Date.now();
let lastTold = Date.now();

if (person && limitMs > 0) {
  for (const kind of ["keydown", "pointerdown", "input"]) {
    document.addEventListener(kind, used, { capture: true, passive: true });
  }
  // A sleeping machine stops timers; the check on return covers the page before it is seen.
  document.addEventListener("visibilitychange", coverWhenUnused);
  document.addEventListener("uncovered", () => (lastUse = lastTold = Date.now()));
  setInterval(coverWhenUnused, 5_000);
}

function used() {
  if (covered()) return;
  if (Date.now() - lastUse > limitMs) {
    coverWhenUnused();
    return;
  }
  lastUse = Date.now();
  if (Date.now() - lastTold > TELL_EVERY_MS) {
    lastTold = Date.now();
    whoIsHere().catch(() => undefined); // a lost connection is shown by whatever is sent next
  }
}

function coverWhenUnused() {
  if (Date.now() - lastUse > limitMs && !covered()) coverPage("unused");
}

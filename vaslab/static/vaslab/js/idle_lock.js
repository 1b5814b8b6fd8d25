// Covers the page when nobody has used it for a while, so that a patient's record does not stand open on an
// unattended desk. Nothing is thrown away: what was typed stays in the page underneath, and clocks run on.
//
// Someone who types without anything being sent is at the desk all the same; the service is told so.

const TELL_EVERY_MS = 60_000;
const { person, idleMinutes, stillHere } = document.body.dataset;
const limitMs = Number(idleMinutes) * 60_000;

let lastUse = Date.now();
let lastTold = Date.now();
let cover;

if (person && limitMs > 0) {
  for (const kind of ["keydown", "pointerdown", "input"]) {
    document.addEventListener(kind, used, { capture: true, passive: true });
  }
  // A sleeping machine stops timers; the check on return covers the page before it is seen.
  document.addEventListener("visibilitychange", coverWhenUnused);
  setInterval(coverWhenUnused, 5_000);
}

function used() {
  if (cover?.open) return;
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
  if (Date.now() - lastUse <= limitMs || cover?.open) return;
  cover ??= makeCover();
  cover.say("");
  document.querySelector("main").hidden = true;
  cover.showModal();
}

async function uncover() {
  let here;
  try {
    here = await whoIsHere();
  } catch {
    cover.say("No connection. Try again when it is back; what you typed is still here.");
    return;
  }
  if (here === null) {
    cover.say("You are not signed in yet. Sign in again in a new tab first.");
  } else if (String(here) !== person) {
    cover.say("Somebody else is signed in now. This page opens again for the person it was opened by.");
  } else {
    lastUse = lastTold = Date.now();
    document.querySelector("main").hidden = false;
    cover.close();
  }
}

async function whoIsHere() {
  const answer = await fetch(stillHere, { headers: { Accept: "application/json" }, cache: "no-store" });
  if (answer.status === 401) return null;
  if (!answer.ok) throw new Error(String(answer.status));
  return (await answer.json()).person;
}

function makeCover() {
  const dialog = document.createElement("dialog");
  dialog.className = "cover";
  dialog.setAttribute("aria-labelledby", "cover-heading");
  const heading = document.createElement("h2");
  heading.id = "cover-heading";
  heading.textContent = "Locked, because nobody used this page";
  const words = document.createElement("p");
  words.textContent = "What you typed is still here. If your sign-in has ended, sign in again in a new tab, then go on.";
  const problem = document.createElement("p");
  problem.setAttribute("role", "alert");
  const actions = document.createElement("div");
  actions.className = "actions";
  const go = document.createElement("button");
  go.type = "button";
  go.textContent = "Go on";
  go.addEventListener("click", uncover);
  const link = document.createElement("a");
  link.className = "button quiet";
  link.href = "/accounts/login/";
  link.target = "_blank";
  link.rel = "noopener";
  link.textContent = "Sign in again";
  actions.append(go, link);
  dialog.append(heading, words, problem, actions);
  dialog.addEventListener("cancel", (event) => event.preventDefault()); // Escape must not lift the cover
  dialog.say = (text) => {
    problem.textContent = text;
    problem.className = text ? "problem" : "";
  };
  document.body.append(dialog);
  return dialog;
}

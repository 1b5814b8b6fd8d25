// The cover over a page that must not stand open. Nothing is thrown away: what was typed stays in the page
// underneath, and clocks run on. It is lifted only for the person the page was opened by.

import { inWords, known, use } from "./passkeys.js";

const { person, stillHere, unlock } = document.body.dataset;
const WORDS = {
  unused: {
    heading: "Locked, because nobody used this page",
    words: "What you typed is still here. If your sign-in has ended, sign in again in a new tab, then go on.",
  },
  locked: {
    heading: "Locked",
    words: "What you typed is still here, and the clocks run on. It opens again for whoever locked it.",
  },
};

let cover;
let title;
let told;

export const covered = () => Boolean(cover?.dialog.open);

/**
 * Hides the page; `why` is a key of WORDS. A page that is covered already only changes its words. `service`
 * is the promise that the service knows: nothing is proved to it before.
 */
export function coverPage(why, service = Promise.resolve()) {
  cover ??= makeCover();
  told = service;
  cover.show(why);
  if (covered()) return;
  document.querySelector("main").hidden = true;
  // The title of a page may name the patient, and stands on the tab.
  title = document.title;
  document.title = "Locked · vaslab";
  cover.dialog.showModal();
}

/** Says something on the cover, if there is one. */
export const sayOnCover = (text) => cover?.say(text);

export async function whoIsHere() {
  const answer = await ask(stillHere);
  if (answer.status === 401) return null;
  if (!answer.ok) throw new Error(String(answer.status));
  return (await answer.json()).person;
}

/** Opens the page again if the same person is signed in and nothing is locked; else says why not. */
export async function uncoverIfSamePerson() {
  let here;
  try {
    here = await whoIsHere();
  } catch {
    cover.say("No connection. Try again when it is back; what you typed is still here.");
    return;
  }
  if (here === null) cover.say("You are not signed in yet. Sign in again in a new tab first.");
  else uncoverFor(here);
}

function uncoverFor(here) {
  if (String(here) !== person) {
    cover.say("Somebody else is signed in now. This page opens again for the person it was opened by.");
    return;
  }
  document.querySelector("main").hidden = false;
  document.title = title;
  cover.dialog.close();
  document.dispatchEvent(new Event("uncovered"));
  // Whatever waits for its person looks again who is here, as when the person comes back to the window.
  window.dispatchEvent(new Event("focus"));
}

async function prove(proof) {
  let answer;
  try {
    await told;
    answer = await ask(unlock, { method: "POST", body: new URLSearchParams(await proof()) });
  } catch (problem) {
    cover.say(problem.name === "TypeError" ? "No connection. Try again when it is back." : inWords(problem));
    return;
  }
  if (answer.status === 401) {
    coverPage("unused");
    cover.say("Your sign-in has ended meanwhile. Sign in again in a new tab, then go on.");
    return;
  }
  const said = await answer.json().catch(() => ({}));
  if (answer.ok) uncoverFor(said.person);
  else cover.say(said.problem ?? "That did not work. Try again.");
}

async function askDevice() {
  const answer = await ask(unlock);
  if (!answer.ok) return {};
  const { passkey } = await answer.json();
  if (!passkey) throw new DOMException("no passkey of this person", "NotAllowedError");
  return { credential: JSON.stringify(await use(passkey)) };
}

function ask(address, more = {}) {
  const token = document.cookie.match(/(?:^|; )csrftoken=([^;]+)/)?.[1] ?? "";
  const headers = { Accept: "application/json", "X-CSRFToken": token };
  return fetch(address, { headers, cache: "no-store", ...more });
}

function makeCover() {
  const dialog = element("dialog", { className: "cover" });
  dialog.setAttribute("aria-labelledby", "cover-heading");
  const heading = element("h2", { id: "cover-heading" });
  const words = element("p");
  const problem = element("p");
  problem.setAttribute("role", "alert");

  const form = element("form", { className: "field" });
  const label = element("label", { htmlFor: "cover-proof", textContent: "Your password, or the six digits" });
  const typed = element("input", { id: "cover-proof", type: "password", autocomplete: "current-password" });
  const proofs = element("div", { className: "actions" });
  const passkey = element("button", { type: "button", className: "quiet", textContent: "Use a passkey" });
  proofs.append(element("button", { textContent: "Unlock" }));
  if (known()) proofs.append(passkey);
  form.append(label, typed, proofs);
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    const text = typed.value;
    typed.value = "";
    prove(() => ({ typed: text }));
  });
  passkey.addEventListener("click", () => prove(askDevice));

  const ways = element("div", { className: "actions" });
  const go = element("button", { type: "button", textContent: "Go on" });
  go.addEventListener("click", uncoverIfSamePerson);
  const signIn = element("a", { className: "button quiet", href: "/accounts/login/", target: "_blank", rel: "noopener" });
  ways.append(go, signIn);

  dialog.append(heading, words, problem, form, ways);
  dialog.addEventListener("cancel", (event) => event.preventDefault()); // Escape must not lift the cover
  document.body.append(dialog);

  const say = (text) => {
    problem.textContent = text;
    problem.className = text ? "problem" : "";
  };
  const show = (why) => {
    heading.textContent = WORDS[why].heading;
    words.textContent = WORDS[why].words;
    form.hidden = why !== "locked";
    go.hidden = why === "locked";
    signIn.textContent = why === "locked" ? "Sign in as somebody else" : "Sign in again";
    say("");
  };
  return { dialog, say, show };
}

function element(name, facts = {}) {
  return Object.assign(document.createElement(name), facts);
}

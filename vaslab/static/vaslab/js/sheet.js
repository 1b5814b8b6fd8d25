// The exam sheet: goes from field to field, saves each as it is left, shows what the service makes of it.

import { Box } from "./box.js";
import { InflationClock, offsetFrom, startRestClock } from "./clocks.js";
import { watchForAnotherPatient } from "./other_patient.js";
import { Sending, WAY } from "./sending.js";
import { openVault } from "./waiting.js";

const sheet = document.getElementById("sheet");
const facts = sheet.dataset;
const offset = offsetFrom(facts.serverNow);
const clinicTime = new Intl.DateTimeFormat("en-GB", {
  hour: "2-digit",
  minute: "2-digit",
  timeZone: facts.timeZone || undefined,
});
const time = (date) => clinicTime.format(date);
const find = (id) => document.getElementById(id);

const boxes = [...sheet.querySelectorAll("[data-field]")].map(
  (place) => new Box(place, { send: (value) => sending.add(value), time, reasons: find("reasons") }),
);
const boxNamed = new Map(boxes.map((box) => [box.name, box]));
const vault = openVault({ person: facts.person, exam: facts.exam, keyUrl: facts.keyUrl });
const sending = new Sending({
  vault,
  saveUrl: facts.saveUrl,
  person: facts.person,
  answered,
  changed: showTheWay,
  stillMe: async () => (await whoIsSignedIn()) === facts.person,
});

sheet.classList.add("live");
watchForAnotherPatient(facts.patient, (there) => (find("other-patient").hidden = !there));
watchTheHeightOfWhatSticks();
const restClock = find("rest-clock");
if (restClock) startRestClock(restClock, offset);
const inflationClocks = new Map(
  [...sheet.querySelectorAll("[data-inflation-clock]")].map((place) => [
    place.dataset.inflationClock,
    new InflationClock(place),
  ]),
);
resumeInflationClocks();
resumeWhatWaited();
goToWhatIsNext();

// --- From field to field

sheet.addEventListener("keydown", (event) => {
  const box = boxes.find(({ input }) => input === event.target);
  if (event.key === "F2" || (event.key === "+" && event.target.matches("input.figure"))) {
    event.preventDefault();
    unfold();
  } else if (event.key === "Enter" && box && event.target.tagName !== "TEXTAREA") {
    event.preventDefault();
    if (event.shiftKey) before(box)?.input.focus();
    else goOnFrom(box);
  }
});
find("unfold")?.addEventListener("click", unfold);

function unfold() {
  const open = sheet.classList.toggle("unfolded");
  find("unfold").setAttribute("aria-expanded", String(open));
}

function before(box) {
  return boxes.slice(0, boxes.indexOf(box)).findLast((other) => other.visible);
}

// Whoever opens the sheet came to go on with it: the hands are on the number pad, not on the mouse.
function goToWhatIsNext() {
  if (location.hash || document.activeElement !== document.body) return;
  const wrong = sheet.querySelector("[aria-invalid=true]");
  const question = sheet.querySelector(
    ".before .step:not(details *) :is(select, input:not([type=hidden]), button)",
  );
  const next = wrong ?? question ?? boxes.find(isNext)?.input;
  next?.focus({ focusVisible: true });
}

// The next empty planned field, then one further up that was skipped, then one to mend, then the end.
function goOnFrom(box) {
  const here = boxes.indexOf(box);
  const rest = [...boxes.slice(here + 1), ...boxes.slice(0, here)].filter((other) => other.visible);
  const next = rest.find(isNext) ?? rest.find((other) => other.troubled);
  const end = sheet.querySelector("[data-finish]");
  if (next) show(next.input);
  else if (end) show(end);
  else box.input.blur();
}

// A site that could not be measured is not asked for again.
function isNext(box) {
  const before = boxNamed.get(box.attemptBefore);
  return box.visible && box.planned && !box.typed && !before?.typed.startsWith("-");
}

function show(element) {
  element.focus();
  element.select?.();
}

// --- What the service answers

function answered(value, status, body) {
  const box = boxNamed.get(value.field);
  box?.answered(value, status, body);
  if (status === 200) {
    // The page of a further test has findings alone.
    const questions = body.progress ? showTheWholeExam(body) : [];
    announce([...questions, ...newFindings(body.spot_html)]);
    if (restClock && body.first_inflation_at) restClock.dataset.firstInflationAt = body.first_inflation_at;
    if (box?.isToe && /^[\d*/]/.test(value.typed)) {
      inflationClocks.get(box.place.dataset.side)?.start(Date.parse(value.typed_at));
    }
  } else if (box) {
    const why = status === 409 ? "someone else has entered a value." : (body.error ?? "not stored.");
    alarm(`${box.spoken}: ${why}`);
  }
  showTroubled();
}

/** What is true of the exam as a whole; answers the questions that are new. */
function showTheWholeExam(body) {
  showHandOvers(body.hand_overs);
  showProgress(body.progress, body.sentence);
  showOpenFields(body.open_fields);
  return newQuestions(body.remarks);
}

/** Puts the findings beside the sheet; answers the sentences that were not there before. */
function newFindings(html) {
  const spot = find("spot");
  const open = new Set([...spot.querySelectorAll("details[open]")].map(({ id }) => id));
  const before = sentences(spot);
  spot.innerHTML = html;
  for (const details of spot.querySelectorAll("details")) details.open = open.has(details.id);
  return sentences(spot).filter((sentence) => !before.includes(sentence));
}

function sentences(spot) {
  return [...spot.querySelectorAll("[data-sentence]")].map(({ textContent }) => textContent.trim());
}

function showHandOvers(slips) {
  const place = find("hand-overs");
  for (const line of place.querySelectorAll("[data-slip]")) {
    if (!slips.some(({ id }) => String(id) === line.dataset.slip)) line.remove();
  }
  for (const slip of slips) {
    let line = place.querySelector(`[data-slip="${slip.id}"]`);
    if (!line) {
      line = find("slip").content.cloneNode(true).firstElementChild;
      line.dataset.slip = slip.id;
      line.querySelector("a").href = slip.url;
      place.append(line);
    }
    say(line.querySelector("[data-calls]"), slip.calls);
    say(line.querySelector("[data-words]"), slip.reads);
    const was = line.querySelector("[data-was]");
    was.hidden = !slip.was;
    say(was.querySelector("span"), slip.was);
  }
}

// An unchanged sentence is left alone, or a screen reader would say it again.
function say(place, words) {
  if (place.textContent !== words) place.textContent = words;
}

/** One value may answer, or raise, what is asked at another field; answers the questions that are new. */
function newQuestions(remarks) {
  const asked = new Map(remarks.map((remark) => [remark.field, remark]));
  return boxes.map((box) => box.ask(asked.get(box.name))).filter(Boolean);
}

// A toe without a reading offers the next one; two readings far apart offer a third.
function showOpenFields(names) {
  for (const box of boxes) {
    if (box.place.classList.contains("reading")) box.unfold(names.includes(box.name));
  }
}

function showProgress(progress, sentence) {
  find("sentence").textContent = sentence;
  find("progress").textContent = `${progress.done} of ${progress.planned} planned sites done.`;
  find("missing").textContent = progress.missing.length
    ? `Still without a reading or a reason: ${progress.missing.join(", ")}.`
    : "Every planned site has a reading or a reason.";
}

// --- Connection, sign-in, what waits

async function resumeWhatWaited() {
  const opened = await vault;
  if (!opened.lasting) {
    find("storage").textContent =
      `Without a connection, values are kept only while this page stays open: ${opened.trouble}.`;
  }
  const { values, unreadable, elsewhere } = await opened.left();
  for (const { value } of values) boxNamed.get(value.field)?.restore(value);
  sending.resume(values);
  for (const box of boxes) if (box.input !== document.activeElement) box.leave();
  const lines = [];
  if (unreadable) {
    lines.push(`${count(unreadable)} typed earlier could not be opened any more: look through the fields.`);
  }
  if (elsewhere) {
    lines.push(`${count(elsewhere)} of another exam still in this browser: open that sheet to send them.`);
  }
  if (lines.length) find("storage").textContent = lines.join(" ");
}

function showTheWay() {
  const line = find("way");
  const waiting = sending.waiting.length;
  line.hidden = sending.way === WAY.OPEN;
  find("sign-in-again").hidden = sending.way !== WAY.SIGNED_OUT;
  if (sending.way !== WAY.OPEN) {
    for (const { value } of sending.waiting) boxNamed.get(value.field)?.waits();
  }
  vault.then(({ lasting }) => {
    const where = lasting ? "in this browser" : "in this page only: do not close it";
    const waits = waiting === 1 ? "waits" : "wait";
    const what = waiting ? `${count(waiting)} ${waits} ${where}` : `What you type waits ${where}`;
    const words = {
      [WAY.OPEN]: "",
      [WAY.CUT]: `No connection. ${what}; ${waiting > 1 ? "they are" : "it is"} sent when it returns.`,
      [WAY.TROUBLED]: `The service does not answer properly. ${what}; sending is tried again by itself.`,
      [WAY.SIGNED_OUT]: `Your sign-in has ended. ${what}.`,
    }[sending.way];
    const place = line.querySelector("[data-words]");
    if (place.textContent !== words) place.textContent = words;
  });
}

function count(values) {
  return values === 1 ? "1 value" : `${values} values`;
}

/** The number of the person signed in in this browser, or "" for nobody. */
async function whoIsSignedIn() {
  const answer = await fetch(facts.keyUrl, { headers: { Accept: "application/json" }, cache: "no-store" });
  return answer.ok ? String((await answer.json()).person) : "";
}

async function goOnIfSignedIn() {
  if (sending.way !== WAY.SIGNED_OUT) return;
  const person = await whoIsSignedIn().catch(() => "");
  if (person === facts.person) sending.signedInAgain();
  else if (person) alarm("Somebody else is signed in now. What you typed waits: sign in as yourself.");
}
find("signed-in").addEventListener("click", goOnIfSignedIn);
document.addEventListener("visibilitychange", () => {
  if (document.visibilityState === "visible") goOnIfSignedIn();
  else for (const box of boxes) box.leave();
});
addEventListener("focus", goOnIfSignedIn);
// Once locked, nothing of this person is taken, and no key to seal it is given out.
document.addEventListener("locking", ({ detail }) => detail.push(sending.idle()));

addEventListener("beforeunload", (event) => {
  for (const box of boxes) box.leave();
  if (sending.waiting.length || boxes.some((box) => box.troubled)) event.preventDefault();
});

function showTroubled() {
  const troubled = boxes.filter((box) => box.troubled);
  const line = find("to-mend");
  line.replaceChildren();
  if (!troubled.length) return;
  line.append(`${count(troubled.length)} not stored: `);
  for (const box of troubled) {
    const link = document.createElement("a");
    link.href = `#${box.input.id}`;
    link.textContent = box.spoken;
    line.append(link, " ");
  }
}

/** Read out when nothing else is being said; an alarm interrupts. */
function announce(sentences) {
  if (sentences.length) find("announcer").textContent = sentences.join(" ");
}

function alarm(words) {
  find("alarm").textContent = words;
}

// --- Forms beside the fields

find("entry")?.addEventListener("submit", (event) => {
  event.preventDefault();
  for (const box of boxes) box.leave();
});

// Enter goes through the questions of a step too, and from the last one takes it.
for (const form of sheet.querySelectorAll("form[data-step]")) {
  form.addEventListener("keydown", (event) => {
    if (event.key !== "Enter" || event.target.matches("button, textarea")) return;
    event.preventDefault();
    const parts = [...form.querySelectorAll("select, input:not([type=hidden]), button")];
    const next = parts[parts.indexOf(event.target) + 1];
    if (next.matches("button")) form.requestSubmit(next);
    else next.focus();
  });
}

addEventListener("pageshow", () => {
  for (const form of sheet.querySelectorAll("form[data-step]")) delete form.dataset.taken;
});

// A step reloads the page: first everything typed must have arrived.
for (const form of sheet.querySelectorAll("form[data-step]")) {
  form.addEventListener("submit", async (event) => {
    // A second click on its way would be answered "already done", in the place of the page it led to.
    if (form.dataset.taken) return event.preventDefault();
    for (const box of boxes) box.leave();
    if (!sending.waiting.length && !boxes.some((box) => box.troubled)) {
      form.dataset.taken = "yes";
      return;
    }
    event.preventDefault();
    announce(["Sending what was typed first."]);
    await sending.idle();
    const first = boxes.find((box) => box.troubled);
    if (first) {
      alarm(`${first.spoken} is not stored yet. Mend it or empty it first.`);
      show(first.input);
    } else if (sending.waiting.length) {
      alarm(`${count(sending.waiting.length)} not sent yet. This step waits until they are.`);
    } else {
      form.requestSubmit(event.submitter);
    }
  });
}

for (const select of sheet.querySelectorAll("[data-technique], [data-cuff]")) {
  const group = select.closest("[data-group]");
  const also = group.querySelector("[data-also]");
  const taken = () => boxes.filter((box) => box.group === group && box.typed);
  select.addEventListener("change", () => {
    for (const box of boxes) if (box.group === group) box.showWhereItStands();
    also.hidden = taken().length === 0;
    const readings = taken().length === 1 ? "reading" : `${taken().length} readings`;
    also.textContent = `Also for the ${readings} already here`;
  });
  also.addEventListener("click", () => {
    for (const box of taken()) box.save();
    also.hidden = true;
    select.focus();
  });
}

function resumeInflationClocks() {
  for (const box of boxes.filter((one) => one.isToe && one.place.dataset.at)) {
    const at = Date.parse(box.place.dataset.at) - offset;
    if (Date.now() - at < 60000) inflationClocks.get(box.place.dataset.side)?.start(at);
  }
}

// What sticks to the top must never cover the field in focus, however many lines it takes.
function watchTheHeightOfWhatSticks() {
  const stuck = find("stuck");
  const slips = find("hand-overs");
  const measure = () => {
    const banner = getComputedStyle(stuck).position === "sticky" ? stuck.offsetHeight : 0;
    const page = document.documentElement;
    page.style.setProperty("--banner", `${banner}px`);
    page.style.setProperty("--stuck", `${banner + slips.offsetHeight}px`);
    page.style.setProperty("scroll-padding-top", `${banner + slips.offsetHeight + 16}px`);
  };
  const watch = new ResizeObserver(measure);
  watch.observe(stuck);
  watch.observe(slips);
}

// The Trace desk by keyboard: moves the mark, zooms, and gives the verdict with one key. Without it the page
// is a form that does the same.

import { Figure } from "./trace_desk_figure.js";

const KEYS_OFF = "vaslab trace desk single keys off";
const desk = document.getElementById("desk");
const data = JSON.parse(document.getElementById("trace-data").textContent);
const form = document.getElementById("verdict");
// A recording without a deflation has no figure; it can still be refused, or passed over, by one key.
const figure = data && new Figure(desk, data);
const find = (id) => document.getElementById(id);

desk.classList.add("live");
if (form) takePart();

function takePart() {
  const plot = figure ? figure.plot : form.querySelector("[data-key]");
  const field = form.elements.pressure;
  const choices = [...form.querySelectorAll('input[name="mark"]')];
  const mineChoice = choices.find((one) => one.value === "mine");
  const because = find("because");
  // What is chosen: a pressure with its time, or nothing yet.
  let mark = null;
  let refusing = null;

  if (figure) {
    becomeASlider();
    startAsTheFormStands();
    theFigureTakesPart();
  }
  keysMayBeOff();
  // Whoever opens the desk came to read the curve.
  if (!location.hash && !form.querySelector("[aria-invalid=true]")) plot.focus({ preventScroll: true });
  if (form.querySelector(".because .wrong")) openReasons(form.querySelector('[value="repeat"]'));

  // --- The mark

  function becomeASlider() {
    plot.tabIndex = 0;
    plot.setAttribute("role", "slider");
    plot.setAttribute("aria-label", "Return-of-flow mark: arrow keys move it along the deflation");
    // A slider grows to the right; so does time, while the pressure falls.
    plot.setAttribute("aria-valuemin", Math.round(figure.firstTime - data.begins));
    plot.setAttribute("aria-valuemax", Math.round(figure.lastTime - data.begins));
    tellWhereItStands();
  }

  function startAsTheFormStands() {
    const chosen = choices.find((one) => one.checked);
    if (chosen && chosen !== mineChoice) choose(chosen);
    else if (field.value.trim()) typed({ quietly: true });
  }

  function choose(choice) {
    choice.checked = true;
    if (choice === mineChoice) {
      if (field.value.trim()) typed({ quietly: true });
      else put(startingPlace());
      return;
    }
    mark = { mmhg: Number(choice.dataset.mmhg), time: Number(choice.dataset.time), chosen: choice.value };
    figure.takeMineAway();
    figure.follow(mark.mmhg);
    tellWhereItStands();
  }

  // Away from any suggestion that is not sure enough: nobody shall take it over by one key.
  function startingPlace() {
    if (mark) return mark.time;
    return figure.timeAt((figure.view[0] + figure.view[1]) / 2);
  }

  /** Puts the reader's own mark at a time; half mmHg are kept. */
  function put(time, mmhg = null) {
    const at = Math.min(Math.max(time, figure.firstTime), figure.lastTime);
    const pressure = mmhg ?? Math.round(figure.mmhgAt(at) * 2) / 2;
    mark = { mmhg: pressure, time: at, chosen: "mine" };
    mineChoice.checked = true;
    field.value = String(pressure);
    form.elements.time_s.value = at.toFixed(4);
    figure.follow(pressure);
    figure.putMine(mmhg ?? figure.mmhgAt(at), at, `your mark ${pressure}`);
    tellWhereItStands();
  }

  function typed({ quietly = false } = {}) {
    const mmhg = Number(field.value.trim().replace(",", "."));
    if (!field.value.trim() || !Number.isFinite(mmhg)) {
      if (!quietly) say("Type a pressure in mmHg, for example 62.");
      return false;
    }
    if (mmhg > figure.firstMmhg + 0.5 || mmhg < figure.lastMmhg - 0.5) {
      const [from, to] = [Math.round(figure.firstMmhg), Math.round(figure.lastMmhg)];
      if (!quietly) say(`${field.value} mmHg is not on this recording: its cuff falls from ${from} to ${to} mmHg.`);
      return false;
    }
    const kept = field.value;
    put(figure.timeAt(mmhg), mmhg);
    field.value = kept;
    return true;
  }

  function tellWhereItStands() {
    const accept = form.querySelector('[data-part="accept"]');
    const suggested = mark?.chosen === "suggested";
    const where = mark
      ? `${mark.mmhg} mmHg, ${suggested ? "as suggested" : mark.chosen === "mine" ? "your mark" : "the other place"}`
      : "no mark yet";
    plot.setAttribute("aria-valuenow", mark ? Math.round((mark.time - data.begins) * 10) / 10 : 0);
    plot.setAttribute("aria-valuetext", where);
    if (!accept) return;
    if (suggested) accept.textContent = `Accept ${mark.mmhg} mmHg: good`;
    else accept.textContent = mark ? `Good, at ${mark.mmhg} mmHg` : "Good, at my mark";
  }

  const beat = data?.beatS ?? 1;
  const whole = (mmhg) => Math.round(mmhg);
  const acts = {
    "sample-earlier": () => put(startingPlace() - data.stepS),
    "sample-later": () => put(startingPlace() + data.stepS),
    "beat-earlier": () => put(startingPlace() - beat),
    "beat-later": () => put(startingPlace() + beat),
    up: () => byOneMmhg(1),
    down: () => byOneMmhg(-1),
    suggested: () => {
      const choice = choices.find((one) => one.value === "suggested");
      if (choice) choose(choice);
      else say(form.dataset.whyNot || "There is no suggestion to go back to.");
    },
    in: () => figure.zoom(0.6, mark?.mmhg),
    out: () => figure.zoom(1 / 0.6, mark?.mmhg),
    whole: () => figure.whole(),
    left: () => figure.pan(-0.3),
    right: () => figure.pan(0.3),
    field: () => {
      field.focus();
      field.select();
    },
  };

  function byOneMmhg(by) {
    const now = mark?.mmhg ?? figure.mmhgAt(startingPlace());
    const mmhg = Math.min(Math.max(whole(now) + by, Math.ceil(figure.lastMmhg)), Math.floor(figure.firstMmhg));
    put(figure.timeAt(mmhg), mmhg);
  }

  function theFigureTakesPart() {
    for (const button of desk.querySelectorAll("[data-do]")) {
      button.addEventListener("click", () => acts[button.dataset.do]());
    }
    for (const choice of choices) choice.addEventListener("change", () => choose(choice));
    field.addEventListener("change", () => typed());
    field.addEventListener("keydown", (event) => {
      if (event.key !== "Enter") return;
      event.preventDefault();
      if (typed()) plot.focus();
    });
    plot.addEventListener("click", (event) => {
      const mmhg = Math.round(figure.mmhgUnder(event.clientX) * 2) / 2;
      if (mmhg <= figure.firstMmhg + 0.5 && mmhg >= figure.lastMmhg - 0.5) put(figure.timeAt(mmhg), mmhg);
      plot.focus();
    });
  }

  // Enter after a remark would press the form's first button; a remark alone is no verdict.
  form.elements.words.addEventListener("keydown", (event) => {
    if (event.key !== "Enter") return;
    event.preventDefault();
    if (refusing) form.requestSubmit(refusing);
    else plot.focus();
  });

  // --- Keys

  const ARROWS = {
    ArrowLeft: (event) => acts[event.shiftKey ? "beat-earlier" : "sample-earlier"](),
    ArrowRight: (event) => acts[event.shiftKey ? "beat-later" : "sample-later"](),
    ArrowUp: () => acts.up(),
    ArrowDown: () => acts.down(),
    PageUp: () => acts.left(),
    PageDown: () => acts.right(),
  };
  const LETTERS = figure && {
    "+": acts.in,
    "=": acts.in,
    "-": acts.out,
    0: acts.whole,
    s: acts.suggested,
    p: acts.field,
  };

  function keysMayBeOff() {
    const box = find("keys-on");
    const show = () => desk.classList.toggle("keys", keysAreOn());
    show();
    if (!box) return;
    box.checked = keysAreOn();
    box.addEventListener("change", () => {
      if (box.checked) localStorage.removeItem(KEYS_OFF);
      else localStorage.setItem(KEYS_OFF, "yes");
      show();
    });
  }

  function keysAreOn() {
    return localStorage.getItem(KEYS_OFF) === null;
  }

  desk.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.altKey || event.metaKey || event.isComposing) return;
    if (figure && event.target === plot && ARROWS[event.key]) {
      event.preventDefault();
      ARROWS[event.key](event);
      return;
    }
    if (event.key === "Escape" && refusing) {
      closeReasons();
      plot.focus();
      return;
    }
    const inReasons = because.contains(event.target) && event.target.type === "radio";
    if (event.key === "Enter" && inReasons && refusing) {
      event.preventDefault();
      form.requestSubmit(refusing);
      return;
    }
    if (!keysAreOn() || isTextField(event.target) || event.repeat) return;
    const key = event.key.toLowerCase();
    if (refusing && /^[1-9]$/.test(key)) {
      event.preventDefault();
      because.querySelectorAll('input[name="reason"]')[Number(key) - 1].checked = true;
      form.requestSubmit(refusing);
    } else if (LETTERS?.[key]) {
      event.preventDefault();
      LETTERS[key]();
    } else {
      const pressed = desk.querySelector(`[data-key="${CSS.escape(key)}"]`);
      if (!pressed) return;
      event.preventDefault();
      pressed.click();
    }
  });

  function isTextField(element) {
    return element.matches("input:not([type=radio], [type=checkbox]), textarea, select");
  }

  // --- The verdict

  form.addEventListener("submit", (event) => {
    const verdict = event.submitter?.value;
    if (form.dataset.sent) {
      event.preventDefault();
    } else if (event.submitter?.dataset.because !== undefined && refusing !== event.submitter) {
      event.preventDefault();
      openReasons(event.submitter);
    } else if (["good", "caution"].includes(verdict) && !mark) {
      event.preventDefault();
      say(form.dataset.whyNot || "Put the mark first: arrow keys, a click on the curve, or type its pressure.");
      plot.focus();
    } else {
      form.dataset.sent = "yes";
    }
  });
  // Back from the next page: the form may be sent once more.
  addEventListener("pageshow", () => delete form.dataset.sent);

  function openReasons(button) {
    refusing = button;
    because.classList.add("open");
    because.querySelector('[data-part="because"]').textContent =
      `${button.value === "repeat" ? "Repeat it" : "Unreadable"}, because`;
    const chosen = because.querySelector('input[name="reason"]:checked');
    chosen?.focus();
    because.scrollIntoView({ block: "nearest" });
  }

  function closeReasons() {
    refusing = null;
    because.classList.remove("open");
  }

  function say(words) {
    find("desk-says").textContent = words;
    const shown = find("desk-shows");
    shown.textContent = words;
    shown.hidden = false;
  }
}

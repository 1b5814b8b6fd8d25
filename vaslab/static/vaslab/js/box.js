// One field of the exam sheet: what is typed, what is stored, and what is said about it. The input is never
// replaced or rewritten while somebody may be typing in it.

const TYPED_AGAIN = "It stands: checked.";
const A_PRESSURE = /^\d{1,3}([.,]\d)?$/;

export class Box {
  /** `place` is the element with data-field; `send(value)` queues; `time(date)` writes the clinic's time. */
  constructor(place, { send, time, reasons }) {
    Object.assign(this, { place, send, time, reasons });
    this.name = place.dataset.field;
    this.spoken = place.dataset.spoken;
    this.revision = Number(place.dataset.revision);
    this.input = place.querySelector("[data-typed]");
    this.group = place.closest("[data-group]");
    this.settled = this.#asSent();
    this.#listen();
  }

  get typed() {
    if (this.input.type === "checkbox") return this.input.checked ? "yes" : "";
    return this.input.value.trim();
  }

  /** Asked for in this exam, and nothing forbids it. */
  get planned() {
    const { classList } = this.place;
    if (!classList.contains("reading")) return this.place.hasAttribute("data-planned");
    return !classList.contains("folded") && !classList.contains("locked");
  }

  /** The name of the attempt before this one at the same site, or nothing. */
  get attemptBefore() {
    const [side, site, attempt] = this.name.split(".");
    return attempt > 1 ? `${side}.${site}.${attempt - 1}` : undefined;
  }

  unfold(open) {
    this.place.classList.toggle("folded", !open);
  }

  get visible() {
    return this.input.getClientRects().length > 0 && !this.input.disabled;
  }

  get isToe() {
    return /^(right|left)\.toe_/.test(this.name);
  }

  /** Typed, but neither stored nor on its way. */
  get unsettled() {
    return this.typed !== this.settled || this.troubled;
  }

  get troubled() {
    return this.input.getAttribute("aria-invalid") === "true" || !this.#part("clash").hidden;
  }

  /** The field is left: what changed is sent. */
  leave() {
    if (this.typed !== this.settled) this.save();
  }

  save(extra = {}) {
    this.settled = this.typed;
    this.#clearTrouble();
    this.#state("sending");
    const override = this.place.querySelector("[data-override]");
    this.send({
      client_id: crypto.randomUUID?.() ?? uuid(),
      field: this.name,
      typed: this.typed,
      technique: this.group?.querySelector("[data-technique]")?.value ?? "",
      cuff_mm: this.group?.querySelector("[data-cuff]")?.value.trim() ?? "",
      seen_revision: this.revision,
      typed_at: new Date().toISOString(),
      remark_answer: "",
      override_because: override?.value.trim() ?? "",
      ...extra,
    });
  }

  /** A value left over from before the page was opened is typed in again, as it was. */
  restore(value) {
    if (this.input.type === "checkbox") this.input.checked = value.typed === "yes";
    else this.input.value = value.typed;
    this.settled = this.typed;
    this.showWhereItStands();
    this.#state(`waiting since ${this.time(new Date(value.typed_at))}`);
  }

  /** What is typed against the range expected today; the words came with the page (Expected.words). */
  showWhereItStands() {
    const place = this.#part("stands");
    if (!place) return;
    const { dataset } = place;
    const where = this.#where(dataset);
    if (where === dataset.where) return;
    dataset.where = where;
    place.textContent = {
      "": dataset.wordsNothing,
      within: dataset.wordsWithin,
      below: dataset.wordsBelow,
      above: dataset.wordsAbove,
      other: dataset.wordsOther,
    }[where];
  }

  #where({ low, high, technique }) {
    if (!A_PRESSURE.test(this.typed)) return "";
    const chosen = this.group?.querySelector("[data-technique]")?.value;
    if (chosen && chosen !== technique) return "other";
    const mmhg = Number(this.typed.replace(",", "."));
    return mmhg < Number(low) ? "below" : mmhg > Number(high) ? "above" : "within";
  }

  waits() {
    this.#state("waiting");
  }

  /** What the service answered about a value of this field. */
  answered(value, status, body) {
    if (status === 200) this.#saved(value, body);
    else if (status === 409) this.#clash(value, body);
    else this.#refused(value, body.error ?? "This could not be stored. What you typed is still here.");
  }

  #saved(value, body) {
    this.revision = body.revision;
    // Somebody is already typing the next value into it: leave their letters alone.
    const stillTheSame = this.typed === value.typed;
    if (stillTheSame && this.input !== document.activeElement && this.input.type !== "checkbox") {
      this.input.value = body.typed;
      this.settled = body.typed;
      this.showWhereItStands();
    }
    this.#clearTrouble();
    this.place.classList.toggle("filled", body.typed !== "");
    this.#state(body.typed === "" ? `emptied ${this.time(new Date())}` : `saved ${this.time(new Date())}`);
    this.#part("shown").textContent = body.note || (/^[*/-]/.test(body.typed) ? body.shown : "");
  }

  /** Shows the question about this field, if there is an open one; answers its words if it is a new one. */
  ask(remark) {
    const place = this.#part("remark");
    const words = place.querySelector("[data-words]");
    const open = Boolean(remark) && !remark.answer;
    const isNew = open && (place.hidden || words.textContent !== remark.words);
    place.hidden = !open;
    if (open) words.textContent = remark.words;
    return isNew ? remark.words : "";
  }

  #refused(value, words) {
    if (this.typed !== value.typed) return;
    this.input.setAttribute("aria-invalid", "true");
    const place = this.#part("error");
    place.textContent = words;
    place.hidden = false;
    this.#state("not stored");
  }

  #clash(value, body) {
    const place = this.#part("clash");
    place.querySelector("[data-words]").textContent =
      `${body.by} entered ${body.theirs || "nothing"} here meanwhile; ` +
      `you typed ${value.typed || "nothing"}. Nothing was overwritten. Which stands?`;
    const [theirs, yours] = place.querySelectorAll("button");
    theirs.textContent = `Keep ${body.theirs || "it empty"}`;
    yours.textContent = `Put ${value.typed || "nothing"}`;
    theirs.onclick = () => {
      this.revision = body.revision;
      this.input.value = body.theirs_typed ?? body.theirs;
      this.settled = this.typed;
      this.#clearTrouble();
      this.#state("saved by someone else");
      this.input.focus();
    };
    yours.onclick = () => {
      this.revision = body.revision;
      this.input.value = value.typed;
      this.save();
      this.input.focus();
    };
    place.hidden = false;
    this.#state("not stored");
  }

  #listen() {
    this.input.addEventListener("focusout", () => this.leave());
    this.input.addEventListener("input", () => {
      this.#showReasons();
      this.showWhereItStands();
    });
    const otherWay = this.place.querySelector("[data-outcome]");
    otherWay?.addEventListener("change", () => {
      if (!otherWay.value) return;
      this.input.value = otherWay.value;
      otherWay.value = "";
      this.save();
      this.input.focus();
    });
    const override = this.place.querySelector("[data-override]");
    override?.addEventListener("change", () => this.typed && this.save());
    const stands = this.#part("remark")?.querySelector("button");
    stands?.addEventListener("click", () => {
      const said = this.#part("remark").querySelector("input").value.trim();
      this.save({ remark_answer: said || TYPED_AGAIN });
      this.input.focus();
    });
  }

  // The numbered reasons appear where "-" was typed, and the words of the number typed so far.
  #showReasons() {
    const place = this.#part("reasons");
    if (!place) return;
    const asked = this.input.value.trim().startsWith("-");
    if (asked && !place.hasChildNodes()) {
      place.append(this.reasons.content.cloneNode(true));
      place.scrollIntoView({ block: "nearest" });
    }
    if (!asked) place.replaceChildren();
    const number = this.input.value.match(/^\s*-\s*(\d+)/)?.[1];
    const chosen = number && place.querySelector(`[data-number="${number}"]`);
    this.#part("shown").textContent = chosen ? chosen.dataset.words : "";
  }

  #clearTrouble() {
    this.input.removeAttribute("aria-invalid");
    this.#part("error").hidden = true;
    this.#part("clash").hidden = true;
    this.#part("reasons")?.replaceChildren();
  }

  #state(words) {
    this.#part("state").textContent = words;
  }

  #part(name) {
    return this.place.querySelector(`[data-part="${name}"]`);
  }

  // What the service sent is stored, unless it came back with a fault.
  #asSent() {
    const input = this.input;
    if (input.type === "checkbox") return input.defaultChecked ? "yes" : "";
    if (input.tagName !== "SELECT") return input.defaultValue.trim();
    return [...input.options].find((option) => option.defaultSelected)?.value ?? "";
  }
}

// Browsers offer randomUUID on encrypted addresses only; random bytes are there everywhere.
function uuid() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  bytes[6] = (bytes[6] & 0x0f) | 0x40;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  return hex.replace(/^(.{8})(.{4})(.{4})(.{4})(.{12})$/, "$1-$2-$3-$4-$5");
}

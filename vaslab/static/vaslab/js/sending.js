// Sends typed values one after another, in the order typed, until each is answered. A value is written to the
// vault before it is sent, so that closing the page between the two loses nothing.

const FIRST_PAUSE_MS = 2000;
const LONGEST_PAUSE_MS = 30000;
const PATIENCE_MS = 15000;

/** How the way to the service stands. */
export const WAY = { OPEN: "open", CUT: "cut", TROUBLED: "troubled", SIGNED_OUT: "signed out" };

export class Sending {
  way = WAY.OPEN;
  waiting = [];
  #busy = false;
  #run = Promise.resolve();
  #pause = FIRST_PAUSE_MS;
  #timer;

  /**
   * `vault` is the promise of one. `answered(value, status, body)` is called once for each value the service
   * has decided about; `changed()` whenever the way or the number waiting has changed; `stillMe()` promises
   * whether the person who typed is the one signed in.
   */
  constructor({ vault, saveUrl, person, answered, changed, stillMe }) {
    Object.assign(this, { vault, saveUrl, person, answered, changed, stillMe });
    addEventListener("online", () => this.tryNow());
    addEventListener("offline", () => this.#blocked(WAY.CUT));
  }

  /** Takes over what was left unsent before this page was opened. */
  resume(left) {
    this.waiting.unshift(...left.map(({ value, place }) => ({ value, place: Promise.resolve(place) })));
    this.#start();
  }

  add(value) {
    const place = this.vault.then((vault) => vault.keep(value)).catch(() => undefined);
    this.waiting.push({ value, place });
    this.changed();
    if (this.way !== WAY.SIGNED_OUT) this.#start();
  }

  tryNow() {
    if (this.way === WAY.SIGNED_OUT) return;
    this.#pause = FIRST_PAUSE_MS;
    this.#start();
  }

  /** After the same person has signed in again. */
  signedInAgain() {
    this.way = WAY.OPEN;
    this.tryNow();
  }

  /** Settles when nothing waits any more, or nothing can be sent for now. */
  async idle() {
    await this.#run;
  }

  #start() {
    clearTimeout(this.#timer);
    if (this.#busy) return;
    this.#busy = true;
    this.#run = this.#sendAll();
  }

  async #sendAll() {
    while (this.waiting.length > 0) {
      const first = this.waiting[0];
      const place = await first.place;
      const reply = await this.#post(first.value);
      if (reply.way !== WAY.OPEN) {
        this.#busy = false;
        this.#blocked(reply.way);
        return;
      }
      this.way = WAY.OPEN;
      this.#pause = FIRST_PAUSE_MS;
      this.waiting.shift();
      await (await this.vault).drop(place).catch(() => undefined);
      if (reply.status === 200) this.#followOn(first.value, reply.body.revision);
      this.answered(first.value, reply.status, reply.body);
      this.changed();
    }
    this.#busy = false;
    if (navigator.onLine) this.way = WAY.OPEN;
    this.changed();
  }

  // A field typed in twice before the first answer came: the second follows on what the first has stored.
  #followOn(sent, revision) {
    for (const { value } of this.waiting) {
      if (value.field === sent.field && value.seen_revision === sent.seen_revision) {
        value.seen_revision = revision;
      }
    }
  }

  async #post(value) {
    try {
      const answer = await fetch(this.saveUrl, {
        method: "POST",
        headers: { Accept: "application/json", "X-CSRFToken": formToken() },
        body: new URLSearchParams({ ...value, author: this.person }),
        redirect: "error",
        signal: AbortSignal.timeout(PATIENCE_MS),
      });
      if (answer.status === 401) return { way: WAY.SIGNED_OUT };
      if (answer.status >= 500) return { way: WAY.TROUBLED };
      // Refused, perhaps because somebody else has signed in here: then it waits for its author.
      if (answer.status === 403 && !(await this.stillMe())) return { way: WAY.SIGNED_OUT };
      // A refusal by the house itself (not here, not allowed) comes as a page and not as JSON.
      const body = await answer.json().catch((problem) => (answer.ok ? Promise.reject(problem) : {}));
      return { way: WAY.OPEN, status: answer.status, body };
    } catch (problem) {
      return { way: problem instanceof SyntaxError ? WAY.TROUBLED : WAY.CUT };
    }
  }

  #blocked(way) {
    clearTimeout(this.#timer);
    if (this.way !== WAY.SIGNED_OUT) this.way = way;
    this.changed();
    if (this.way === WAY.SIGNED_OUT) return;
    this.#timer = setTimeout(() => this.#start(), this.#pause);
    this.#pause = Math.min(this.#pause * 2, LONGEST_PAUSE_MS);
  }
}

// Read afresh for each value: signing in again, here or in another tab, changes it.
function formToken() {
  return document.cookie.match(/(?:^|; )csrftoken=([^;]+)/)?.[1] ?? "";
}

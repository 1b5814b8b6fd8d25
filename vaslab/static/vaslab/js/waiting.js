// Values typed but not yet acknowledged. They are patient data: sealed with AES-GCM under a key that only the
// signed-in person's session can fetch and that is never stored; gone when acknowledged, after a day, and at
// sign-out. What stays readable beside a sealed value is row numbers and the time after which it is dropped.

const DATABASE = "vaslab-waiting";
const VALUES = "values";
const KEPT_MS = 24 * 60 * 60 * 1000;
const PATIENCE_MS = 10000;

/** Opens the store for one person at one exam. Where a browser cannot seal or store, the vault says why. */
export async function openVault({ person, exam, keyUrl }) {
  try {
    if (!globalThis.crypto?.subtle) {
      throw new Error("this address is not encrypted (https), so the browser offers no sealing");
    }
    const key = await fetchKey(keyUrl, person);
    const database = await openDatabase();
    await dropExpired(database);
    return new Vault({ person, exam, key, database });
  } catch (problem) {
    return new MemoryOnly(problem.message);
  }
}

/** Deletes every waiting value of one person: at sign-out. */
export async function forget(person) {
  const database = await openDatabase();
  await each(database, (row, cursor) => row.person === String(person) && cursor.delete());
  database.close();
}

/** How many values of one person wait in this browser, in whichever exam. */
export async function countWaiting(person) {
  const database = await openDatabase();
  let count = 0;
  await each(database, (row) => {
    if (row.person === String(person) && row.droppedAfter > Date.now()) count += 1;
  });
  database.close();
  return count;
}

class Vault {
  lasting = true;
  trouble = "";

  constructor({ person, exam, key, database }) {
    Object.assign(this, { person: String(person), exam: String(exam), key, database });
  }

  /** Seals and stores one value; answers its place, by which it is dropped once acknowledged. */
  async keep(value) {
    const nonce = crypto.getRandomValues(new Uint8Array(12));
    const sealed = await crypto.subtle.encrypt(
      { name: "AES-GCM", iv: nonce, additionalData: this.#owner() },
      this.key,
      new TextEncoder().encode(JSON.stringify(value)),
    );
    const row = {
      person: this.person,
      exam: this.exam,
      droppedAfter: Date.now() + KEPT_MS,
      nonce,
      sealed,
    };
    return done(this.database.transaction(VALUES, "readwrite").objectStore(VALUES).add(row));
  }

  async drop(place) {
    if (place === undefined) return;
    await done(this.database.transaction(VALUES, "readwrite").objectStore(VALUES).delete(place));
  }

  /** What this person left unsent at this exam, oldest first, and how many could not be opened. */
  async left() {
    const rows = [];
    let elsewhere = 0;
    await each(this.database, (row, cursor) => {
      if (row.person !== this.person) return;
      if (row.exam === this.exam) rows.push({ ...row, place: cursor.primaryKey });
      else elsewhere += 1;
    });
    const values = [];
    let unreadable = 0;
    for (const row of rows) {
      try {
        const opened = await crypto.subtle.decrypt(
          { name: "AES-GCM", iv: row.nonce, additionalData: this.#owner() },
          this.key,
          row.sealed,
        );
        values.push({ value: JSON.parse(new TextDecoder().decode(opened)), place: row.place });
      } catch {
        unreadable += 1;
        await this.drop(row.place);
      }
    }
    return { values, unreadable, elsewhere };
  }

  // A sealed value moved to another person's or another exam's row does not open.
  #owner() {
    return new TextEncoder().encode(`${this.person}/${this.exam}`);
  }
}

class MemoryOnly {
  lasting = false;

  constructor(trouble) {
    this.trouble = trouble;
  }

  async keep() {}

  async drop() {}

  async left() {
    return { values: [], unreadable: 0, elsewhere: 0 };
  }
}

async function fetchKey(url, person) {
  const answer = await fetch(url, {
    headers: { Accept: "application/json" },
    cache: "no-store",
    signal: AbortSignal.timeout(PATIENCE_MS),
  });
  if (!answer.ok) throw new Error("the key for sealing could not be fetched");
  const { key, person: keyOf } = await answer.json();
  if (String(keyOf) !== String(person)) throw new Error("another person is signed in in this browser");
  const bytes = Uint8Array.from(atob(key), (letter) => letter.charCodeAt(0));
  return crypto.subtle.importKey("raw", bytes, "AES-GCM", false, ["encrypt", "decrypt"]);
}

function openDatabase() {
  const request = indexedDB.open(DATABASE, 1);
  request.onupgradeneeded = () => request.result.createObjectStore(VALUES, { autoIncrement: true });
  return done(request);
}

async function dropExpired(database) {
  await each(database, (row, cursor) => row.droppedAfter <= Date.now() && cursor.delete());
}

function each(database, visit) {
  return new Promise((resolve, reject) => {
    const walk = database.transaction(VALUES, "readwrite").objectStore(VALUES).openCursor();
    walk.onerror = () => reject(walk.error);
    walk.onsuccess = () => {
      if (!walk.result) return resolve();
      visit(walk.result.value, walk.result);
      walk.result.continue();
    };
  });
}

function done(request) {
  return new Promise((resolve, reject) => {
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
}

// The two clocks of an exam. Both count from stored times on the service's clock, so they survive a reload
// and a computer whose own clock is wrong.

const REST_MS = 10 * 60 * 1000;
const BETWEEN_INFLATIONS_MS = 60 * 1000;

/** What to add to this computer's clock to get the service's. */
export function offsetFrom(serverNow) {
  return Date.parse(serverNow) - Date.now();
}

/** Minutes and seconds as on a watch: 9:05. */
export function asWatch(milliseconds) {
  const seconds = Math.max(0, Math.floor(milliseconds / 1000));
  return `${Math.floor(seconds / 60)}:${String(seconds % 60).padStart(2, "0")}`;
}

/**
 * Shows the rest since "lying flat" until the first inflation. `place` has parts [data-watch] and
 * [data-words]; the words are a live region and change twice only.
 */
export function startRestClock(place, offset) {
  const began = Date.parse(place.dataset.lyingFlatAt);
  if (Number.isNaN(began)) return;
  const watch = place.querySelector("[data-watch]");
  const words = place.querySelector("[data-words]");
  const tick = () => {
    const ended = Date.parse(place.dataset.firstInflationAt);
    const rested = (Number.isNaN(ended) ? Date.now() + offset : ended) - began;
    watch.textContent = asWatch(rested);
    place.classList.toggle("reached", rested >= REST_MS);
    say(words, restWords(rested, !Number.isNaN(ended)));
    if (!Number.isNaN(ended)) clearInterval(ticking);
  };
  const ticking = setInterval(tick, 1000);
  tick();
}

function restWords(rested, inflated) {
  if (inflated) return "of rest before the first cuff was inflated.";
  if (rested >= REST_MS) return "Ten minutes reached. You may measure.";
  return "of rest. Ten minutes make the reading steady.";
}

/** Counts a minute down from an inflation; `place` is hidden until the first one. */
export class InflationClock {
  constructor(place) {
    this.watch = place.querySelector("[data-watch]");
    this.words = place.querySelector("[data-words]");
    this.place = place;
  }

  /** Starts, or starts again, at a time on this computer's clock. */
  start(at = Date.now()) {
    clearInterval(this.ticking);
    const tick = () => {
      const left = BETWEEN_INFLATIONS_MS - (Date.now() - at);
      this.place.hidden = false;
      this.watch.textContent = asWatch(Math.ceil(left / 1000) * 1000);
      this.place.classList.toggle("reached", left <= 0);
      const over = "A minute has passed. You may inflate again.";
      say(this.words, left > 0 ? "until the next inflation of this foot." : over);
      if (left <= 0) clearInterval(this.ticking);
    };
    this.ticking = setInterval(tick, 1000);
    tick();
  }
}

function say(place, words) {
  if (place.textContent !== words) place.textContent = words;
}

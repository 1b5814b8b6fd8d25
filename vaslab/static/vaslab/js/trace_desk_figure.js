// Draws the desk's figure anew where the reader looks closer. What it draws, and where, is as in
// exams/traces/figure.py; sideways in percent, upwards in px.

const BOX_PX = 300;
const MARGIN = 0.06;
const NARROWEST_MMHG = 4;
// These have lines of their own above the curve.
const ABOVE = ["suggested", "unsure", "yours"];
// Of the width: what words need on a phone.
const ROOM_PERCENT = 30;
const SVG = "http://www.w3.org/2000/svg";

// Points come as whole ten-thousandths.
const inUnits = (points) =>
  Object.fromEntries(
    Object.entries(points).map(([name, list]) => [name, list.map((one) => (one === null ? null : one / 1e4))]),
  );

export class Figure {
  constructor(desk, data) {
    this.desk = desk;
    this.data = { ...data, points: inUnits(data.points), repeats: data.repeats.map(inUnits) };
    this.points = this.data.points;
    this.view = data.view;
    this.plot = desk.querySelector("#trace-plot");
    this.svg = this.plot.querySelector(".trace-pressure");
  }

  get firstMmhg() {
    return this.data.points.mmhg[0];
  }

  get lastMmhg() {
    return this.data.points.mmhg.at(-1);
  }

  get firstTime() {
    return this.data.points.time_s[0];
  }

  get lastTime() {
    return this.data.points.time_s.at(-1);
  }

  // --- Pressure and time: the cuff falls, so each time has one pressure

  mmhgAt(time) {
    const { time_s, mmhg } = this.nearest(time);
    const after = Math.min(Math.max(firstWhere(time_s, (one) => one > time), 1), time_s.length - 1);
    const share = (time - time_s[after - 1]) / (time_s[after] - time_s[after - 1] || 1);
    return mmhg[after - 1] + Math.min(Math.max(share, 0), 1) * (mmhg[after] - mmhg[after - 1]);
  }

  /** The last time at which the cuff stood at a pressure. */
  timeAt(pressure) {
    const { time_s, mmhg } = this.data.points;
    const after = firstWhere(mmhg, (one) => one < pressure);
    if (after === 0) return time_s[0];
    if (after >= mmhg.length) return time_s.at(-1);
    const share = (mmhg[after - 1] - pressure) / (mmhg[after - 1] - mmhg[after] || 1);
    return time_s[after - 1] + share * (time_s[after] - time_s[after - 1]);
  }

  /** The finest points that hold a time. */
  nearest(time) {
    const { time_s } = this.points;
    return time >= time_s[0] && time <= time_s.at(-1) ? this.points : this.data.points;
  }

  mmhgUnder(clientX) {
    const box = this.svg.getBoundingClientRect();
    const [left, right] = this.view;
    return left - ((clientX - box.left) / box.width) * (left - right);
  }

  // --- What is seen

  zoom(factor, centre) {
    const [left, right] = this.view;
    const middle = centre ?? (left + right) / 2;
    const width = Math.max((left - right) * factor, NARROWEST_MMHG);
    const share = centre == null || centre > left || centre < right ? 0.5 : (left - middle) / (left - right);
    this.look(middle + width * share, middle - width * (1 - share));
  }

  pan(share) {
    const [left, right] = this.view;
    const by = (left - right) * share;
    this.look(left - by, right - by);
  }

  whole() {
    this.look(...this.data.whole);
  }

  /** Brings a pressure into view if it is not. */
  follow(mmhg) {
    const [left, right] = this.view;
    const edge = (left - right) * 0.05;
    if (mmhg > left - edge) this.look(mmhg + edge * 6, mmhg + edge * 6 - (left - right));
    else if (mmhg < right + edge) this.look(mmhg - edge * 6 + (left - right), mmhg - edge * 6);
  }

  look(left, right) {
    const [most, least] = this.data.whole;
    const width = Math.min(left - right, most - least);
    const high = Math.min(Math.max(left, least + width), most);
    this.view = [high, high - width];
    // Finer points of a part are no line of the whole, least of all while nothing finer comes.
    if (!this.reaches(this.points)) this.points = this.data.points;
    this.draw();
    this.askForFiner();
  }

  /** Whether points go from edge to edge of what is seen, as far as there is a deflation. */
  reaches({ mmhg }) {
    const [left, right] = this.view;
    return mmhg[0] >= Math.min(left, this.firstMmhg) && mmhg.at(-1) <= Math.max(right, this.lastMmhg);
  }

  askForFiner() {
    clearTimeout(this.asking);
    this.asking = setTimeout(async () => {
      const [left, right] = this.view;
      const [from, to] = [this.timeAt(left), this.timeAt(right)];
      const answer = await fetch(`${this.data.windowUrl}?from_s=${from}&to_s=${to}`, {
        headers: { Accept: "application/json" },
      }).catch(() => null);
      // Without a connection the coarser line stays: it is true, only less fine.
      if (!answer?.ok || this.view[0] !== left || this.view[1] !== right) return;
      this.points = inUnits(await answer.json());
      this.draw();
    }, 150);
  }

  percent(mmhg) {
    const [left, right] = this.view;
    return (100 * (left - mmhg)) / (left - right);
  }

  draw() {
    const [low, high] = this.range();
    const height = (level) => MARGIN + ((1 - 2 * MARGIN) * (level - low)) / (high - low);
    this.path("line", this.points.mmhg, this.points.level, height);
    if (this.points.envelope) this.path("envelope", this.points.envelope_mmhg, this.points.envelope, height);
    this.svg.querySelectorAll('[data-part="repeat"]').forEach((path, index) => {
      const repeat = this.data.repeats[index];
      path.setAttribute("d", this.line(repeat.mmhg, repeat.level, height));
    });
    this.drawTicks();
    for (const dot of this.svg.querySelectorAll("circle[data-level]")) {
      dot.setAttribute("cx", `${this.percent(Number(dot.dataset.mmhg))}%`);
      dot.setAttribute("cy", BOX_PX * (1 - height(Number(dot.dataset.level))));
    }
    for (const one of this.svg.querySelectorAll("[data-low]")) {
      const [from, to] = [this.percent(Number(one.dataset.high)), this.percent(Number(one.dataset.low))];
      if (one.tagName === "rect") {
        one.setAttribute("x", `${from}%`);
        one.setAttribute("width", `${to - from}%`);
      } else {
        one.setAttribute("x1", `${from}%`);
        one.setAttribute("x2", `${to}%`);
      }
    }
    const scale = this.svg.querySelector('[data-part="scale"]');
    scale?.setAttribute("x2", `${this.percent(this.view[0] - Number(scale.dataset.mmhg))}%`);
    this.layOut();
    this.drawFrame();
  }

  /** Each mark at its pressure; beyond the view its words stand at the edge, with an arrow. */
  layOut() {
    const placed = [...this.svg.querySelectorAll("[data-placed][data-mmhg]")];
    const places = placed.map((one) => this.percent(Number(one.dataset.mmhg)));
    const clear = this.clearOf(places.filter((one) => one >= 0 && one <= 100));
    placed.forEach((one, index) => {
      const { placed: kind, words, mmhg } = one.dataset;
      const [before, after] = [places[index] < -0.01, places[index] > 100.01];
      const at = Math.min(Math.max(places[index], 0), 100);
      const own = before || after || ABOVE.includes(kind);
      const where = own ? { at, start: this.startsAt(kind, at, Number(mmhg)) } : clear;
      const text = one.querySelector("text");
      one.classList.toggle("beyond", before || after);
      one.classList.remove("out");
      one.querySelector(".at").setAttribute("x", `${at}%`);
      one.querySelector(".words").setAttribute("x", `${where.at}%`);
      const leads = one.querySelector(".leads");
      leads?.setAttribute("x1", `${where.at}%`);
      leads?.setAttribute("x2", `${at}%`);
      text.setAttribute("x", where.start ? 11 : -11);
      text.setAttribute("text-anchor", where.start ? "start" : "end");
      text.textContent = `${before ? "← " : ""}${words}${after ? " →" : ""}`;
    });
  }

  /** Where the words inside stand so that no upright line crosses them: before the interval if they can. */
  clearOf(lines) {
    const first = Math.min(100, ...lines);
    const interval = this.svg.querySelector("rect.interval");
    const before = interval ? this.percent(Number(interval.dataset.high)) : 100;
    const at = [Math.min(first, before), first].find((one) => one >= ROOM_PERCENT);
    return at === undefined ? { at: Math.max(0, ...lines), start: true } : { at, start: false };
  }

  /** Whether the words begin at their place, or end there; the reader's own keep clear of the suggestion. */
  startsAt(kind, percent, mmhg) {
    const suggested = this.svg.querySelector('[data-placed="suggested"], [data-placed="unsure"]');
    if (kind === "yours" && percent > 25 && percent < 75) {
      return !suggested || mmhg <= Number(suggested.dataset.mmhg);
    }
    return percent < 50;
  }

  putMine(mmhg, time, words) {
    const mine = this.svg.querySelector('[data-placed="yours"]');
    if (!mine) return;
    Object.assign(mine.dataset, { mmhg, words });
    this.layOut();
    const strip = this.desk.querySelector(".trace-strip");
    let line = strip.querySelector('[data-strip-mark="yours"]');
    if (!line) {
      line = document.createElementNS(SVG, "svg");
      line.dataset.stripMark = "yours";
      line.setAttribute("overflow", "visible");
      for (const x of [0, 3]) {
        const stroke = document.createElementNS(SVG, "line");
        for (const [name, value] of Object.entries({ x1: x, x2: x, y1: 20, y2: 88 })) {
          stroke.setAttribute(name, value);
        }
        line.append(stroke);
      }
      strip.append(line);
    }
    line.classList.remove("out");
    line.setAttribute("x", `${(100 * (time - this.data.begins)) / this.data.length}%`);
  }

  takeMineAway() {
    for (const one of this.desk.querySelectorAll('[data-placed="yours"], [data-strip-mark="yours"]')) {
      one.classList.add("out");
      delete one.dataset.mmhg;
    }
    this.layOut();
  }

  // --- Parts

  range() {
    const { mmhg, level } = this.points;
    const [left, right] = this.view;
    const seen = level.filter((one, index) => one !== null && mmhg[index] <= left && mmhg[index] >= right);
    const [low, high] = [Math.min(...seen), Math.max(...seen)];
    return seen.length && high > low ? [low, high] : [0, 1];
  }

  path(part, mmhg, level, height) {
    this.svg.querySelector(`[data-part="${part}"]`)?.setAttribute("d", this.line(mmhg, level, height));
  }

  line(mmhg, level, height) {
    let down = false;
    return mmhg
      .map((one, index) => {
        const missing = level[index] === null;
        const step = down ? "L" : "M";
        down = !missing;
        if (missing) return "";
        return `${step}${(this.percent(one) * 10).toFixed(1)} ${(1000 * (1 - height(level[index]))).toFixed(1)}`;
      })
      .join("");
  }

  drawTicks() {
    const [left, right] = this.view;
    const step = left - right <= 12 ? 1 : left - right <= 30 ? 5 : 10;
    const ticks = this.svg.querySelector('[data-part="ticks"]');
    ticks.replaceChildren();
    for (let mmhg = Math.floor(left / step) * step; mmhg >= right; mmhg -= step) {
      const at = this.percent(mmhg);
      const line = document.createElementNS(SVG, "line");
      line.setAttribute("class", "grid");
      for (const [name, value] of Object.entries({ x1: `${at}%`, x2: `${at}%`, y1: 64, y2: 364 })) {
        line.setAttribute(name, value);
      }
      const text = document.createElementNS(SVG, "text");
      text.setAttribute("class", mmhg % (2 * step) ? "tick spare" : "tick");
      text.setAttribute("x", `${at}%`);
      text.setAttribute("y", 382);
      text.setAttribute("text-anchor", at < 2 ? "start" : at > 98 ? "end" : "middle");
      text.textContent = mmhg;
      ticks.append(line, text);
    }
  }

  drawFrame() {
    const frame = this.desk.querySelector('[data-part="shown"]');
    if (!frame) return;
    const share = (mmhg) => (100 * (this.timeAt(mmhg) - this.data.begins)) / this.data.length;
    const [from, to] = this.view.map(share);
    frame.setAttribute("x", `${from}%`);
    frame.setAttribute("width", `${to - from}%`);
  }
}

/** The first place in a sorted list for which the test holds; its length if there is none. */
function firstWhere(list, test) {
  let [low, high] = [0, list.length];
  while (low < high) {
    const middle = (low + high) >> 1;
    if (test(list[middle])) high = middle;
    else low = middle + 1;
  }
  return low;
}

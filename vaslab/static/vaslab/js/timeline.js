// Draws the limb timeline from the page's own JSON. Nothing is fetched and nothing is sent.
// Series are told apart by mark and dash, never by colour: one ink, taken from the style sheet.

// The chart library would otherwise offer to send the figure to its vendor.
const CONFIG = {
  displayModeBar: false,
  displaylogo: false,
  showSendToCloud: false,
  plotlyServerURL: "",
  topojsonURL: "",
  responsive: true,
  scrollZoom: false,
  doubleClick: false,
};

// How each measure is drawn: the ankle as filled rounds on a whole line, the toe as open squares on dashes.
const ANKLE = { symbol: "circle", dash: "solid", hollow: false, limitDash: "solid" };
const TOE = { symbol: "square", dash: "6px,4px", hollow: true, limitDash: "5px,4px" };
const STYLE = {
  ankle_pressure: ANKLE,
  ankle_brachial_index: ANKLE,
  toe_pressure: TOE,
  toe_brachial_index: TOE,
};
const SHORT = {
  ankle_pressure: "ankle",
  ankle_brachial_index: "ankle",
  toe_pressure: "toe",
  toe_brachial_index: "toe",
};
const LANE_PX = 26;
const PLOT_PX = 300;
const TOP_PX = 16;
const FOOT_PX = 34;
const GAP_PX = 14;
const LEFT_PX = 94;
const RIGHT_PX = 46;

function ink() {
  const style = getComputedStyle(document.documentElement);
  const named = (name) => style.getPropertyValue(name).trim();
  return {
    ink: named("--ink"),
    soft: named("--ink-soft"),
    rule: named("--rule"),
    paper: named("--paper"),
    sunk: named("--paper-sunk"),
    font: named("--font"),
  };
}

// Two hundred marks of full size would hide one another.
function markSize(series) {
  const marks = series.stretches.flat().length;
  return marks > 100 ? 5 : marks > 40 ? 7 : 9;
}

function lineTraces(series, colours) {
  const style = STYLE[series.measure];
  const size = markSize(series);
  return series.stretches.map((points) => ({
    type: "scatter",
    mode: points.length > 1 ? "lines+markers" : "markers",
    x: points.map((point) => point.at),
    y: points.map((point) => point.value),
    hovertext: points.map((point) => point.words),
    hoverinfo: "text",
    line: { color: colours.ink, width: 1.75, dash: style.dash },
    marker: {
      symbol: style.symbol,
      size,
      color: style.hollow ? colours.paper : colours.ink,
      line: { color: colours.ink, width: 1.75 },
    },
    error_y: {
      type: "data",
      symmetric: false,
      array: points.map((point) => point.up),
      arrayminus: points.map((point) => point.down),
      color: colours.ink,
      thickness: 1,
      width: 3,
    },
  }));
}

function breakTrace(series, colours) {
  return {
    type: "scatter",
    mode: "text",
    x: series.breaks.map((gap) => gap.at),
    y: series.breaks.map((gap) => gap.height),
    text: series.breaks.map((gap) => `//${gap.number}`),
    textfont: { color: colours.ink, size: 14, weight: 700 },
    hovertext: series.breaks.map((gap) => gap.words),
    hoverinfo: "text",
    cliponaxis: false,
  };
}

// A rung without a top: the pressure is somewhere above the cuff pressure reached. It is no point of a line.
function openTopped(series, top, colours) {
  const height = (one) => one.value ?? top * 0.94;
  const shapes = series.open_topped.map((one) => ({
    type: "path",
    xref: "x",
    yref: "y",
    xsizemode: "pixel",
    ysizemode: "pixel",
    xanchor: one.at,
    yanchor: height(one),
    path: "M-8,12 L-8,0 L8,0 L8,12",
    line: { color: colours.ink, width: 2.5 },
  }));
  const marks = {
    type: "scatter",
    mode: "markers",
    x: series.open_topped.map((one) => one.at),
    y: series.open_topped.map(height),
    hovertext: series.open_topped.map((one) => one.words),
    hoverinfo: "text",
    marker: { symbol: "line-ew", size: 11, line: { color: colours.ink, width: 2.5 } },
    cliponaxis: false,
  };
  return { shapes, marks };
}

function noSignal(series, colours) {
  return {
    type: "scatter",
    mode: "markers",
    x: series.no_signal.map((one) => one.at),
    y: series.no_signal.map(() => 0),
    hovertext: series.no_signal.map((one) => one.words),
    hoverinfo: "text",
    marker: {
      symbol: "triangle-down",
      size: 12,
      color: STYLE[series.measure].hollow ? colours.paper : colours.ink,
      line: { color: colours.ink, width: 1.75 },
    },
    cliponaxis: false,
  };
}

function limitShapes(figure, colours) {
  return figure.limits.map((limit) => ({
    type: "line",
    xref: "paper",
    x0: 0,
    x1: 1,
    yref: "y",
    y0: limit.value,
    y1: limit.value,
    layer: "below",
    line: { color: colours.soft, width: 1.25, dash: STYLE[limit.measure].limitDash },
  }));
}

// The names of the limits stand at their lines, each at the end and on the side that together leave the least
// in the way of any. Heights are shares of the scale: `middle` is that of the name, measured from its line.
const PLACES = [
  { x: 0, upwards: true, middle: 0.04 },
  { x: 1, upwards: true, middle: 0.04 },
  { x: 0, upwards: false, middle: -0.04 },
  { x: 1, upwards: false, middle: -0.04 },
];
const NAME_HALF = 0.06;
// Across, in shares of the plot: half a mark, and in pixels a letter of a name and of the words at a line's end.
const MARK_HALF = 0.02;
const LETTER_PX = 6;
const WORD_PX = 40;
// A name over another name is worse than a name over any number of marks.
const OVER_A_NAME = 1000;

function limitNames(figure, panel, across, width, colours) {
  const [from, to] = across.map((day) => Date.parse(day));
  const plotPx = Math.max(1, width - LEFT_PX - RIGHT_PX);
  const standing = ({ at, value }, before, after) => {
    const x = (Date.parse(at) - from) / (to - from);
    return { from: x - before, to: x + after, height: value / figure.top };
  };
  const marks = panel.series
    .flatMap((series) => series.stretches.flat())
    .map((point) => standing(point, MARK_HALF, MARK_HALF));
  // The word at the end of a line, and the number of a break, are as much in the way of a name as another name.
  const words = [
    ...lastOfLines(panel).map(({ last }) => standing(last, 0, WORD_PX / plotPx)),
    ...panel.series
      .flatMap((series) => series.breaks)
      .map((gap) => standing({ at: gap.at, value: gap.height }, WORD_PX / 2 / plotPx, WORD_PX / 2 / plotPx)),
  ];
  // 1 where the other stands right under the name, 0 where it is clear of it.
  const hidden = (name, others) =>
    others
      .filter((other) => other.from < name.to && other.to > name.from)
      .reduce((sum, other) => sum + Math.max(0, 1 - Math.abs(other.height - name.height) / NAME_HALF), 0);
  const inTheWay = (names) =>
    names.reduce(
      (sum, name, index) =>
        sum + hidden(name, marks) + hidden(name, [...words, ...names.slice(0, index)]) * OVER_A_NAME,
      0,
    );
  const placed = (limit, place) => {
    const reach = Math.min(1, (limit.words.length * LETTER_PX) / plotPx);
    return {
      ...place,
      limit,
      from: place.x * (1 - reach),
      to: place.x * (1 - reach) + reach,
      height: limit.value / figure.top + place.middle,
    };
  };
  const ways = figure.limits.reduce(
    (begun, limit) => begun.flatMap((names) => PLACES.map((place) => [...names, placed(limit, place)])),
    [[]],
  );
  const crowds = ways.map(inTheWay);
  const names = ways[crowds.indexOf(Math.min(...crowds))];
  // A series of words, and the first: where there is no free place, the marks stand over the name.
  return {
    type: "scatter",
    mode: "text",
    name: "limits",
    x: names.map(({ x }) => across[x]),
    // A little off the line, so that the words do not touch it.
    y: names.map(({ limit, upwards }) => limit.value + (upwards ? 0.012 : -0.012) * figure.top),
    text: names.map(({ limit }) => limit.words),
    textposition: names.map(({ x, upwards }) => `${upwards ? "top" : "bottom"} ${x ? "left" : "right"}`),
    textfont: { color: colours.soft, size: 12 },
    hoverinfo: "skip",
    cliponaxis: false,
  };
}

// The word beside the last mark, so that the line is known without looking for its key.
function seriesNames(panel, colours) {
  return lastOfLines(panel).map(({ measure, last }) => ({
    x: last.at,
    y: last.value,
    xanchor: "left",
    xshift: 9,
    text: SHORT[measure],
    showarrow: false,
    font: { color: colours.ink, size: 13, weight: 600 },
  }));
}

function lastOfLines(panel) {
  return panel.series
    .filter((series) => series.stretches.length > 0)
    .map((series) => ({ measure: series.measure, last: series.stretches.at(-1).at(-1) }));
}

function noiseShapes(panel, colours) {
  return panel.noises.map((noise) => ({
    type: "rect",
    xref: "x",
    x0: noise.from,
    x1: noise.to,
    yref: "y",
    y0: noise.low,
    y1: noise.high,
    layer: "below",
    fillcolor: colours.sunk,
    line: { color: colours.soft, width: 1, dash: "1px,3px" },
  }));
}

// A vessel was treated: the numbers before and after are two series.
function baselineShapes(panel, colours) {
  return panel.events
    .filter((event) => event.baseline)
    .map((event) => ({
      type: "line",
      xref: "x",
      x0: event.from,
      x1: event.from,
      yref: "paper",
      y0: 0,
      y1: 1,
      layer: "below",
      line: { color: colours.ink, width: 1.5, dash: "2px,2px" },
    }));
}

function examTrace(panel, colours) {
  return {
    type: "scatter",
    mode: "markers",
    yaxis: "y2",
    x: panel.exams.map((exam) => exam.at),
    y: panel.exams.map(() => 0),
    hovertext: panel.exams.map((exam) => exam.words),
    hoverinfo: "text",
    marker: {
      symbol: panel.exams.map((exam) => (exam.whole ? "line-ns" : "x-thin")),
      size: 9,
      line: { color: colours.ink, width: 1.5 },
    },
  };
}

// An exam that was somebody else's: named on its day, hollow and grey, and in no line.
function inErrorTrace(panel, colours) {
  return {
    type: "scatter",
    mode: "markers",
    yaxis: "y2",
    x: panel.in_error.map((exam) => exam.at),
    y: panel.in_error.map(() => 0),
    hovertext: panel.in_error.map((exam) => exam.words),
    hoverinfo: "text",
    marker: { symbol: "circle-open", size: 10, color: colours.soft, line: { color: colours.soft, width: 1.25 } },
  };
}

function eventTraces(panel, lanes, colours) {
  return panel.events.map((event) => {
    const lane = 1 + lanes.findIndex((one) => one.kind === event.kind);
    return {
      type: "scatter",
      mode: "lines+markers",
      yaxis: "y2",
      x: [event.from, event.to],
      y: [lane, lane],
      hovertext: [event.words, event.words],
      hoverinfo: "text",
      line: { color: colours.ink, width: 5 },
      // The flag stands at the start; a bar closes what has ended, an arrow leads on what has not;
      // what was done once is a diamond, or two where only the year is known.
      marker: {
        symbol: event.once
          ? ["diamond", "diamond"]
          : ["square", event.ended ? "line-ns" : "triangle-right"],
        size: event.once ? [13, 13] : [9, event.ended ? 14 : 13],
        opacity: 1,
        color: colours.ink,
        line: { color: colours.ink, width: 2 },
      },
    };
  });
}

function chart(figure, panel, data, width, colours) {
  const laneCount = data.lanes.length + 1;
  const lanesPx = laneCount * LANE_PX;
  const height = TOP_PX + PLOT_PX + GAP_PX + lanesPx + FOOT_PX;
  const inner = PLOT_PX + GAP_PX + lanesPx;
  const open = panel.series.map((series) => openTopped(series, figure.top, colours));
  const axis = {
    color: colours.ink,
    linecolor: colours.ink,
    showline: true,
    zeroline: false,
    fixedrange: true,
    tickfont: { size: 13 },
  };
  return {
    traces: [
      limitNames(figure, panel, data.across, width, colours),
      ...panel.series.flatMap((series) => lineTraces(series, colours)),
      ...panel.series.map((series) => breakTrace(series, colours)),
      ...open.map((one) => one.marks),
      ...panel.series.map((series) => noSignal(series, colours)),
      examTrace(panel, colours),
      inErrorTrace(panel, colours),
      ...eventTraces(panel, data.lanes, colours),
    ],
    layout: {
      height,
      margin: { l: LEFT_PX, r: RIGHT_PX, t: TOP_PX, b: FOOT_PX },
      paper_bgcolor: colours.paper,
      plot_bgcolor: colours.paper,
      font: { family: colours.font, color: colours.ink, size: 13 },
      showlegend: false,
      dragmode: false,
      hovermode: "closest",
      hoverlabel: {
        bgcolor: colours.paper,
        bordercolor: colours.ink,
        align: "left",
        font: { family: colours.font, color: colours.ink, size: 13 },
      },
      xaxis: { ...axis, type: "date", range: data.across, anchor: "y2", showgrid: false, nticks: 7, ticks: "outside", ticklen: 4 },
      yaxis: {
        ...axis,
        domain: [(lanesPx + GAP_PX) / inner, 1],
        range: [0, figure.top],
        // The only lines across are the criteria's limits.
        showgrid: false,
        ticks: "outside",
        ticklen: 4,
        tickformat: figure.key === "indices" ? ".1f" : "d",
        nticks: 10,
      },
      yaxis2: {
        ...axis,
        domain: [0, lanesPx / inner],
        range: [-0.6, laneCount - 0.4],
        showgrid: false,
        tickvals: [0, ...data.lanes.map((_, place) => place + 1)],
        ticktext: ["exams", ...data.lanes.map((lane) => lane.words)],
      },
      shapes: [
        ...limitShapes(figure, colours),
        ...noiseShapes(panel, colours),
        ...baselineShapes(panel, colours),
        ...open.flatMap((one) => one.shapes),
      ],
      annotations: seriesNames(panel, colours),
    },
  };
}

function range(across, years, today) {
  if (!years) {
    return across;
  }
  const start = new Date(today);
  start.setFullYear(start.getFullYear() - Number(years));
  const from = start.toISOString().slice(0, 10);
  return [from > across[0] ? from : across[0], across[1]];
}

function start() {
  const data = JSON.parse(document.getElementById("timeline-data").textContent);
  const boxes = [...document.querySelectorAll("[data-chart]")];
  const choices = document.querySelector("[data-timeline-choices]");

  const draw = () => {
    const colours = ink();
    const across = range(data.across, choices.elements.years.value, data.today);
    for (const box of boxes) {
      const figure = data.figures.find((one) => one.key === box.dataset.chart);
      const panel = figure.panels.find((one) => one.limb === box.dataset.limb);
      const { traces, layout } = chart(figure, panel, { ...data, across }, box.clientWidth, colours);
      globalThis.Plotly.react(box, traces, layout, CONFIG);
    }
  };

  const choose = () => {
    const shown = choices.elements.shown.value;
    for (const part of document.querySelectorAll("[data-figure]")) {
      part.hidden = shown !== "both" && part.dataset.figure !== shown;
    }
    draw();
  };

  document.querySelector("[data-without-figures]").hidden = true;
  for (const one of [choices, ...boxes]) {
    one.hidden = false;
  }
  choices.addEventListener("change", choose);
  choices.addEventListener("submit", (event) => event.preventDefault());
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", draw);
  choose();
}

start();

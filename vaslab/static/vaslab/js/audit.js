// Draws the run chart and the funnel plot from the page's own JSON. Nothing is fetched and nothing is sent.
// One ink from the style sheet: lines are told apart by dash, points outside the limits by their mark.

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

function ink() {
  const style = getComputedStyle(document.documentElement);
  const named = (name) => style.getPropertyValue(name).trim();
  return {
    ink: named("--ink"),
    soft: named("--ink-soft"),
    rule: named("--rule"),
    paper: named("--paper"),
    font: named("--font"),
  };
}

function line(x, y, colours, dash, shape) {
  return {
    type: "scatter",
    mode: "lines",
    x,
    y,
    hoverinfo: "skip",
    line: { color: colours.soft, width: 1.25, dash, shape: shape ?? "linear" },
    connectgaps: false,
  };
}

function points(x, marks, colours, mode) {
  return {
    type: "scatter",
    mode,
    x,
    y: marks.map((mark) => mark.value),
    hovertext: marks.map((mark) => mark.said),
    hoverinfo: "text",
    // A hidden month leaves a gap.
    connectgaps: false,
    line: { color: colours.ink, width: 1.75 },
    marker: {
      symbol: marks.map((mark) => (mark.outside ? "diamond" : "circle")),
      size: marks.map((mark) => (mark.outside ? 13 : 8)),
      color: colours.ink,
    },
  };
}

function layout(colours, unit, across, most) {
  return {
    paper_bgcolor: colours.paper,
    plot_bgcolor: colours.paper,
    font: { family: colours.font, color: colours.ink, size: 13 },
    margin: { l: 56, r: 24, t: 16, b: 48 },
    showlegend: false,
    dragmode: false,
    xaxis: { title: { text: across }, fixedrange: true, gridcolor: colours.rule, zeroline: false },
    yaxis: {
      title: { text: unit },
      fixedrange: true,
      gridcolor: colours.rule,
      zeroline: false,
      ...(most ? { range: [-3, most] } : { rangemode: "tozero" }),
    },
  };
}

function runChart(data, colours) {
  const at = data.months.map((month) => month.at);
  const level = (value) => at.map(() => value);
  const traces = [
    line(at, data.months.map((month) => month.low), colours, "3px,3px", "hvh"),
    line(at, data.months.map((month) => month.high), colours, "3px,3px", "hvh"),
    ...(data.centre === null ? [] : [line(at, level(data.centre), colours, "solid")]),
    points(at, data.months, colours, "lines+markers"),
  ];
  return { traces, layout: layout(colours, data.unit, data.across, data.unit === "%" ? 103 : 0) };
}

function funnelPlot(data, colours) {
  const { curves, points: clinics, target } = data.funnel;
  const sizes = curves.map((curve) => curve[0]);
  const dashes = ["6px,4px", "6px,4px", "2px,3px", "2px,3px"];
  const traces = [
    ...dashes.map((dash, place) => line(sizes, curves.map((curve) => curve[place + 1]), colours, dash)),
    line(sizes, sizes.map(() => target), colours, "solid"),
    {
      ...points(clinics.map((clinic) => clinic.size), clinics, colours, "markers+text"),
      text: clinics.map((clinic) => clinic.name),
      textposition: "top center",
      cliponaxis: false,
    },
  ];
  return { traces, layout: layout(colours, "%", "units counted", 110) };
}

function start() {
  const data = JSON.parse(document.getElementById("audit-data").textContent);
  const boxes = [...document.querySelectorAll("[data-audit-chart]")].filter(
    (box) => box.dataset.auditChart === "run" || data.funnel !== null,
  );
  const draw = () => {
    const colours = ink();
    for (const box of boxes) {
      const made = box.dataset.auditChart === "run" ? runChart(data, colours) : funnelPlot(data, colours);
      globalThis.Plotly.react(box, made.traces, made.layout, CONFIG);
    }
  };
  for (const box of boxes) {
    box.hidden = false;
  }
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", draw);
  draw();
}

start();

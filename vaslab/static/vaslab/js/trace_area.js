// The edge of a wound, tapped point by point on its photograph. The server works out the area.

const form = document.querySelector("[data-trace]");
if (form) start(form);

function start(form) {
  const picture = form.querySelector("svg");
  const told = form.querySelector(".trace-told");
  const fields = { points: form.elements.points, scale: form.elements.scale };
  const marked = { points: read(fields.points.value), scale: read(fields.scale.value) };
  const order = [];

  picture.addEventListener("click", (event) => {
    const box = picture.getBoundingClientRect();
    const x = ((event.clientX - box.left) / box.width) * Number(form.dataset.width);
    const y = ((event.clientY - box.top) / box.height) * Number(form.dataset.height);
    const what = form.elements.marks.value;
    if (what === "scale" && marked.scale.length === 2) {
      marked.scale = [];
    }
    marked[what].push([Math.round(x), Math.round(y)]);
    order.push(what);
    if (marked.scale.length === 2 && what === "scale") {
      form.elements.marks.value = "points";
    }
    draw();
  });
  form.querySelector("[data-undo]").addEventListener("click", () => {
    const last = order.pop() ?? (marked.points.length ? "points" : "scale");
    marked[last].pop();
    draw();
  });
  form.querySelector("[data-clear]").addEventListener("click", () => {
    marked.points = [];
    marked.scale = [];
    order.length = 0;
    form.elements.marks.value = "scale";
    draw();
  });
  if (marked.scale.length === 2) form.elements.marks.value = "points";
  draw();

  function draw() {
    for (const name of ["points", "scale"]) {
      fields[name].value = marked[name].map((point) => point.join(",")).join(" ");
    }
    picture.replaceChildren(shape("trace-edge", marked.points, true), shape("trace-scale", marked.scale, false));
    const ends = marked.scale.length;
    told.textContent =
      ends < 2
        ? `${ends} of 2 ends of the scale marked.`
        : `Scale marked. ${marked.points.length} points around the edge${marked.points.length < 3 ? "; at least 3 are needed" : ""}.`;
  }
}

function read(text) {
  return text
    .split(" ")
    .filter(Boolean)
    .map((pair) => pair.split(",").map(Number));
}

function shape(name, points, closed) {
  const group = document.createElementNS("http://www.w3.org/2000/svg", "g");
  group.setAttribute("class", name);
  const line = document.createElementNS("http://www.w3.org/2000/svg", "path");
  line.setAttribute("d", points.length ? `M${points.map((point) => point.join(" ")).join("L")}${closed ? "Z" : ""}` : "");
  line.setAttribute("class", name);
  group.append(line);
  for (const [x, y] of points) {
    const dot = document.createElementNS("http://www.w3.org/2000/svg", "circle");
    dot.setAttribute("cx", x);
    dot.setAttribute("cy", y);
    dot.setAttribute("r", "7");
    dot.setAttribute("class", name);
    group.append(dot);
  }
  return group;
}

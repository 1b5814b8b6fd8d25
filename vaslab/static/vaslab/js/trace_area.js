// The edge of a wound, tapped point by point on its photograph, or marked with the arrow keys and Enter. The
// server works out the area.

const form = document.querySelector("[data-trace]");
if (form) start(form);

function start(form) {
  const picture = form.querySelector("svg");
  const told = form.querySelector(".trace-told");
  const fields = { points: form.elements.points, scale: form.elements.scale };
  const marked = { points: read(fields.points.value), scale: read(fields.scale.value) };
  const order = [];
  const size = [Number(form.dataset.width), Number(form.dataset.height)];
  // Where the next point goes by keyboard; a fiftieth of the picture a step, a tenth of that with Shift.
  const cross = size.map((whole) => Math.round(whole / 2));
  const step = Math.max(1, Math.round(Math.max(...size) / 50));
  const ways = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };

  picture.addEventListener("click", (event) => {
    const box = picture.getBoundingClientRect();
    mark(
      ((event.clientX - box.left) / box.width) * size[0],
      ((event.clientY - box.top) / box.height) * size[1],
    );
  });
  picture.addEventListener("keydown", (event) => {
    if (event.key === "Enter" || event.key === " ") mark(...cross);
    else if (event.key === "Backspace") takeBack();
    else if (ways[event.key]) move(ways[event.key], event.shiftKey ? Math.max(1, Math.round(step / 10)) : step);
    else return;
    event.preventDefault();
  });
  picture.addEventListener("focus", draw);
  picture.addEventListener("blur", draw);

  function move(way, by) {
    for (const axis of [0, 1]) cross[axis] = Math.min(Math.max(cross[axis] + way[axis] * by, 0), size[axis]);
    draw();
  }

  function mark(x, y) {
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
  }

  function takeBack() {
    const last = order.pop() ?? (marked.points.length ? "points" : "scale");
    marked[last].pop();
    draw();
  }

  form.querySelector("[data-undo]").addEventListener("click", takeBack);
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
    if (document.activeElement === picture) picture.append(crossAt(cross));
    const ends = marked.scale.length;
    told.textContent =
      ends < 2
        ? `${ends} of 2 ends of the scale marked.`
        : `Scale marked. ${marked.points.length} points around the edge${marked.points.length < 3 ? "; at least 3 are needed" : ""}.`;
  }
}

function crossAt([x, y]) {
  const line = document.createElementNS("http://www.w3.org/2000/svg", "path");
  line.setAttribute("d", `M${x - 24} ${y}H${x + 24}M${x} ${y - 24}V${y + 24}`);
  line.setAttribute("class", "trace-edge");
  return line;
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

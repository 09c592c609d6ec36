// Draws the picture of this page, moves it along the track and switches its rows.
// body[data-drawn] is "yes" while what is seen agrees with what was asked for.

const picture = JSON.parse(document.getElementById("picture").textContent);
const byId = (id) => document.getElementById(id);
const chart = byId("chart");
const STEP = 1.5; // of a button or a key: the stretch seen becomes shorter or longer by it
const SHIFT = 0.2; // of an arrow key, in stretches seen
const MOST_TOLD = 5; // sentences at one point
const SLACK_PX = 4; // a pointer that moves less while it is down clicks

let view = null;
let hidden = new Set();

// ---- drawing

function rowsOf(packed) {
  if (Array.isArray(packed)) return packed;
  const readers = Object.entries(packed.columns).map(([name, column]) => {
    if (Array.isArray(column)) return [name, (i) => column[i]];
    if ("of" in column) return [name, (i) => column.of[column.at[i]]];
    return [name, () => column.all];
  });
  return Array.from({ length: packed.count }, (_, i) => {
    const row = {};
    for (const [name, read] of readers) row[name] = read(i);
    return row;
  });
}

function specification() {
  const datasets = Object.fromEntries(Object.entries(picture.datasets).map(([name, rows]) => [name, rowsOf(rows)]));
  const spec = { ...structuredClone(picture.spec), datasets };
  if (picture.rows.length) {
    spec.vconcat[0].vconcat = spec.vconcat[0].vconcat.filter((row) => !hidden.has(row.name));
  }
  if (picture.along) {
    for (const param of spec.params) {
      if (param.name === picture.along.near) param.value = seen.from;
      if (param.name === picture.along.far) param.value = seen.to;
    }
  }
  return spec;
}

let drawing = Promise.resolve();
let due = false;

// One drawing at a time; what is asked for meanwhile is drawn in one go after it.
function draw() {
  document.body.dataset.drawn = "no";
  if (due) return;
  due = true;
  drawing = drawing.then(() => {
    due = false;
    return drawNow();
  }).catch((error) => {
    byId("failed").hidden = false;
    console.error(error);
  });
}

async function drawNow() {
  const before = view;
  const drawnFrom = { ...seen };
  // In a container of its own, so that the former picture stands until the next one is whole.
  const place = document.createElement("div");
  const options = { actions: false, renderer: "svg", mode: "vega-lite", tooltip: () => {}, defaultStyle: false };
  const embedded = await window.vegaEmbed(place, specification(), options);
  chart.replaceChildren(place);
  view = embedded.view;
  shown = drawnFrom;
  if (before) before.finalize();
  fit();
  move();
}

// ---- what a pointer tells

// Of all marks under a point, what each that has a sentence says, the topmost first: an area has its say although
// threads and lines without a sentence lie over it.
function sentencesAt(x, y) {
  const nodes = document.elementsFromPoint(x, y);
  if (!nodes.length || !chart.contains(nodes[0])) return [];
  const found = new Set();
  for (const node of nodes) {
    const value = [node.__data__].flat()[0]?.tooltip;
    const words = value !== null && typeof value === "object" ? Object.values(value).join("\n") : value;
    if (words !== null && words !== undefined && words !== "" && words !== "undefined") found.add(words);
  }
  const all = [...found];
  return all.length > MOST_TOLD ? [...all.slice(0, MOST_TOLD), `and ${all.length - MOST_TOLD} more`] : all;
}

function tell(at) {
  const told = byId("told");
  const sentences = drag?.moved ? [] : sentencesAt(at.x, at.y);
  told.hidden = !sentences.length;
  if (told.hidden) return;
  told.replaceChildren(...sentences.map((words) => {
    const line = document.createElement("p");
    line.textContent = words;
    return line;
  }));
  const right = at.x + 14 + told.offsetWidth <= document.documentElement.clientWidth;
  const below = at.y + 18 + told.offsetHeight <= document.documentElement.clientHeight;
  told.style.left = `${Math.max(2, right ? at.x + 14 : at.x - 14 - told.offsetWidth)}px`;
  told.style.top = `${Math.max(2, below ? at.y + 18 : at.y - 10 - told.offsetHeight)}px`;
}

let pointer = null;

function listenForTelling() {
  chart.addEventListener("pointermove", (event) => {
    if (!pointer) requestAnimationFrame(() => {
      if (pointer) tell(pointer);
      pointer = null;
    });
    pointer = { x: event.clientX, y: event.clientY };
  });
  chart.addEventListener("pointerleave", () => {
    pointer = null;
    byId("told").hidden = true;
  });
  // A finger does not hover: it taps.
  chart.addEventListener("click", (event) => tell({ x: event.clientX, y: event.clientY }));
}

// ---- along the track: `seen` is asked for, `shown` is drawn

const whole = picture.along ? { from: picture.along.from, to: picture.along.to } : { from: 0, to: 0 };
let seen = { ...whole };
let shown = { ...whole };
let moving = false;
let drag = null;
let marked = null; // the place last gone to, until the next move

function see(from, to, place = null) {
  marked = place;
  byId("places").value = place ? place.name : "";
  const most = whole.to - whole.from;
  const long = Math.min(most, Math.max(picture.along.least, to - from));
  // About the same middle; at the ends of the track the stretch lies against the end.
  const first = Math.min(whole.to - long, Math.max(whole.from, (from + to - long) / 2));
  seen = long === most ? { ...whole } : { from: first, to: first + long };
  byId("told").hidden = true; // what it told of has moved away
  byId("closer").disabled = long <= picture.along.least;
  byId("farther").disabled = byId("whole").disabled = long === most;
  byId("where").textContent = long === most ? "" : lanesSeen();
  move();
}

// The lanes' own names stand at their middles and may be out of sight.
function lanesSeen() {
  const lanes = picture.along.places.filter((place) => place.to > place.from);
  const names = lanes.filter((lane) => lane.from < seen.to && lane.to > seen.from).map((lane) => lane.name);
  return names.length ? `seen: ${names.join(", ")}` : "";
}

function move() {
  if (moving || !view) return;
  showPlace();
  if (seen.from === shown.from && seen.to === shown.to) {
    if (!due) document.body.dataset.drawn = "yes";
    return;
  }
  document.body.dataset.drawn = "no";
  moving = true;
  requestAnimationFrame(async () => {
    const next = { ...seen };
    await view.signal(picture.along.near, next.from).signal(picture.along.far, next.to).runAsync();
    shown = next;
    moving = false;
    move();
  });
}

// The stretch seen becomes `by` times as long; the place `at`, from 0 at its left end to 1, stays where it is.
function stretch(by, at = 0.5) {
  const long = seen.to - seen.from;
  const next = Math.min(whole.to - whole.from, Math.max(picture.along.least, long * by));
  const from = seen.from + (long - next) * at;
  see(from, from + next);
}

function shift(by) {
  const way = by * (seen.to - seen.from);
  see(seen.from + way, seen.to + way);
}

const seeWhole = () => see(whole.from, whole.to);

function goTo(place) {
  if (place.to > place.from) {
    const room = 0.03 * (place.to - place.from);
    see(place.from - room, place.to + room, place);
  } else {
    const half = Math.min(seen.to - seen.from, (whole.to - whole.from) / 4) / 2;
    see(place.from - half, place.from + half, place);
  }
}

// A dashed line through all rows at the place gone to; at both ends of a lane.
function showPlace() {
  for (const node of chart.querySelectorAll(".place")) node.remove();
  if (!marked) return;
  const { left, width, top, foot } = plot();
  const inner = chart.firstElementChild;
  const all = inner.getBoundingClientRect();
  for (const at of new Set([marked.from, marked.to])) {
    const share = (at - shown.from) / (shown.to - shown.from);
    if (share < 0 || share > 1) continue;
    const line = document.createElement("div");
    line.className = "place";
    // In shares of the picture, so that it stays in place where the window changes its size.
    line.style.left = `calc(${100 * (left + share * width - all.left) / all.width}% - 0.5px)`;
    line.style.top = `${100 * (top - all.top) / all.height}%`;
    line.style.height = `${100 * (foot - top) / all.height}%`;
    inner.append(line);
  }
}

const boxesIn = (within) => [...within.querySelectorAll("path.background")].map((one) => one.getBoundingClientRect());
const groupOf = (row) => chart.querySelector(`svg g.${row.replaceAll("-", "_")}_group`);

// Ends of the plot, in pixels of the window: from the first row to the ruler, which is always drawn and as wide as all
// rows. In a picture without rows all views of one width are the plot but for the last, which is the key.
function plot() {
  const ruler = groupOf("ruler");
  if (ruler) {
    const { left, width, top, bottom } = boxesIn(ruler)[0];
    const first = picture.rows.find((row) => !hidden.has(row));
    const group = first && groupOf(first);
    return { left, width, top: group ? boxesIn(group)[0].top : top, foot: bottom };
  }
  const all = boxesIn(chart);
  const widest = Math.max(...all.map((box) => box.width));
  const views = all.filter((box) => box.width > widest - 1 && box.height > 0);
  return { left: views[0].left, width: views[0].width, top: views[0].top, foot: views.at(-2)?.bottom ?? views[0].bottom };
}

function shareOf(event) {
  const { left, width } = plot();
  return Math.min(1, Math.max(0, (event.clientX - left) / width));
}

function listenAlong() {
  chart.addEventListener("wheel", (event) => {
    if (!event.ctrlKey && !event.shiftKey) return;
    event.preventDefault();
    // With Shift some systems turn the wheel's way sideways.
    const way = event.deltaY || event.deltaX;
    const px = event.deltaMode === 1 ? 30 * way : way;
    stretch(Math.exp(0.002 * Math.max(-300, Math.min(300, px))), shareOf(event));
  }, { passive: false });
  chart.addEventListener("pointerdown", (event) => {
    if (event.button === 0 && view) drag = { x: event.clientX, seen: { ...seen }, moved: false, width: plot().width };
  });
  chart.addEventListener("pointermove", (event) => {
    if (!drag) return;
    const px = event.clientX - drag.x;
    if (!drag.moved && Math.abs(px) < SLACK_PX) return;
    if (!drag.moved) {
      drag.moved = true;
      chart.setPointerCapture(event.pointerId);
      chart.classList.add("dragged");
      byId("told").hidden = true;
    }
    seen = { ...drag.seen };
    shift(-px / drag.width);
  });
  for (const kind of ["pointerup", "pointercancel", "lostpointercapture"]) {
    chart.addEventListener(kind, () => {
      drag = null;
      chart.classList.remove("dragged");
    });
  }
  chart.addEventListener("dblclick", seeWhole);
  chart.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.altKey || event.metaKey) return;
    const does = {
      "+": () => stretch(1 / STEP),
      "=": () => stretch(1 / STEP),
      "-": () => stretch(STEP),
      0: seeWhole,
      ArrowLeft: () => shift(-SHIFT),
      ArrowRight: () => shift(SHIFT),
    }[event.key];
    if (!does) return;
    event.preventDefault();
    does();
  });
}

function offerAlong() {
  chart.classList.add("zooms");
  chart.tabIndex = 0;
  chart.setAttribute("role", "group");
  chart.setAttribute("aria-label", "the picture; plus, minus, 0 and the arrow keys move it along the track");
  byId("along").hidden = byId("hint").hidden = false;
  byId("closer").addEventListener("click", () => stretch(1 / STEP));
  byId("farther").addEventListener("click", () => stretch(STEP));
  byId("whole").addEventListener("click", seeWhole);
  const list = byId("places");
  list.hidden = !picture.along.places.length;
  for (const place of picture.along.places) list.add(new Option(place.name));
  list.addEventListener("change", () => {
    if (list.selectedIndex > 0) goTo(picture.along.places[list.selectedIndex - 1]);
    else see(seen.from, seen.to);
  });
  listenAlong();
}

// ---- rows and file

function offerRows() {
  const group = byId("rows");
  group.hidden = false;
  for (const name of picture.rows) {
    const box = document.createElement("input");
    box.type = "checkbox";
    box.checked = true;
    box.name = name;
    box.addEventListener("change", () => {
      if (box.checked) hidden.delete(name);
      else hidden.add(name);
      byId("none").hidden = hidden.size < picture.rows.length;
      draw();
    });
    const label = document.createElement("label");
    label.append(box, ` ${name.replaceAll("-", " ")}`);
    group.append(label);
  }
}

// A picture wider than the window is drawn as wide as the window, unless its natural size is asked for.
function fit() {
  const svg = chart.querySelector("svg");
  if (!svg) return;
  const natural = chart.classList.contains("natural");
  byId("size").hidden = !natural && svg.width.baseVal.value <= chart.clientWidth;
  byId("size").textContent = natural ? "fit the window" : "natural size";
}

function save() {
  const drawn = chart.querySelector("svg").cloneNode(true);
  drawn.prepend(...[...byId("hatches").childNodes].map((node) => node.cloneNode(true)));
  const file = new Blob([new XMLSerializer().serializeToString(drawn)], { type: "image/svg+xml" });
  const link = document.createElement("a");
  link.href = URL.createObjectURL(file);
  link.download = `${picture.name}.svg`;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 10000);
}

document.addEventListener("keydown", (event) => {
  if (event.key === "Escape") byId("told").hidden = true;
});
window.addEventListener("scroll", () => { byId("told").hidden = true; }, { passive: true });
window.addEventListener("resize", fit);
byId("size").addEventListener("click", () => {
  chart.classList.toggle("natural");
  fit();
});
byId("save").addEventListener("click", save);
listenForTelling();
if (picture.rows.length > 1) offerRows();
if (picture.along) {
  offerAlong();
  see(whole.from, whole.to);
}
draw();

// Draws the picture of this page, moves it along the track and switches its rows.
// body[data-drawn] is "yes" while what is seen agrees with what was asked for.

const picture = JSON.parse(document.getElementById("picture").textContent);
const byId = (id) => document.getElementById(id);
const chart = byId("chart");
const STEP = 1.5; // of a button or a key: the stretch seen becomes shorter or longer by it
const SHIFT = 0.2; // of an arrow key, in stretches seen
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
  const options = { actions: false, renderer: "svg", mode: "vega-lite", tooltip: tell, defaultStyle: false };
  const embedded = await window.vegaEmbed(place, specification(), options);
  chart.replaceChildren(place);
  view = embedded.view;
  shown = drawnFrom;
  if (before) before.finalize();
  move();
}

// ---- what a pointer tells

function tell(_handler, event, _item, value) {
  const told = byId("told");
  const words = value !== null && typeof value === "object" ? Object.values(value).join("\n") : value;
  if (words === null || words === undefined || words === "" || words === "undefined" || drag?.moved) {
    told.hidden = true;
    return;
  }
  told.textContent = words;
  told.hidden = false;
  const at = event.touches?.[0] ?? event.changedTouches?.[0] ?? event;
  const right = at.clientX + 14 + told.offsetWidth <= document.documentElement.clientWidth;
  const below = at.clientY + 18 + told.offsetHeight <= document.documentElement.clientHeight;
  told.style.left = `${Math.max(2, right ? at.clientX + 14 : at.clientX - 14 - told.offsetWidth)}px`;
  told.style.top = `${Math.max(2, below ? at.clientY + 18 : at.clientY - 10 - told.offsetHeight)}px`;
}

// ---- along the track: `seen` is asked for, `shown` is drawn

const whole = picture.along ? { from: picture.along.from, to: picture.along.to } : { from: 0, to: 0 };
let seen = { ...whole };
let shown = { ...whole };
let moving = false;
let drag = null;

function see(from, to) {
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
    see(place.from - room, place.to + room);
  } else {
    const half = Math.min(seen.to - seen.from, (whole.to - whole.from) / 4) / 2;
    see(place.from - half, place.from + half);
  }
}

// Left end and width of the plot, in pixels of the window: the ruler is always drawn, and as wide as all rows.
function plot() {
  const box = chart.querySelector("svg g.ruler_group path.background").getBoundingClientRect();
  return { left: box.left, width: box.width };
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
    // Back to the heading, so that the same place may be chosen again.
    list.selectedIndex = 0;
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
      draw();
    });
    const label = document.createElement("label");
    label.append(box, ` ${name.replaceAll("-", " ")}`);
    group.append(label);
  }
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

// A finger does not hover: it taps.
chart.addEventListener("click", (event) => {
  const item = [event.target.__data__].flat()[0];
  tell(null, event, item, item?.tooltip);
});
document.addEventListener("keydown", (event) => {
  if (event.key === "Escape") byId("told").hidden = true;
});
window.addEventListener("scroll", () => { byId("told").hidden = true; }, { passive: true });
byId("save").addEventListener("click", save);
if (picture.rows.length > 1) offerRows();
if (picture.along) {
  offerAlong();
  see(whole.from, whole.to);
}
draw();

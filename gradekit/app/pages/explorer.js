// The explorer of a page: boxes in, values, place and parts out. `page` says what is on it.

const $ = id => document.getElementById(id);
const inputs = [...document.querySelectorAll("#controls input")];
const shown = x => {
  if (!Number.isFinite(x)) return "–";
  if (x === 0) return "0";
  const text = Math.abs(x) >= 1e5 || Math.abs(x) < 1e-4 ? x.toExponential(3) : x.toPrecision(4);
  return String(text.includes("e") ? text : Number(text)).replace("-", "−");
};
const wordsOf = flags => page.flagWords.filter(([bit]) => flags & bit).map(w => w[1]).join("; ");

// "18,2", "18.2", "350 ppm", "" for what is not known. A number that can be read in two ways, such
// as "1,234.5", is refused.
function numberOf(text) {
  const match = /^([+-]?\d*[.,]?\d*(?:e[+-]?\d+)?)\s*(ppm|%)?$/i.exec(text.trim());
  if (text.trim() === "") return null;
  if (!match || !/\d/.test(match[1])) return undefined;
  const value = Number(match[1].replace(",", "."));
  return match[2] && match[2].toLowerCase() === "ppm" ? value / 1e4 : value;
}

function read() {
  const state = {};
  let problem = "";
  for (const input of inputs) {
    const group = input.closest("fieldset").dataset.group;
    const value = numberOf(input.value);
    const content = group !== "conditions" && group !== "weld";
    const wrong = value === undefined || (content && value !== null && (value < 0 || value > 100));
    input.setAttribute("aria-invalid", String(wrong));
    if (wrong)
      problem = problem || `${input.getAttribute("aria-label")} · must be a number` +
        `${content ? " from 0 to 100, wt%" : ""} · got '${input.value}'`;
    else if (value !== null) (state[group] ??= {})[input.dataset.name] = value;
  }
  for (const [group, contents] of Object.entries(state)) {
    if (problem || group === "conditions" || group === "weld") continue;
    const sum = Object.values(contents).reduce((a, b) => a + b, 0);
    if (sum > 100) problem = `the contents · must be 100 % together at most · got ${shown(sum)}`;
  }
  $("error").textContent = problem;
  return problem ? null : state;
}

const share = (a, b, part) => {
  const names = new Set([...Object.keys(a), ...Object.keys(b)]);
  return Object.fromEntries([...names].map(n => [n, part * (a[n] ?? NaN) + (1 - part) * (b[n] ?? NaN)]));
};
const known = contents => Object.fromEntries(Object.entries(contents).filter(([, v]) => !Number.isNaN(v)));

function metal(state, dilution) {
  const from = (state.weld.share ?? 50) / 100;
  const parents = share(state.first ?? {}, state.second ?? {}, from);
  if (dilution === 0) return {...state.wire};
  return dilution === 1 ? known(parents) : known(share(parents, state.wire ?? {}, dilution));
}

const steelOf = state =>
  page.kind === "weld" ? metal(state, (state.weld.dilution ?? 0) / 100) : state.trial ?? {};

const begin = read();
let now = begin;

function values(state) {
  const contents = steelOf(state);
  const kind = familyOf(contents);
  return page.relations.map(name => {
    const relation = model.byName[name];
    const given = Object.fromEntries(
      relation.conditions.map(c => [c, state.conditions?.[c]]).filter(([, v]) => v !== undefined));
    return evaluate(relation, contents, given, [], kind);
  });
}

const first = values(begin);

function show() {
  const state = read();
  if (!state) return;
  now = state;
  values(state).forEach((found, k) => {
    const row = document.querySelector(`tr[data-relation="${page.relations[k]}"]`);
    const cell = row.querySelector("td[data-value]");
    cell.dataset.value = Number.isFinite(found.value) ? String(found.value) : "";
    cell.firstChild.textContent = shown(found.value);
    row.querySelector(".start").textContent = shown(first[k].value);
    row.querySelector(".error-of").textContent = Number.isFinite(found.error) ? shown(found.error) : "";
    row.querySelector(".words").textContent = wordsOf(found.flags & ~flag.RANGE_NOT_STATED);
  });
  draw();
  if (opened) parts(opened);
}

// --- the chart --------------------------------------------------------------------------------

const NS = "http://www.w3.org/2000/svg";
function node(tag, attributes, text) {
  const made = document.createElementNS(NS, tag);
  for (const [name, value] of Object.entries(attributes)) made.setAttribute(name, value);
  if (text) made.textContent = text;
  return made;
}

function toPixels(chart, x, y) {
  const [left, top, right, bottom] = chart.box;
  const px = left + (x - chart.x[0]) * ((right - left) / (chart.x[1] - chart.x[0]));
  const py = bottom - (y - chart.y[0]) * ((bottom - top) / (chart.y[1] - chart.y[0]));
  const inside = px >= left && px <= right && py >= top && py <= bottom;
  return [Math.min(Math.max(px, left), right), Math.min(Math.max(py, top), bottom), inside, px, py];
}

function mark(chart, spot, name, shape, extra = {}) {
  const group = node("g", {"data-x": spot.x, "data-y": spot.y, ...extra});
  if (!Number.isFinite(spot.x + spot.y)) return group;
  const [x, y, inside] = toPixels(chart, spot.x, spot.y);
  const look = {fill: shape === "circle" ? "#0b62a8" : "#c05a00", stroke: "#fff", "stroke-width": 1.4};
  group.append(
    shape === "circle" ? node("circle", {cx: x, cy: y, r: 6, ...look})
    : node("rect", {x: x - 5, y: y - 5, width: 10, height: 10, ...look}));
  const flip = x > chart.width - 130;
  group.append(node("text", {
    x: flip ? x - 9 : x + 9, y: y - 8, "text-anchor": flip ? "end" : "start", "font-size": 13,
    "font-family": "sans-serif", fill: "#1d232b", stroke: "#fff", "stroke-width": 3,
    "paint-order": "stroke",
  }, inside ? name : `${name} (outside)`));
  return group;
}

function spotWords(diagram, spot, name) {
  if (!Number.isFinite(spot.x + spot.y)) return `${name}: no place, ${wordsOf(spot.flags)}.`;
  if (!spot.region) return `${name}: outside the chart, which says nothing there.`;
  const words = wordsOf(spot.flags & ~flag.ASSUMED_ZERO);
  return `${name}: ${diagram.words[spot.region] || spot.region}` +
    (Number.isFinite(spot.value)
      ? `, ${shown(spot.value)} ± ${shown(spot.tolerance)} ${diagram.unit}` : "") +
    (words ? ` (${words})` : "") + ".";
}

function draw() {
  if (!page.charts.length) {
    $("answer").textContent = page.lead;
    return;
  }
  const name = $("diagram") ? $("diagram").value : page.charts[0].name;
  for (const box of document.querySelectorAll(".chart")) box.hidden = box.dataset.diagram !== name;
  const chart = page.charts.find(c => c.name === name);
  const diagram = model.diagrams.find(d => d.name === name);
  const layer = document.querySelector(`.chart[data-diagram="${name}"] svg.moving`);
  const contents = steelOf(now);
  const spot = locate(diagram, contents, [], familyOf(contents));
  const marks = [];
  let words = spotWords(diagram, spot, page.kind === "weld" ? "weld metal" : "trial");
  for (const [heat, its] of Object.entries(page.heats))
    marks.push(mark(chart, locate(diagram, its), heat, "rect"));
  if (page.kind === "weld") words += weldLine(chart, diagram, marks);
  else {
    const start = locate(diagram, steelOf(begin));
    if (start.x !== spot.x || start.y !== spot.y) marks.push(mark(chart, start, "start", "rect"));
  }
  marks.push(mark(chart, spot, page.kind === "weld" ? "weld metal" : "trial", "circle", {class: "trial"}));
  layer.replaceChildren(node("title", {}, words), ...marks);
  $("answer").textContent = words;
  $("place").textContent = `${diagram.title}. ${diagram.caution}.`;
}

// The line of all dilutions, thick where the ferrite is kept; returns what is to be said of it.
function weldLine(chart, diagram, marks) {
  const steps = 400, low = now.weld.low ?? 3, high = now.weld.high ?? 8;
  const spots = [];
  for (let k = 0; k <= steps; k += 1) spots.push(locate(diagram, metal(now, k / steps)));
  const path = (from, to) => spots.slice(from, to + 1).filter(s => Number.isFinite(s.x + s.y))
    .map(s => toPixels(chart, s.x, s.y).slice(3).join(" ")).join(" L");
  const [left, top, right, bottom] = chart.box, [wide, tall] = [right - left, bottom - top];
  // An inner picture of the size of the chart cuts off what lies outside.
  const lines = node("svg", {x: left, y: top, width: wide, height: tall,
    viewBox: `${left} ${top} ${wide} ${tall}`});
  const kept = spots.map(s => s.region && s.value >= low && s.value <= high);
  const a = kept.indexOf(true), b = kept.lastIndexOf(true);
  lines.append(node("path", {d: `M${path(0, steps)}`, fill: "none", stroke: "#20262e",
    "stroke-width": 1.6, "stroke-dasharray": "7 4"}));
  if (a >= 0)
    lines.append(node("path", {d: `M${path(a, b)}`, fill: "none", stroke: "#0b7a4b", "stroke-width": 6}));
  marks.unshift(lines);
  marks.push(mark(chart, spots[0], "wire", "rect"), mark(chart, spots[steps], "parents", "rect"));
  return a < 0 ? ` No dilution keeps ${shown(low)} to ${shown(high)} ${diagram.unit}.`
    : ` ${shown(low)} to ${shown(high)} ${diagram.unit} are kept from ` +
      `${shown((100 * a) / steps)} to ${shown((100 * b) / steps)} % dilution (thick line).`;
}

// --- what makes up a value --------------------------------------------------------------------

function bars(title, rows) {
  const most = Math.max(...rows.map(([, v]) => Math.abs(v)), 1e-300);
  const list = document.createElement("div");
  list.className = "bars";
  for (const [name, value] of rows) {
    const label = document.createElement("span"), bar = document.createElement("span");
    const number = document.createElement("span");
    label.textContent = name;
    bar.className = value < 0 ? "bar less" : "bar";
    bar.style.width = `${(100 * Math.abs(value)) / most}%`;
    number.textContent = (value > 0 ? "+" : "") + shown(value);
    list.append(label, bar, number);
  }
  const head = document.createElement("h2");
  head.textContent = title;
  return [head, list];
}

function parts(name) {
  const relation = model.byName[name];
  const pick = state => Object.fromEntries(
    relation.conditions.map(c => [c, state.conditions?.[c]]).filter(([, v]) => v !== undefined));
  const contents = steelOf(now);
  const whole = evaluate(relation, contents, pick(now));
  const taken = explain(relation, contents, pick(now)).filter(([, v]) => v !== 0);
  const change = why(relation, {contents: steelOf(begin), conditions: pick(begin)},
    {contents, conditions: pick(now)});
  const moved = Object.entries(change.parts).filter(([, v]) => v !== 0 && Number.isFinite(v));
  moved.sort((p, q) => Math.abs(q[1]) - Math.abs(p[1]));
  const unit = relation.unit === "1" ? "" : ` ${relation.unit}`;
  const blocks = taken.length
    ? bars(`${relation.title}: ${shown(whole.value)}${unit} is the sum of`, taken)
    : [Object.assign(document.createElement("p"), {textContent: wordsOf(whole.flags)})];
  if (moved.length)
    blocks.push(...bars(`Change since the start, ${shown(change.after.value - change.before.value)}${unit}`
      + ", by element", moved));
  const rivals = page.relations.filter(n => n !== name && model.byName[n].quantity === relation.quantity);
  if (rivals.length) {
    const line = document.createElement("p");
    line.textContent = `Other relations of ${relation.quantity}: ` + rivals.map(n =>
      `${model.byName[n].title} ${document.querySelector(`tr[data-relation="${n}"] button`).textContent}`).join("; ");
    blocks.push(line);
  }
  const row = document.createElement("tr"), cell = document.createElement("td");
  row.className = "parts";
  cell.colSpan = 7;
  cell.append(...blocks);
  row.append(cell);
  close();
  opened = name;
  document.querySelector(`tr[data-relation="${name}"]`).after(row);
}

let opened = "";
function close() {
  opened = "";
  for (const row of document.querySelectorAll("tr.parts")) row.remove();
}

// --- what the page answers to -------------------------------------------------------------------

// No cell of what is saved can start a formula in a spreadsheet.
const safe = text => (/^[=+\-@\t\r]/.test(text) ? `'${text}` : text).replace(/"/g, '""');

function exported() {
  const lines = [["name", "value", "unit", "evidence", "to be said"]];
  for (const [group, contents] of Object.entries(now))
    for (const [name, value] of Object.entries(contents))
      lines.push([group === "trial" ? name : `${group} ${name}`, value, "", "", ""]);
  for (const row of document.querySelectorAll("tr[data-relation]")) {
    const cells = [...row.children].map(c => c.textContent);
    lines.push([row.dataset.relation, row.querySelector("td[data-value]").dataset.value, cells[3], cells[5], cells[6]]);
  }
  return lines.map(line => line.map(c => typeof c === "number" ? c : `"${safe(String(c))}"`).join(",")).join("\r\n");
}

for (const input of inputs) {
  input.addEventListener("input", show);
  input.addEventListener("keydown", event => {
    if (event.key !== "ArrowUp" && event.key !== "ArrowDown") return;
    const value = numberOf(input.value);
    if (value === undefined) return;
    event.preventDefault();
    const step = Number(input.dataset.step) * (event.key === "ArrowUp" ? 1 : -1);
    input.value = String(Math.max(0, Number(((value ?? 0) + step).toPrecision(12))));
    show();
  });
}
$("controls").addEventListener("submit", event => event.preventDefault());
$("reset").addEventListener("click", () => {
  for (const input of inputs) input.value = input.defaultValue;
  show();
});
$("export").addEventListener("click", () => {
  const link = document.createElement("a");
  link.href = URL.createObjectURL(new Blob(["\ufeff" + exported()], {type: "text/csv"}));
  link.download = "values.csv";
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 1000);
});
if ($("diagram")) $("diagram").addEventListener("change", draw);
for (const button of document.querySelectorAll("td[data-value] button"))
  button.addEventListener("click", () => {
    const name = button.closest("tr").dataset.relation, open = opened === name;
    for (const other of document.querySelectorAll("td[data-value] button"))
      other.setAttribute("aria-expanded", "false");
    button.setAttribute("aria-expanded", String(!open));
    if (open) close();
    else parts(name);
  });
for (const input of inputs) input.value = input.defaultValue; // a reload begins at the start
show();

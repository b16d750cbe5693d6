// What an explorer shows of a state, drawn in the page: marks, values, parts, spreads, welds. The
// same in a file of its own (saved.js) and in a notebook (live.js). The page is made by the library;
// each part that moves is found by its `data-of`.

const SVG = "http://www.w3.org/2000/svg";
const FONT = "DejaVu Sans,Verdana,Arial,sans-serif";
const [LINE, KEPT, UP, DOWN] = ["#20262e", "#0b7a4b", "#1f6f9f", "#b5541c"];
const STEPS_OF_WELD = 200;

function node(tag, attributes = {}, ...inside) {
  const made = document.createElementNS(SVG, tag);
  for (const [name, value] of Object.entries(attributes)) made.setAttribute(name, value);
  made.append(...inside);
  return made;
}
function html(tag, attributes = {}, ...inside) {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) made.setAttribute(name, value);
  made.append(...inside);
  return made;
}
// Nothing is touched that stays as it is: a selected text stays selected.
function put(element, text) {
  if (element && element.textContent !== text) element.textContent = text;
}
function dress(element, name, text) {
  if (element.getAttribute(name) !== text) element.setAttribute(name, text);
}

// --- words ------------------------------------------------------------------------------------

const wordsOf = flags => page.flagWords.filter(([bit]) => flags & bit).map(w => w[1]).join("; ");

// "18,2", "18.2", "350 ppm", "68 °F"; null for an empty text, undefined for what is no number, can be
// read two ways ("1,700" where both are possible) or has a unit of something else.
function numberOf(text, most = null, unit = "") {
  const typed = text.trim().replace("−", "-");
  if (typed === "") return null;
  const match = /^([+-]?(?:\d+[.,]?\d*|[.,]\d+)(?:e[+-]?\d+)?)\s*(\D.*)?$/i.exec(typed);
  if (!match) return undefined;
  const behind = (match[2] ?? "").replace(/[\s._()[\]{}-]/g, "").toLowerCase();
  const scale = behind ? page.units[unit]?.[behind] : [1, 0];
  if (!scale) return undefined;
  const end = scale[1] ? Infinity : (most ?? Infinity) / scale[0];
  if (/^[+-]?[1-9]\d{0,2}[.,]\d{3}$/.test(match[1]) && !(Math.abs(Number(match[1].replace(/[.,]/, ""))) > end))
    return undefined;
  return Number((scale[0] * Number(match[1].replace(",", ".")) + scale[1]).toPrecision(15));
}

// --- the chart ----------------------------------------------------------------------------------

function toPixels(chart, x, y) {
  const [left, top, right, bottom] = chart.box;
  return [left + (x - chart.x[0]) * ((right - left) / (chart.x[1] - chart.x[0])),
    bottom - (y - chart.y[0]) * ((bottom - top) / (chart.y[1] - chart.y[0]))];
}

// Pixels of a mark, at the border if it lies outside, and the way it points then.
function inside(chart, spot) {
  const [left, top, right, bottom] = chart.box, [x, y] = toPixels(chart, spot.x, spot.y);
  const out = [(x > right) - (x < left), (y > bottom) - (y < top)];
  if (!out[0] && !out[1]) return [x, y, null];
  return [Math.min(Math.max(x, left + 6), right - 6), Math.min(Math.max(y, top + 6), bottom - 6), out];
}

function arrowHead(x, y, [a, b]) {
  const long = Math.hypot(a, b), [wx, wy] = [a / long, b / long], [sx, sy] = [-wy, wx];
  const corners = [[6, 0], [-5, 6], [-5, -6]].map(([w, s]) => [x + w * wx + s * sx, y + w * wy + s * sy]);
  return node("polygon", {points: corners.map(c => c.map(v => v.toFixed(1)).join(",")).join(" ")});
}

function textSize(text) {
  const narrow = [...text].filter(c => "iIjl.,:;'|!() 1t-".includes(c)).length;
  return [(0.66 * (text.length - narrow) + 0.42 * narrow) * 12, 14.4];
}

const WAYS = [0, 180, 90, 270, 40, 140, 320, 220, 20, 60, 110, 160, 200, 250, 290, 340]
  .map(a => [Math.cos((a * Math.PI) / 180), Math.sin((a * Math.PI) / 180)]);
const meets = (p, q) => p[0] < q[2] && q[0] < p[2] && p[1] < q[3] && q[1] < p[3];

// A place for each name where it meets no other, no mark and nothing that the chart has written;
// the last one chooses first. Where there is no room near, it stands apart, with a line to it.
function placeNames(spots, names, chart) {
  const [left, top, right, bottom] = chart.box;
  const taken = [...chart.labels, ...spots.map(([x, y]) => [x - 6, y - 6, x + 6, y + 6])];
  const places = spots.map(() => null);
  for (let k = spots.length - 1; k >= 0; k -= 1) {
    if (!names[k]) continue;
    const [x, y] = spots[k], [wide, high] = textSize(names[k]);
    search: for (const reach of [0, 8, 18, 30, 46, 66])
      for (const [wx, wy] of WAYS) {
        const gap = reach + 8;
        const cx = x + wx * gap + (Math.abs(wx) > 0.2 ? Math.sign(wx) : wx) * (wide / 2);
        const cy = y + wy * (gap + high / 2);
        const box = [cx - wide / 2, cy - high / 2, cx + wide / 2, cy + high / 2];
        if (box[0] < left || box[2] > right || box[1] < top || box[3] > bottom) continue;
        if (taken.some(other => meets(box, other))) continue;
        taken.push(box);
        places[k] = {x: cx, y: cy, end: reach > 8
          ? [Math.min(Math.max(x, box[0]), box[2]), Math.min(Math.max(y, box[1]), box[3])] : null};
        break search;
      }
  }
  return places;
}

// Marks: {x, y, name, style}; the last lies on top. `trail`: a thin line joins them.
function drawMarks(layer, chart, marks, words, trail, lines = []) {
  marks = marks.filter(m => Number.isFinite(m.x + m.y));
  const spots = marks.map(m => inside(chart, m));
  const names = marks.map((m, k) => (m.name && spots[k][2] ? `${m.name} (outside)` : m.name));
  const drawn = [...lines];
  if (trail && marks.length > 1)
    drawn.push(node("polyline", {points: spots.map(([x, y]) => `${x.toFixed(1)},${y.toFixed(1)}`).join(" "),
      fill: "none", stroke: LINE, "stroke-dasharray": "2 3"}));
  const places = placeNames(spots, names, chart);
  marks.forEach((mark, k) => {
    const [x, y, out] = spots[k], shape = page.shapes[mark.style], place = places[k];
    const group = node("g", {"data-x": mark.x, "data-y": mark.y, class: mark.style ? "mark" : "mark trial"});
    const sign = out ? arrowHead(x, y, out)
      : node(shape.tag, {...shape.attributes, transform: `translate(${x.toFixed(2)} ${y.toFixed(2)})`});
    for (const [name, value] of [["fill", shape.colour], ["stroke", "#fff"], ["stroke-width", "1.3"]])
      sign.setAttribute(name, value);
    group.append(sign);
    if (place?.end)
      group.append(node("line", {x1: x, y1: y, x2: place.end[0], y2: place.end[1], stroke: shape.colour,
        "stroke-width": ".8"}));
    if (place)
      group.append(node("text", {x: place.x, y: place.y + 4.2, "text-anchor": "middle", "font-size": 12,
        "font-family": FONT, fill: shape.ink, stroke: "#fff", "stroke-width": 3, "paint-order": "stroke"},
        names[k]));
    drawn.push(group);
  });
  dress(layer, "viewBox", `0 0 ${chart.width} ${chart.height}`);
  dress(layer, "role", "img");
  dress(layer, "aria-label", words);
  layer.replaceChildren(...drawn);
}

// What is read at a place, in three parts: what stands before the reading, the reading, what follows.
function placeInParts(diagram, spot, name) {
  const words = wordsOf(spot.flags);
  if (!Number.isFinite(spot.x + spot.y)) return [`${name}: no place on the diagram (${words}).`, "", ""];
  const where = spot.region ? `field ${spot.region}` : "outside the chart";
  return [`${name}: ${where}, `, `${number(spot.value, 3)} ± ${number(spot.tolerance, 2)} ${diagram.unit}`,
    `${words ? ` (${words})` : ""}.`];
}

// --- bars ---------------------------------------------------------------------------------------

// Each value as bars to both sides of a zero: [title, [name, size] rows].
function partsPicture(values) {
  const [wide, left, right, row] = [560, 150, 64, 20], drawn = [], words = [];
  let y = 4;
  for (const [title, rows] of values) {
    const fit = textSize(title)[0] * (13 / 12) > wide - 8 ? {textLength: wide - 8, lengthAdjust: "spacingAndGlyphs"} : {};
    drawn.push(node("text", {x: 4, y: y + 14, "font-weight": 700, ...fit}, title));
    words.push([title, rows.map(([name, size]) => `${name}: ${number(size, 3)}`).join(", ")].filter(Boolean).join(" = ") + ".");
    y += row + 2;
    const low = Math.min(0, ...rows.map(r => r[1])), high = Math.max(0, ...rows.map(r => r[1]));
    const scale = (wide - left - right) / (high - low || 1), zero = left - low * scale, top = y;
    for (const [name, size] of rows) {
      const length = Math.abs(size) * scale, from = size >= 0 ? zero : zero - length;
      drawn.push(
        node("text", {x: left - 8, y: y + 14, "text-anchor": "end"}, name),
        node("rect", {x: from.toFixed(1), y: y + 3, width: length.toFixed(1), height: 14, fill: size >= 0 ? UP : DOWN}),
        node("text", {x: (size >= 0 ? from + length + 4 : zero + 4).toFixed(1), y: y + 14}, number(size, 3)));
      y += row;
    }
    drawn.push(node("path", {d: `M${zero.toFixed(1)} ${top}V${y}`, stroke: "currentColor"}));
    y += 10;
  }
  return node("svg", {viewBox: `0 0 ${wide} ${y}`, role: "img", "aria-label": words.join(" "), "font-size": 13,
    "font-family": FONT, fill: "currentColor", style: `width:100%;max-width:${wide}px;height:auto;display:block`}, ...drawn);
}

// --- the view -----------------------------------------------------------------------------------

// A weighted sum of heats, [share, contents]; what is unknown in one of them is unknown, and nothing
// of a heat adds nothing.
function mixed(...parts) {
  const names = new Set(parts.flatMap(([, contents]) => Object.keys(contents)));
  return Object.fromEntries([...names].map(name => {
    let sum = 0;
    for (const [share, contents] of parts)
      sum += share === 0 ? 0 : share * (isNumber(contents[name]) ? contents[name] : NaN);
    return [name, Number.isNaN(sum) ? null : sum];
  }));
}

function metalOf({weld, parts}, dilution) {
  const share = weld.share / 100;
  return mixed([dilution * share, parts.first.contents], [dilution * (1 - share), parts.second.contents],
    [1 - dilution, parts.wire.contents]);
}

// `root` holds the parts that move; `spec` says what stands there; `layerOf(name)` gives the picture
// over a diagram. A state has `contents` (or `weld` and `parts`), `conditions`, `diagram`, and the
// `reference` with its name. What all explorers share is in `page`.
function makeView(root, spec, layerOf) {
  const relations = spec.relations.map(name => model.byName[name]);
  const part = what => root.querySelector(`[data-of="${what}"]`);
  let now = null, opened = "", kept = {};
  const answers = {}; // by the key of a number that is asked


  const given = relation => givenTo(relation, now.conditions);
  // What does not move with a key press is kept.
  function once(what, key, make) {
    const asked = JSON.stringify(key);
    if (kept[what]?.asked !== asked) kept[what] = {asked, made: make()};
    return kept[what].made;
  }

  function look(contents) {
    const family = familyOf(contents);
    return relations.map(relation => {
      const found = evaluate(relation, contents, given(relation), [], family);
      return {...found, words: reasons(relation, found, contents, given(relation), family)};
    });
  }

  function update(state) {
    now = state;
    if (spec.kind === "weld") now.contents = metalOf(now, now.weld.dilution / 100);
    const values = look(now.contents);
    const before = once("look", [now.reference.contents, now.conditions], () => look(now.reference.contents));
    const asked = opened;
    close();
    showValues(values, before);
    showSpread(values, before);
    const words = part("parts") ? showParts(values) : spec.kind === "weld" ? showWeld() : showPlace();
    if (asked) open(asked);
    return words;
  }

  // --- numbers that are asked where they come from ---

  // A number as a button; `answer` makes what stands below it while it is open.
  function asks(place, key, text, answer) {
    answers[key] = answer;
    const there = [...place.childNodes].find(n => n.dataset?.asks === key);
    if (there) return void put(there, text);
    const made = html("button", {type: "button", class: "gk-asked", "aria-expanded": "false",
      "data-asks": key, "data-lm-suppress-shortcuts": "true", title: "where it comes from"}, text);
    made.addEventListener("click", () => (opened === key ? close() : open(key)));
    place.replaceChildren(made);
  }

  function close() {
    for (const box of root.querySelectorAll(".gk-about")) box.remove();
    root.querySelector(".gk-asked[aria-expanded=true]")?.setAttribute("aria-expanded", "false");
    opened = "";
  }

  function open(key) {
    close();
    const press = [...root.querySelectorAll(".gk-asked")].find(b => b.dataset.asks === key);
    if (!press) return;
    opened = key;
    press.setAttribute("aria-expanded", "true");
    const row = press.closest("tr"), inside = answers[key]();
    if (row) row.after(html("tr", {class: "gk-about"}, html("td", {colspan: row.cells.length}, ...inside)));
    else press.closest("p").after(html("div", {class: "gk-about", role: "region", "aria-label": "where this number comes from"}, ...inside));
  }

  root.addEventListener("keydown", event => {
    const press = root.querySelector(".gk-asked[aria-expanded=true]");
    if (event.key !== "Escape" || !press || !(event.target === press || event.target.closest(".gk-about"))) return;
    event.stopPropagation();
    close();
    press.focus();
  });

  const listed = lines => html("dl", {class: "gk-told"},
    ...lines.flatMap(([word, text]) => [html("dt", {}, word), html("dd", {}, text)]));

  // What is told of the value that a relation has of a steel.
  function about(relation, contents, before = null) {
    const {pictures, lines} = told(relation, contents, now.conditions, before);
    return [partsPicture(pictures), listed(lines)];
  }

  // --- the table of values ---

  function showValues(values, before) {
    const table = part("values"), name = now.reference.name;
    if (!table) return;
    put(table.caption, `Trial beside ${name}; ± is one standard error`);
    put(table.tHead.rows[0].cells[2], name);
    for (const row of table.tBodies[0].rows) {
      const at = spec.relations.indexOf(row.dataset.relation);
      if (at < 0) continue;
      const [found, other, cells] = [values[at], before[at], row.cells];
      const exact = Number.isFinite(found.value) ? String(found.value) : "";
      if (cells[1].dataset.value !== exact) cells[1].dataset.value = exact;
      const relation = relations[at], {contents} = now.reference;
      asks(cells[1], `trial ${relation.name}`, number(found.value), () => about(relation, now.contents, now.reference));
      asks(cells[2], `reference ${relation.name}`, number(other.value), () => about(relation, contents));
      if (cells[2].dataset.h !== name) cells[2].dataset.h = name;
      put(cells[3], signed(found.value - other.value));
      put(cells[4], number(found.error, 2));
      const apart = other.words && other.words !== found.words;
      put(cells[7], [found.words, apart ? `${name}: ${other.words}` : ""].filter(Boolean).join("; "));
    }
  }

  // --- where relations disagree ---

  function showSpread(values, before) {
    const place = part("spread");
    if (!place) return;
    const groups = new Map();
    relations.forEach((r, k) => groups.set(r.quantity, [...(groups.get(r.quantity) ?? []), k]));
    const drawn = [...groups].filter(([, group]) => group.length > 1).flatMap(([quantity, group]) =>
      spread(quantity, group, [["trial", UP, values, now.contents],
        [now.reference.name, "currentColor", before, now.reference.contents]]));
    if (drawn.length) drawn.unshift(html("p", {class: "lead"}, "Where relations disagree"));
    const same = place.children.length === drawn.length;
    drawn.forEach((made, k) => {
      if (!same) return;
      const old = place.children[k];
      if (old.outerHTML !== made.outerHTML) old.replaceWith(made);
    });
    if (!same) place.replaceChildren(...drawn);
  }

  function spread(quantity, group, rows) {
    const all = rows.flatMap(([, , some]) => group.map(k => some[k].value)).filter(Number.isFinite);
    if (!all.length) return [];
    const low = Math.min(...all), reach = Math.max(...all) - low || 1, unit = withUnit(relations[group[0]]);
    const at = value => (8 + (420 - 16) * ((value - low) / reach)).toFixed(1);
    const drawn = [], line = html("p", {}, `${quantity}: `);
    rows.forEach(([who, colour, some, contents], row) => {
      const held = group.filter(k => Number.isFinite(some[k].value)).sort((a, b) => some[a].value - some[b].value);
      if (!held.length) return;
      const found = held.map(k => some[k].value);
      const y = 9 + 16 * row, [least, most] = [found[0], found[found.length - 1]];
      const dash = row ? {"stroke-dasharray": "5 3"} : {};
      drawn.push(
        node("path", {d: `M${at(least)} ${y}H${at(most)}`, stroke: colour, "stroke-width": 3, ...dash}),
        node("path", {d: found.map(v => `M${at(v)} ${y - 6}v12`).join(""), stroke: colour, "stroke-width": 2}));
      const place = html("span");
      asks(place, `spread ${quantity} ${row}`, `${number(least, 3)} to ${number(most, 3)}${unit}`,
        () => [listed(held.map(k => inOneLine(relations[k], contents)))]);
      line.append(`${line.childNodes.length > 1 ? "; " : ""}${who} (${row ? "dashed" : "solid"}) `, place,
        `, ${number(most - least, 2)} apart, ${found.length} relations`);
    });
    return [line, node("svg", {viewBox: "0 0 420 34", role: "img", "aria-label": line.textContent,
      style: "width:100%;max-width:420px;height:auto;display:block"}, ...drawn)];
  }

  // A value among others: how far it is off, for what it was made, what it rests on.
  function inOneLine(relation, contents) {
    const {pictures: [[title]], lines} = told(relation, contents, now.conditions);
    const kept = lines.filter(([word]) => ["Error", "Range", "Evidence", "To be said"].includes(word));
    return [title, kept.map(([word, text]) => `${word}: ${text}`).join(". ")];
  }

  // --- what makes up each value ---

  function showParts(values) {
    const words = relations.map((r, k) => valueWords(r, values[k].value));
    const pictures = relations.map((r, k) => [words[k], partsOf(r, now.contents, now.conditions)]);
    const picture = partsPicture(pictures), there = part("parts");
    if (there.innerHTML !== picture.outerHTML) there.replaceChildren(picture);
    return words.join("; ");
  }

  // --- places on a diagram ---

  const diagramNow = () => [page.charts.find(c => c.name === now.diagram), model.diagrams.find(d => d.name === now.diagram)];
  const placed = (diagram, contents) => locate(diagram, contents, [], familyOf(contents));
  const others = diagram => once("heats", diagram.name, () => Object.entries(spec.heats ?? {}).map(([name, contents]) =>
    ({...placed(diagram, contents), name, style: 4})));

  function showPlace() {
    const [chart, diagram] = diagramNow();
    const trial = placed(diagram, now.contents);
    const other = once("place", [diagram.name, now.reference.contents], () => placed(diagram, now.reference.contents));
    const parts = [placeInParts(diagram, trial, "trial"), placeInParts(diagram, other, now.reference.name)];
    const words = parts.map(some => some.join(""));
    const marks = [{...other, name: now.reference.name, style: 1}, {...trial, name: "trial", style: 0}];
    drawMarks(layerOf(diagram.name), chart, [...others(diagram), ...marks], words.join(" "), !spec.heats);
    const place = part("place");
    put(place?.firstChild, diagram.title);
    const lead = `, ${diagram.status}, not for code acceptance. `;
    if (place && (place.textContent !== `${diagram.title}${lead}${words.join(" ")}` || !place.querySelector("button"))) {
      const pieces = parts.flatMap(([first, reading, rest], k) => {
        const span = html("span");
        const contents = [now, now.reference][k].contents;
        if (reading && diagram.reading) asks(span, `place ${k}`, reading, () => about(model.byName[diagram.reading], contents));
        else span.append(reading);
        return [k ? ` ${first}` : first, span, rest];
      });
      place.replaceChildren(place.firstChild, lead, ...pieces);
    }
    return `${diagram.title}, ${words[0]}`;
  }

  // --- a weld ---

  const remark = spot => wordsOf(spot.flags & ~(spot.region ? flag.OUTSIDE_DIAGRAM : flag.OUTSIDE_DIAGRAM | flag.CLAMPED));

  function longest(good) {
    let best = null, from = -1;
    for (let k = 0; k <= good.length; k += 1) {
      if (good[k] && from < 0) from = k;
      if (!good[k] && from >= 0) {
        if (!best || k - from > best[1] - best[0]) best = [from, k];
        from = -1;
      }
    }
    return best && [best[0], best[1] - 1];
  }

  function showWeld() {
    const [chart, diagram] = diagramNow(), {weld, parts} = now;
    const line = once("line", [diagram.name, weld.share, parts], () =>
      Array.from({length: STEPS_OF_WELD + 1}, (_, k) => placed(diagram, metalOf(now, k / STEPS_OF_WELD))));
    const keeps = longest(line.map(s => s.region !== "" && s.value >= weld.low && s.value <= weld.high));
    const share = weld.dilution / 100, left = n => share ** n;
    const layers = Array.from({length: weld.layers}, (_, k) =>
      mixed([left(k + 1), parts.first.contents], [1 - left(k + 1), parts.wire.contents]));
    const metals = [["weld metal", now.contents], ...layers.map((m, k) => [`layer ${k + 1}`, m])];
    const spots = metals.map(([, contents]) => placed(diagram, contents));
    const words = weldWords(diagram, spots[0], line, keeps);
    const marks = [{...line[STEPS_OF_WELD], name: "both parents", style: 2}, {...line[0], name: parts.wire.name, style: 1},
      ...spots.slice(1).map((s, k) => ({...s, name: `layer ${k + 1}`, style: 3})).filter(s => s.region),
      {...spots[0], name: `${general(weld.dilution, 6)} %`, style: 0}];
    drawMarks(layerOf(diagram.name), chart, [...others(diagram), ...marks], words, false, [weldLines(chart, line, keeps)]);
    put(part("words"), words);
    put(part("note"), `${diagram.title}: ${diagram.caution}. Mixing is by mass; losses and pick-up in the arc are left out.`);
    showMetals(diagram, metals, spots);
    return words;
  }

  // The line of all welds, thick where the ferrite is kept, cut off at the border of the chart.
  function weldLines(chart, line, keeps) {
    const [left, top, right, bottom] = chart.box, [wide, tall] = [right - left, bottom - top];
    const ends = [[[0, STEPS_OF_WELD], LINE, 1.6, {"stroke-dasharray": "7 4"}], [keeps, KEPT, 6, {}]];
    const drawn = ends.filter(([pair]) => pair).map(([pair, colour, size, dash]) => {
      const [a, b] = pair.map(k => toPixels(chart, line[k].x, line[k].y).map(v => v.toFixed(1)).join(" "));
      return node("path", {d: `M${a}L${b}`, stroke: colour, "stroke-width": size, ...dash});
    }).filter(path => !path.getAttribute("d").includes("NaN"));
    return node("svg", {"aria-hidden": "true", x: left, y: top, width: wide, height: tall, viewBox: `${left} ${top} ${wide} ${tall}`}, ...drawn);
  }

  function weldWords(diagram, spot, line, keeps) {
    const {weld} = now, said = remark(spot), at = k => ((100 * k) / STEPS_OF_WELD).toFixed(0);
    if (!Number.isFinite(spot.x + spot.y)) return `No place on the diagram: ${said}.`;
    const read = spot.region
      ? `field ${spot.region}, ${number(spot.value, 3)} ± ${number(spot.tolerance, 2)} ${diagram.unit}${said ? ` (${said})` : ""}.`
      : "outside the chart, which says nothing there.";
    const span = `${general(weld.low, 6)} to ${general(weld.high, 6)} ${diagram.unit}`;
    const kept = keeps ? `${span} are kept from ${at(keeps[0])} to ${at(keeps[1])} % dilution (thick line).`
      : `No dilution on the chart keeps ${span}.`;
    const charted = longest(line.map(s => s.region !== ""));
    let ends = "";
    if (!charted) ends = " No weld of this line lies on this chart.";
    else {
      const outside = [charted[0] > 0 ? `below ${at(charted[0])} %` : "",
        charted[1] < STEPS_OF_WELD ? `above ${at(charted[1])} %` : ""].filter(Boolean).join(" and ");
      if (outside) ends = ` ${outside[0].toUpperCase()}${outside.slice(1)} the line lies outside this chart.`;
    }
    // The axes of one chart begin at nothing, so that no mixture of steels lies below them.
    if (ends && diagram.name !== page.further.name)
      ends += ` The ${page.further.title} reaches further, and shows martensite.`;
    return `At ${general(weld.dilution, 6)} % dilution: ${read} ${kept}${ends}`;
  }

  function showMetals(diagram, metals, spots) {
    const table = part("metals");
    if (!table) return;
    const elements = spec.metalElements, body = table.tBodies[0];
    put(table.caption, `Weld metal, and layers buttered on ${now.parts.first.name}; contents in wt%`);
    put(table.tHead.rows[0].cells[elements.length + 2], `ferrite, ${diagram.unit}`);
    while (body.rows.length > metals.length) body.lastElementChild.remove();
    while (body.rows.length < metals.length) body.append(body.lastElementChild.cloneNode(true));
    metals.forEach(([name, contents], k) => {
      const cells = [...body.rows[k].cells], spot = spots[k];
      put(cells.shift(), name);
      for (const element of elements) {
        const cell = cells.shift();
        cell.dataset.value = isNumber(contents[element]) ? String(contents[element]) : "";
        put(cell, number(contents[element], 3));
      }
      const read = [spot.region || "outside", number(spot.region ? spot.value : null, 3),
        number(spot.region ? spot.tolerance : null, 3), remark(spot)];
      cells[1].dataset.value = spot.region && Number.isFinite(spot.value) ? String(spot.value) : "";
      cells[1].dataset.h = `ferrite, ${diagram.unit}`;
      cells.forEach((cell, c) => {
        if (c === 1 && spot.region && diagram.reading)
          asks(cell, `metal ${name}`, read[c], () => about(model.byName[diagram.reading], contents));
        else put(cell, read[c]);
      });
    });
  }

  return {update};
}

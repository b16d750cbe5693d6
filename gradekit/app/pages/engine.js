// The library's evaluation in a page: values, flags, errors, shares, places on a diagram.
// `model` (data) and `formulas` (functions made from the declarations) are written before this.

const log10 = x => (x > 0 ? Math.log10(x) : NaN);

function spaceOf(contents, conditions) {
  const space = {};
  let sum = 0;
  for (const element of model.elements) space[element] = 0;
  for (const [element, amount] of Object.entries(contents)) {
    space[element] = isNumber(amount) ? amount : 0;
    sum += space[element];
  }
  space.Fe = 100 - sum;
  return Object.assign(space, conditions);
}

function rawValue(relation, space) {
  if (!relation.terms) return formulas.value[relation.name](space);
  let sum = 0;
  for (const [coefficient, factors] of relation.terms) {
    let amount = 1;
    for (const [name, power] of factors)
      amount *= power === 1 ? space[name] : Math.pow(space[name], power);
    sum += coefficient * amount;
  }
  return relation.intercept + sum;
}

function errorAt(error, value) {
  if (error === null || Number.isNaN(value)) return NaN;
  if (typeof error === "number") return error;
  if (error.percent !== undefined) return Math.abs(value) * (error.percent / 100);
  const last = error.steps.length - 1;
  let at = 0;
  while (at < last && error.steps[at][0] < value) at += 1;
  const size = error.steps[at][1];
  const grows = error.relative && value > error.steps[last - 1][0];
  return grows ? Math.max(size, error.relative * value) : size;
}

function clamped(relation, value) {
  if (relation.floor !== null && value < relation.floor) return relation.floor;
  if (relation.ceiling !== null && value > relation.ceiling) return relation.ceiling;
  return value;
}

// One relation on one heat. `contents`: wt% by element; an element with the value null was asked
// for and is not known. `bounded`: elements whose content is a bound such as "< 0.005".
function evaluate(relation, contents, conditions = {}, bounded = [], family = "") {
  const space = spaceOf(contents, conditions);
  const known = element => isNumber(contents[element]);
  let flags = relation.limits.length ? 0 : flag.RANGE_NOT_STATED;
  for (const element of relation.elements) {
    if (!known(element))
      flags |= relation.required.includes(element) ? flag.MISSING : flag.ASSUMED_ZERO;
    if (bounded.includes(element)) flags |= flag.BOUND;
  }
  if (relation.conditions.some(c => !isNumber(conditions[c]))) flags |= flag.CONDITION_MISSING;
  if (family && relation.families.length && !relation.families.includes(family))
    flags |= flag.OTHER_FAMILY;
  let value = NaN;
  if (!(flags & (flag.MISSING | flag.CONDITION_MISSING))) {
    value = rawValue(relation, space);
    if (!Number.isFinite(value)) {
      value = NaN;
      flags |= flag.UNDEFINED;
    }
  }
  const shown = clamped(relation, value);
  if (shown !== value && !Number.isNaN(value)) flags |= flag.CLAMPED;
  for (const [key, low, high] of relation.limits) {
    const x = limited(key, space, contents, shown);
    if (low !== null && x < low) flags |= flag.BELOW_RANGE | relation.outside;
    if (high !== null && x > high) flags |= flag.ABOVE_RANGE | relation.outside;
  }
  return {value: shown, flags, error: errorAt(relation.error, shown)};
}

// The family of a steel, "" where it is not known.
function familyOf(contents) {
  if (!isNumber(contents.Cr)) return "";
  const space = {temperature_C: model.anneal};
  for (const element of model.elements) space[element] = 0;
  for (const element of model.familyElements)
    space[element] = isNumber(contents[element]) ? contents[element] : 0;
  for (const [element, usual] of Object.entries(formulas.gaps))
    if (!isNumber(contents[element])) space[element] = usual(space);
  for (const [vote, value] of Object.entries(formulas.votes)) space[vote] = value(space);
  return model.families[formulas.family(space)];
}

function limited(key, space, contents, value) {
  if (key === "value") return value;
  const hidden = element => element in contents && !isNumber(contents[element]);
  const formula = formulas.range[key];
  if (!formula) return hidden(key) ? NaN : key in space ? space[key] : NaN;
  const needed = model.rangeNames[key];
  if (needed.some(n => !(n in space))) return NaN;
  return needed.some(n => model.essential.includes(n) && hidden(n)) ? NaN : formula(space);
}

// What is to be said of a value, a sentence a reason; `relations/reasons.py` in a page.
function reasons(relation, found, contents, conditions = {}, family = "") {
  const said = [], has = bit => (found.flags & bit) !== 0;
  const unknown = relation.elements.filter(e => !isNumber(contents[e]));
  const needed = unknown.filter(e => relation.required.includes(e));
  if (has(flag.MISSING)) said.push(`no value: ${needed.join(", ")} not reported`);
  if (has(flag.CONDITION_MISSING)) said.push(`no value: ${relation.conditions.join(", ")} not given`);
  if (has(flag.UNDEFINED)) said.push("no value: the formula is not defined here");
  if (has(flag.OTHER_FAMILY)) said.push(`made for ${relation.madeFor} steels; this one is ${family}`);
  if (has(flag.BELOW_RANGE | flag.ABOVE_RANGE)) {
    const space = spaceOf(contents, conditions);
    for (const [key, low, high] of relation.limits) {
      const x = limited(key, space, contents, found.value);
      const side = low !== null && x < low ? "below" : high !== null && x > high ? "above" : "";
      const reach =
        low === null ? `up to ${general(high, 6)}`
        : high === null ? `from ${general(low, 6)}`
        : `${general(low, 6)}…${general(high, 6)}`;
      if (side && Number.isFinite(x)) said.push(`${key} ${general(x, 4)} is ${side} the range ${reach}`);
    }
  }
  if (has(flag.OUTSIDE_DATA)) said.push("outside the data it was fitted to");
  if (has(flag.CLAMPED))
    said.push(`beyond the end of the scale, shown as ${general(found.value, 6)} ${relation.unit}`);
  if (has(flag.ASSUMED_ZERO))
    said.push(`assumed zero: ${unknown.filter(e => !relation.required.includes(e)).join(", ")}`);
  if (has(flag.RANGE_NOT_STATED)) {
    const where = relation.domain === "not stated" ? "" : ` (said to be for ${relation.domain})`;
    said.push(`range not stated in figures${where}`);
  }
  return said.join("; ");
}

// --- what makes up a value, and what changed it ---------------------------------------------

const STEPS = [1, 2, 4, 8, 16, 32, 64];

// Shapley values: each input's step averaged over all orders in which they could have changed.
function box(f, before, after, changed) {
  const count = changed.length;
  const values = new Float64Array(2 ** count);
  for (let set = 0; set < values.length; set += 1) {
    const at = {...before};
    changed.forEach((name, bit) => {
      if (set & (1 << bit)) at[name] = after[name];
    });
    values[set] = f(at);
  }
  const weights = [];
  for (let size = 0; size < count; size += 1) {
    let weight = 1 / count;
    for (let k = 1; k <= size; k += 1) weight *= k / (count - k);
    weights.push(weight);
  }
  const sizeOf = set => {
    let size = 0;
    for (let rest = set; rest; rest &= rest - 1) size += 1;
    return size;
  };
  const shares = changed.map(() => 0);
  for (let set = 0; set < values.length; set += 1) {
    const size = sizeOf(set);
    for (let bit = 0; bit < count; bit += 1)
      if (!(set & (1 << bit)))
        shares[bit] += weights[size] * (values[set | (1 << bit)] - values[set]);
  }
  return shares;
}

function shares(f, before, after, changed) {
  const between = share => {
    const at = {};
    for (const name of Object.keys(before))
      at[name] =
        share === 0 ? before[name]
        : share === 1 ? after[name]
        : before[name] + share * (after[name] - before[name]);
    return at;
  };
  let total = [];
  for (const steps of STEPS) {
    total = changed.map(() => 0);
    for (let step = 0; step < steps; step += 1)
      box(f, between(step / steps), between((step + 1) / steps), changed).forEach((part, k) => {
        total[k] += part;
      });
    if (total.every(Number.isFinite)) break;
  }
  return Object.fromEntries(changed.map((name, k) => [name, total[k]]));
}

function functionOf(relation) {
  return at => {
    const contents = {}, conditions = {};
    for (const [name, amount] of Object.entries(at))
      (model.conditions.includes(name) ? conditions : contents)[name] = amount;
    return clamped(relation, rawValue(relation, spaceOf(contents, conditions)));
  };
}

// Contributions of what changed from one heat to another; they add up to the change.
function why(relation, before, after) {
  const sides = [before, after].map(s => evaluate(relation, s.contents, s.conditions));
  const names = new Set();
  for (const side of [before, after])
    for (const part of [side.contents, side.conditions])
      for (const name of Object.keys(part)) names.add(name);
  const filled = side =>
    Object.fromEntries([...names].map(n => [n, side.contents[n] ?? side.conditions[n] ?? 0]));
  const [old, now] = [filled(before), filled(after)];
  const counts = n =>
    (relation.balance && !model.conditions.includes(n)) ||
    relation.elements.includes(n) || relation.conditions.includes(n);
  const changed = [...names].filter(n => counts(n) && old[n] !== now[n]);
  const change = sides[1].value - sides[0].value;
  const parts = Number.isFinite(change)
    ? shares(functionOf(relation), old, now, changed)
    : Object.fromEntries(changed.map(n => [n, NaN]));
  return {before: sides[0], after: sides[1], parts};
}

// The value of one heat taken apart: [term, contribution, coefficient] rows that add up to it; a
// coefficient stands where the term is a coefficient times a content.
function explain(relation, contents, conditions = {}) {
  const whole = evaluate(relation, contents, conditions).value;
  if (!Number.isFinite(whole)) return [];
  const space = spaceOf(contents, conditions);
  const parts = [];
  if (relation.terms) {
    if (relation.intercept) parts.push(["constant", relation.intercept]);
    for (const term of relation.terms)
      parts.push([term[2], rawValue({terms: [term], intercept: 0}, space), term[0]]);
  } else if (formulas.terms[relation.name]) {
    for (const [text, term] of formulas.terms[relation.name]) parts.push([text, term(space), 1]);
  } else {
    const known = {...conditions};
    for (const [element, amount] of Object.entries(contents))
      known[element] = isNumber(amount) ? amount : 0;
    for (const element of relation.elements) known[element] ??= 0;
    const base = {...known};
    for (const element of relation.elements)
      if (known[element]) base[element] = relation.reference[element] ?? 0;
    const changed = relation.elements.filter(n => base[n] !== known[n]);
    const f = functionOf(relation);
    parts.push(["reference steel", f(base)]);
    for (const [name, share] of Object.entries(shares(f, base, known, changed)))
      parts.push([name, share]);
  }
  const rest = whole - parts.reduce((sum, part) => sum + part[1], 0);
  if (Math.abs(rest) > 1e-9 * Math.max(1, Math.abs(whole))) parts.push(["end of the scale", rest]);
  return parts;
}

// --- diagrams -------------------------------------------------------------------------------

function regionAt(diagram, x, y) {
  if (Number.isNaN(x) || Number.isNaN(y)) return ["", flag.MISSING];
  const {low, high, below} = diagram;
  if (!(x >= low[0] && x <= high[0] && y >= low[1] && y <= high[1]))
    return ["", flag.OUTSIDE_DIAGRAM];
  const level = Math.min(y, below); // the upper border belongs to the chart
  let best = -Infinity, label = "";
  for (const [ax, ay, bx, by, region] of diagram.edges) {
    if (!(level >= ay && level < by)) continue;
    const crossing = ax + (level - ay) * ((bx - ax) / (by - ay));
    if (crossing <= x && crossing >= best) {
      best = crossing;
      label = region;
    }
  }
  return [label, 0];
}

function lineHeights(diagram, x) {
  return diagram.lines.map(([, points]) => {
    const n = points.length;
    let k = 0;
    while (k < n - 2 && points[k + 1][0] <= x) k += 1;
    const [[ax, ay], [bx, by]] = [points[k], points[k + 1]];
    const slope = (by - ay) / (bx - ax);
    if (x > points[n - 1][0]) return points[n - 1][1] + slope * (x - points[n - 1][0]);
    return slope * (x - ax) + ay;
  });
}

function betweenLines(diagram, x, y) {
  const heights = lineHeights(diagram, x);
  const values = diagram.lines.map(line => line[0]);
  const falls = heights.slice(1).map((h, k) => h - heights[k]);
  const down = falls[0] < 0;
  if (!falls.every(f => f < 0 === down) || !Number.isFinite(y)) return NaN;
  const passed = heights.filter(h => (down ? h >= y : h <= y)).length;
  const k = Math.min(Math.max(passed - 1, 0), values.length - 2);
  return values[k] + ((y - heights[k]) / falls[k]) * (values[k + 1] - values[k]);
}

// A point by its equivalents: field, reading, tolerance and flags.
function place(diagram, x, y, before = 0) {
  const [region, found] = regionAt(diagram, x, y);
  const closed = formulas.diagram[diagram.name].value;
  let value = closed ? closed({x, y}) : betweenLines(diagram, x, y);
  let flags = before | found;
  const [least, most] = diagram.ends;
  if (value < least || value > most) flags |= flag.CLAMPED;
  if (diagram.openEnd && value > most) flags |= flag.ABOVE_RANGE;
  if (!Number.isFinite(value)) {
    if (Number.isFinite(x) && Number.isFinite(y)) flags |= flag.UNDEFINED;
    value = NaN;
  }
  if (diagram.bare.includes(region)) flags |= flag.NO_SUPPORT;
  value = Math.min(Math.max(value, least), most);
  return {x, y, region, value, tolerance: errorAt(diagram.error, value), flags};
}

function locate(diagram, contents, bounded = [], family = "") {
  const [x, y] = diagram.axes.map(n => evaluate(model.byName[n], contents, {}, bounded, family));
  return place(diagram, x.value, y.value, (x.flags | y.flags) & model.fromAxes);
}

// y at which a diagram reads a value at x.
function yAt(diagram, x, value) {
  const inverse = formulas.diagram[diagram.name].inverse;
  if (inverse) {
    const y = inverse({x, value});
    return Number.isFinite(y) ? y : NaN;
  }
  const values = diagram.lines.map(line => line[0]);
  const heights = lineHeights(diagram, x);
  if (!(value >= values[0] && value <= values[values.length - 1])) return NaN;
  let k = 0;
  while (k < values.length - 2 && values[k + 1] <= value) k += 1;
  const share = (value - values[k]) / (values[k + 1] - values[k]);
  return heights[k] + share * (heights[k + 1] - heights[k]);
}

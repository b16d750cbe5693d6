// What is told of a number: its parts, what changed it, and the lines that `told.py` declares; the
// same as `panels/about_number.py` tells where a kernel answers.

const signed = change => (change > 0 ? "+" : "") + number(change, 3);
const unitOf = relation => (relation.unit === "1" ? "" : relation.unit);
const withUnit = relation => (unitOf(relation) ? ` ${relation.unit}` : "");

function termWords(text) {
  const shown = text.replace(/^-\((.*)\)$/, "−$1").replace(/(?<=[\d)]) ?\* ?(?=[A-Za-z(])/g, " ")
    .replaceAll("**", "^");
  if (/^[−-]?[\d.]+$/.test(shown)) return "constant";
  return shown.startsWith("-") ? shown.replaceAll("-", "−") : shown;
}

function partName([term, size, coefficient]) {
  if (coefficient === undefined || !/^[A-Za-z]+$/.test(term)) return termWords(term);
  return `${number(coefficient)} × ${number(coefficient ? size / coefficient : 0)} ${term}`.replace(/^1 × /, "");
}

const givenTo = (relation, conditions) => Object.fromEntries(relation.conditions
  .filter(c => isNumber(conditions[c])).map(c => [c, conditions[c]]));
const valueWords = (relation, value) => `${relation.title}: ${number(value)}${withUnit(relation)}`;
const partsOf = (relation, contents, conditions) => explain(relation, contents, givenTo(relation, conditions))
  .filter(part => Math.abs(part[1]) > model.nothing).map(part => [partName(part), part[1]]);

// Of parts that differ by rounding alone the names decide.
const sizeOf = part => Number(Math.abs(part[1]).toPrecision(9));

function otherWords(relation, contents, conditions, family) {
  const holds = r => !family || !r.families.length || r.families.includes(family);
  const found = relation.rivals.map(name => model.byName[name]).filter(holds)
    .map(r => [r, evaluate(r, contents, givenTo(r, conditions)).value]).filter(([, value]) => Number.isFinite(value));
  return found.map(([r, value]) => `${r.title} ${number(value)}${withUnit(r)}`).join("; ") || "none for this steel, as far as it is known";
}

// Pictures [title, [name, size] rows] and lines [word, text] of the value that a relation has of a
// steel. `before`, a heat with name and contents, tells what changed it.
function told(relation, contents, conditions, before = null) {
  const given = givenTo(relation, conditions), family = familyOf(contents), unit = withUnit(relation);
  const found = evaluate(relation, contents, given, [], family);
  const pictures = [[valueWords(relation, found.value), partsOf(relation, contents, conditions)]];
  if (before) {
    const change = why(relation, {contents: before.contents, conditions: given}, {contents, conditions: given});
    const moved = Object.entries(change.parts).filter(([, size]) => Math.abs(size) > model.nothing)
      .sort((p, q) => sizeOf(q) - sizeOf(p) || (p[0] < q[0] ? -1 : 1));
    if (moved.length)
      pictures.push([`Change from ${before.name}: ${signed(change.after.value - change.before.value)}${unit}`, moved]);
  }
  const places = {
    error: Number.isFinite(found.error) ? `± ${number(found.error, 3)}${unit}` : "not known here",
    said: reasons(relation, found, contents, given, family),
    others: otherWords(relation, contents, conditions, family),
  };
  const lines = relation.told.map(([word, text, place]) => [word, (places[place] ?? "") + text]);
  return {pictures, lines: lines.filter(line => line[1])};
}

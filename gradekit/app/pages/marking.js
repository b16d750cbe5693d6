// Judging an answer by the form of its question alone, as `lessons/marking.py` does; `data` is what
// `Exercise.data()` gives. Returns {right, words, refused}.

const bare = text => text.replace(/\s+/g, "").toLowerCase();
const told = (right, words, refused = false) => ({right, words, refused});
const notYet = (slips, data) => (slips.length ? `Not yet: ${slips.join(", or ")}.` : `Not yet. ${data.elsewhere}`);
const direction = (given, answer) => (given > answer ? "too high" : "too low");

// The number that was typed, null where there is none, and what stands behind it.
function numberAndTail(given) {
  const text = given.trim().replace(/[\u2212\u2013]/g, "-");
  const found = /^([-+]?(?:\d+[.,]?\d*|[.,]\d+)(?:e[-+]?\d+)?)\s*([^\d\s.,].{0,24})?$/i.exec(text);
  const value = found ? Number(found[1].replace(",", ".")) : Infinity;
  return Number.isFinite(value) ? [value, (found[2] ?? "").trim()] : [null, ""];
}

// The units that may stand behind a number, in small letters without blanks and full stops.
const PER_CENT = ["%", "wt%", "mass%", "weight%", "percent", "%wt", "%mass", "%weight", "%bymass", "%byweight"];
const DEGREES = ["°c", "c", "ºc", "degc", "deg", "°", "celsius"];
const short = text => text.replace(/[\s.]+/g, "").toLowerCase();
const named = unit => (unit.startsWith("of ") ? unit.split(" ").pop() : unit);

function spelt(unit) {
  const [head, ...rest] = unit.split(" "), what = rest.join(" ");
  if (unit === "%") return ["%", "percent"]; // of ferrite or dilution: not by weight
  if (head === "%" || head === "wt%") return [...PER_CENT, ...["", ...PER_CENT].map(sign => sign + short(what))];
  if (unit === "°C") return DEGREES;
  const last = short(named(unit));
  return [short(unit), last, last.replace(/s$/, ""), ...(head === "of" ? [short(`of ${rest[0]}`)] : [])];
}

function typedDecimals(given) {
  const found = /^[-+\u2212\u2013]?\d*[.,]?(\d*)(?:[eE]([-+]?\d+))?/.exec(given);
  return found[1].length - Number(found[2] ?? 0);
}

const judges = {
  choice(data, given) {
    const chosen = data.choices.findLast(c => bare(c) === bare(given));
    if (chosen === undefined) return told(false, `Answer with one of ${data.choices.join(", ")}.`, true);
    if (chosen === data.answer) return told(true, "Right.");
    const slips = data.mistakes.filter(m => m.value === chosen).map(m => m.words);
    if (data.kind !== "compute") return told(false, notYet(slips, data));
    const ends = slips.length ? `You end there if ${slips.join(", or if ")}.` : data.elsewhere;
    return told(false, `Not yet: it is not ${chosen}. ${ends}`);
  },

  order(data, given) {
    const parts = given.split(given.includes(">") ? ">" : ",").map(bare), names = data.choices.map(bare);
    if ([...parts].sort().join("\n") !== [...new Set(names)].sort().join("\n"))
      return told(false, `Answer with all of them in order, such as ${data.choices.join(" > ")}.`, true);
    const order = parts.map(part => data.choices[names.lastIndexOf(part)]), same = other => other.join("\n") === order.join("\n");
    if (same(data.answer)) return told(true, "Right.");
    return told(false, notYet(data.mistakes.filter(m => same(m.value)).map(m => m.words), data));
  },

  point(data, given) {
    const parts = given.split(";").map(numberAndTail);
    if (parts.length !== 2 || parts.some(([value, tail]) => value === null || tail))
      return told(false, "Mark a point on the chart, or give both numbers.", true);
    const [x, y] = parts.map(part => part[0]);
    const off = ([a, b]) => Math.max(Math.abs(x - a), Math.abs(y - b));
    if (off(data.answer) <= data.tolerance) return told(true, "Right.");
    const ways = data.mistakes.map(m => [off(m.value), m]).sort((a, b) => a[0] - b[0]);
    const slips = ways.slice(0, 2).filter(([distance]) => distance <= data.tolerance).map(way => way[1].words);
    if (slips.length) return told(false, notYet(slips, data));
    const wrong = [["the chromium equivalent", x, data.answer[0]], ["the nickel equivalent", y, data.answer[1]]]
      .filter(([, at, to]) => Math.abs(at - to) > data.tolerance)
      .map(([name, at, to]) => `${name} is ${direction(at, to)}`);
    return told(false, `Not yet: ${wrong.join(" and ")}. ${data.elsewhere}`);
  },

  design(data, given) {
    const levels = {};
    for (const part of given.split(";")) {
      const text = part.trim(), at = text.indexOf(" ");
      const [value, tail] = numberAndTail(at < 0 ? "" : text.slice(at + 1));
      if (value !== null && !tail) levels[text.slice(0, at)] = value;
    }
    const names = data.sliders.map(s => s.element);
    if (Object.keys(levels).sort().join() !== [...names].sort().join()) return told(false, `Set ${names.join(", ")}.`, true);
    for (const {element, low, high} of data.sliders)
      if (!(levels[element] >= low - 1e-9 && levels[element] <= high + 1e-9))
        return told(false, `${element} may lie from ${general(low, 6)} to ${general(high, 6)} wt%.`, true);
    const at = sum => sum.constant + Object.entries(sum.terms).reduce((all, [e, k]) => all + k * levels[e], 0);
    const missed = [];
    for (const target of data.targets) {
      const value = at(target), unit = ` ${target.unit}`.trimEnd(), is = `${target.words} is ${general(value, 4)}${unit}`;
      if (target.low !== null && value < target.low - 1e-9) missed.push(`${is}, at least ${general(target.low, 6)} is asked`);
      if (target.high !== null && value > target.high + 1e-9) missed.push(`${is}, at most ${general(target.high, 6)} is asked`);
    }
    if (missed.length) return told(false, `Not yet: ${missed.join("; ")}.`);
    const more = at(data.least) - data.answer;
    if (more <= data.tolerance + 1e-9) return told(true, "Right.");
    return told(false, `Not yet: every target is met, with ${general(more, 2)} ${data.least.unit} more than is needed. ${data.elsewhere}`);
  },

  number(data, given) {
    const [value, tail] = numberAndTail(given), {answer, tolerance, unit} = data;
    if (value === null || /[0-9]/.test(tail)) // '1/2': what holds a digit is no unit
      return told(false, `Answer with a number${unit ? ` in ${unit}` : ""}, for example 18.4.`, true);
    if (tail && !spelt(unit).includes(short(tail)))
      return told(false, `The answer is asked ${unit ? `in ${unit}` : "as a plain number, without a unit"}, not in ${tail}.`, true);
    const off = Math.abs(value - answer);
    if (off <= tolerance * (1 + 1e-9)) return told(true, "Right.");
    // Ways that end close to each other are all named, the nearest first.
    const ways = data.mistakes.map((m, at) => [Math.abs(value - m.value), at]).sort((a, b) => a[0] - b[0] || a[1] - b[1]);
    const slips = ways.slice(0, 3).filter(way => way[0] <= tolerance).map(way => data.mistakes[way[1]].words);
    if (slips.length) return told(false, notYet(slips, data));
    if (answer && Math.abs(value + answer) <= tolerance) return told(false, "Not yet: the size is right, the sign is not.");
    let hint = direction(value, answer);
    if (!["estimate", "read"].includes(data.kind) && off <= 4 * tolerance)
      hint = typedDecimals(given) < data.decimals
        ? `close, but rounded too early; carry ${data.decimals} decimal${data.decimals === 1 ? "" : "s"}`
        : "close, but further off than rounding: look for a small term or a slip in a sum";
    return told(false, `Not yet: ${hint}.`);
  },
};

// 1,050 may be 1.05 or 1050. Contents have decimals, so it is read as 1.05, and that is said.
const EITHER = /^[-+\u2212\u2013]?[1-9]\d{0,2},\d{3}(?![\d.,eE])/;

function markAnswer(data, given) {
  const said = judges[data.form](data, given.trim());
  const parts = {number: [given.trim()], point: given.trim().split(";")}[data.form] ?? [];
  if (said.refused || !parts.some(part => EITHER.test(part.trim()))) return said;
  return {...said, words: `${said.words} Read as ${parts.map(part => general(numberAndTail(part)[0], 15)).join("; ")}.`};
}

// --- guesses: `Answer.judged` and `guess.read` ----------------------------------------------------

// The number of a guess, or {wrong} in words.
function readGuess(text, unit, of) {
  const [value, tail] = numberAndTail(text);
  if (value === null) return {wrong: `a number, in ${named(unit)}`};
  if (tail && !spelt(unit).includes(short(tail))) return {wrong: `in ${named(unit)}`};
  if (of && !(Number.isInteger(value) && value >= 0 && value <= of)) return {wrong: `a whole number from 0 to ${of}`};
  return {value};
}

// How a guess lies beside the answer, without the answer in full.
function judgeGuess(a, guess) {
  const ends = a.band ? "band" : a.high > a.low ? "range" : "value";
  const reach = `${number(a.low, 3)} to ${number(a.high, 3)}`, room = 0.02 * Math.abs(a.value);
  const holds = x => a.low - room <= x && x <= a.high + room;
  const exact = x => {
    const gives = `what the ${a.exact} gives (${number(a.value, 3)} ${a.unit})`, off = x - a.value;
    if (Math.abs(off) <= 0.05 * Math.abs(a.value)) return `is ${gives}`;
    const size = `${number(Math.abs(off), 3)} ${a.unit} too ${off > 0 ? "high" : "low"}`;
    return `is not ${gives}: ${size}. It lies ${holds(x) ? "inside" : "outside"} the range of ${a.spread} (${reach})`;
  };
  const counted = x => {
    const off = x - a.value, gives = `${number(a.value)} ${a.unit}`;
    if (!off) return `is what is read (${gives})`;
    const within = a.low <= x && x <= a.high ? `, but inside the range (${reach})` : "";
    return `is ${number(Math.abs(off), 3)} too ${off > 0 ? "many" : "few"} (${gives})${within}`;
  };
  const place = x => {
    if (a.exact) return exact(x);
    if (a.of) return counted(x);
    if (holds(x)) return a.high > a.low ? `lies inside the ${ends} (${reach})` : "is the value";
    const above = x > a.high, off = number(Math.abs(x - (above ? a.high : a.low)), 3);
    return `lies ${off} ${a.unit} ${above ? "above" : "below"} the ${ends}`;
  };
  let lies = place(guess);
  const fraction = a.unit.startsWith("%") && !holds(guess) && guess > 0 && guess < 1 && (a.low >= 10 || holds(100 * guess));
  if (a.low * a.high > 0 && guess * a.value < 0) lies = `has the other sign: ${a.other_way}`;
  else if (fraction) lies = `looks like a fraction: the answer is asked in %, and ${number(100 * guess, 3)} ${place(100 * guess)}`;
  return `Your guess ${number(guess, 3)} ${lies}.`;
}

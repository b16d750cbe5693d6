// The course in a page: guesses, questions, what was done is kept in this browser and can be taken
// along as the file that the notebook keeps. `course` holds chapters, questions and charts.

const KEY = "gradekit phase balance";
const $ = id => document.getElementById(id);
const say = (tag, text, attributes = {}) => {
  const made = document.createElement(tag);
  made.textContent = text;
  for (const [name, value] of Object.entries(attributes)) made.setAttribute(name, value);
  return made;
};
const chapters = Object.keys(course.chapters);
const empty = () => ({name: "", guesses: {}, seeds: {}, tries: [], opened: []});
let work = empty(), keeps = true;

// --- what was done: the file of `lesson_state.Work` -----------------------------------------------

const isText = x => typeof x === "string" && x.length < 2000;
const isWhole = x => Number.isInteger(x) && x >= 0 && x < 1e6;

// The work in the text of a file, or an error in words.
function workIn(text) {
  let found;
  try {
    found = JSON.parse(text);
  } catch {
    throw new Error("the file · must be one saved by this course · got something else");
  }
  if (found?.format !== "gradekit panel" || found.kind !== "phase balance" || typeof found.state !== "object")
    throw new Error("the file · must be one saved by this course · got another kind of file");
  if (!(found.version <= 1)) throw new Error("the file · must be of version 1 · got a newer one");
  const made = empty(), state = found.state ?? {}, wrong = what => {
    throw new Error(`the file, ${what} · must be as this course saves it · got something else`);
  };
  made.name = isText(state.name ?? "") ? state.name ?? "" : wrong("name");
  for (const [name, guess] of Object.entries(state.guesses ?? wrong("guesses")))
    if (chapters.includes(name) && Number.isFinite(guess)) made.guesses[name] = guess;
    else wrong("guesses");
  for (const [name, seed] of Object.entries(state.seeds ?? {}))
    if (chapters.includes(name) && isWhole(seed)) made.seeds[name] = seed;
    else wrong("seeds");
  if (!Array.isArray(state.tries)) wrong("tries");
  for (const t of state.tries) {
    if (!(chapters.includes(t?.chapter) && isWhole(t.seed) && isWhole(t.item) && isText(t.given) && isText(t.said) &&
        typeof t.right === "boolean")) wrong("tries");
    made.tries.push({chapter: t.chapter, seed: t.seed, item: t.item, given: t.given, right: t.right, said: t.said,
      after_working: Boolean(t.after_working), asked: isText(t.asked ?? "") ? t.asked ?? "" : wrong("tries")});
  }
  for (const one of state.opened ?? [])
    if (Array.isArray(one) && chapters.includes(one[0]) && isWhole(one[1]) && isWhole(one[2])) made.opened.push(one.slice(0, 3));
    else wrong("opened");
  return made;
}

const saved = () => JSON.stringify({format: "gradekit panel", version: 1, kind: "phase balance", state: work}, null, 1) + "\n";

// Both are kept: a file that is read takes nothing away from what was done here.
function joined(mine, other) {
  const text = x => JSON.stringify(x), have = new Set(mine.tries.map(text)), seen = new Set(mine.opened.map(text));
  return {name: mine.name || other.name, guesses: {...other.guesses, ...mine.guesses}, seeds: {...other.seeds, ...mine.seeds},
    tries: [...other.tries.filter(t => !have.has(text(t))), ...mine.tries],
    opened: [...other.opened.filter(o => !seen.has(text(o))), ...mine.opened]};
}

function keep() {
  try {
    localStorage.setItem(KEY, saved());
    keeps = true;
  } catch {
    keeps = false;
  }
  standing();
}

const at = (t, chapter, seed, item, asked) => t.chapter === chapter && t.seed === seed && t.item === item && t.asked === asked;
const solved = chapter => new Set(work.tries.filter(t => t.chapter === chapter && t.right && t.item)
  .map(t => `${t.seed} ${t.item}`)).size;
const seedOf = chapter => {
  const seeds = Object.keys(course.chapters[chapter].sets).map(Number), mine = work.seeds[chapter];
  return seeds.includes(mine) ? mine : seeds[0];
};

// --- where one stands ------------------------------------------------------------------------------

function standing() {
  const rows = chapters.map((name, k) => {
    const row = document.createElement("tr"), guess = work.guesses[name];
    const link = say("a", `${k + 1}. ${name}`, {href: `#chapter-${k + 1}`}), head = say("th", "", {scope: "row"});
    head.append(link);
    row.append(head, say("td", guess === undefined ? "not yet" : number(guess, 4)), say("td", `${solved(name)} right`));
    return row;
  });
  $("standing").replaceChildren(...rows);
  const open = chapters.find(name => work.guesses[name] === undefined);
  const todo = chapters.find(name => solved(name) < course.questions);
  const place = name => `Next: chapter ${chapters.indexOf(name) + 1}, ${name}`;
  const words = open ? `${place(open)}: your guess.`
    : todo ? `${place(todo)}: ${course.questions - solved(todo)} to check yourself.`
    : "All chapters are done. Other questions stand behind the button of each chapter.";
  $("next").textContent = keeps ? words : `${words} This browser keeps nothing: save your work as a file before you close the page.`;
}

// --- a guess before each answer ----------------------------------------------------------------------

function guessBox(place) {
  const name = place.dataset.guess, chapter = course.chapters[name], details = place.querySelector("details");
  const id = `guess-${chapters.indexOf(name)}`, input = say("input", "", {id, type: "text", inputmode: "decimal", autocomplete: "off"});
  const row = say("p", "", {class: "row"}), said = say("p", "", {role: "status", class: "said"});
  const button = say("button", "Show without a guess", {type: "button"});
  row.append(say("label", `Your guess, ${chapter.answer.unit}`, {for: id}), input, button);
  const reveal = () => {
    for (const part of [details, ...document.querySelectorAll(`[data-after="${name}"]`)]) part.open = true;
  };
  const show = guess => {
    said.textContent = judgeGuess(chapter.answer, guess);
    reveal();
  };
  input.addEventListener("change", () => {
    if (!input.value.trim()) return;
    const found = readGuess(input.value, chapter.answer.unit, chapter.answer.of);
    input.setAttribute("aria-invalid", String("wrong" in found));
    if ("wrong" in found) return void (said.textContent = `✕ your guess · must be ${found.wrong} · got ${input.value.trim()}`);
    work.guesses[name] = found.value;
    show(found.value);
    keep();
  });
  button.addEventListener("click", reveal);
  details.before(row, said);
  details.querySelector("summary").textContent = "The computed answer";
  const before = work.guesses[name];
  if (before !== undefined) {
    input.value = String(before);
    show(before);
  }
}

// --- questions ----------------------------------------------------------------------------------------

function question(place, data, chapter, seed, item) {
  const asked = data.template, own = () => work.tries.filter(t => at(t, chapter, seed, item, asked));
  const last = own().at(-1), again = () => (own().some(t => t.right) ? " You had it right before; it stays solved." : "");
  const shown = view(place, {...data, number: item, name: `Answer ${item || ""}`.trim(),
    chart: data.picture ? course.charts[data.picture.diagram] : undefined}, {
    given: last?.given ?? "",
    name: `Answer ${item || ""}`.trim(),
    commit(given) {
      const {right, words, refused} = markAnswer(data, given), before = again();
      shown.say({words: words + (right || refused ? "" : before), sign: right ? "✓" : refused ? "△" : "✕"});
      if (refused) return;
      const opened = work.opened.some(o => o[0] === chapter && o[1] === seed && o[2] === item);
      work.tries.push({chapter, seed, item, given, right, said: words, after_working: opened, asked});
      keep();
    },
    opened() {
      if (!work.opened.some(o => o[0] === chapter && o[1] === seed && o[2] === item)) work.opened.push([chapter, seed, item]);
      keep();
    },
  });
  if (last) shown.say({words: last.said + (last.right ? "" : again()), sign: last.right ? "✓" : "✕"});
}

function check(place) {
  const name = place.dataset.check, list = say("div", ""), said = say("p", "", {role: "status", class: "said"});
  const other = say("button", "Other questions", {type: "button"});
  const lay = () => {
    const seed = seedOf(name);
    list.replaceChildren(...course.chapters[name].sets[seed].map((data, k) => {
      const box = say("div", "");
      question(box, data, name, seed, k + 1);
      return box;
    }));
  };
  other.addEventListener("click", () => {
    const seeds = Object.keys(course.chapters[name].sets).map(Number);
    const next = seeds[(seeds.indexOf(seedOf(name)) + 1) % seeds.length];
    work.seeds[name] = next;
    keep();
    lay();
    said.textContent = next === seeds[0] ? "these are the first questions again" : "three other questions stand above";
  });
  place.replaceChildren(say("h3", "Check yourself"), list, other, said);
  lay();
}

// --- the page -----------------------------------------------------------------------------------------

function build() {
  for (const place of document.querySelectorAll("[data-check]")) check(place);
  for (const place of document.querySelectorAll("[data-prompt]"))
    question(place, course.prompts[place.dataset.prompt].data, course.prompts[place.dataset.prompt].chapter, 0, 0);
  $("name").value = work.name;
  standing();
}

try {
  const text = localStorage.getItem(KEY);
  if (text) work = workIn(text);
} catch {
  keeps = false;
}
for (const place of document.querySelectorAll("[data-guess]")) guessBox(place);
build();
document.body.classList.add("alive");
$("name").addEventListener("change", () => {
  work.name = $("name").value.trim();
  keep();
});
$("take").addEventListener("click", () => {
  const link = say("a", "", {download: "my-phase-balance.json"});
  link.href = URL.createObjectURL(new Blob([saved()], {type: "application/json"}));
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 1000);
});
$("bring").addEventListener("change", async () => {
  const [file] = $("bring").files;
  if (!file) return;
  try {
    work = joined(workIn(await file.text()), work);
    keep();
    for (const place of document.querySelectorAll("[data-guess]")) {
      place.querySelectorAll(".row, .said").forEach(e => e.remove());
      guessBox(place);
    }
    build();
    $("told").textContent = `read: ${file.name}`;
  } catch (error) {
    $("told").textContent = `✕ ${error.message}`;
  }
  $("bring").value = "";
});

// One question of any form: number, choice, order, point on a chart, design with sliders. `view`
// needs no kernel: it shows plain data and hands over what was answered as text.

const element = (tag, words = "", attributes = {}, ...inside) => {
  const made = document.createElement(tag);
  if (words) made.textContent = words;
  for (const [name, value] of Object.entries(attributes)) made.setAttribute(name, value);
  made.append(...inside);
  return made;
};
const SVG = "http://www.w3.org/2000/svg";
const drawn = (tag, attributes, words = "") => {
  const made = document.createElementNS(SVG, tag);
  for (const [name, value] of Object.entries(attributes)) made.setAttribute(name, value);
  if (words) made.textContent = words;
  return made;
};
const read = (text) => parseFloat(String(text).replace(",", ".").replace("−", "-"));
const round = (x, digits) => Number(x.toFixed(digits));
const decimals = (x) => (String(x).split(".")[1] || "").length;
const id = () => `gk-${crypto.getRandomValues(new Uint32Array(2)).join("-")}`;

function button(words, action, name = words) {
  const made = element("button", words, { type: "button", "aria-label": name });
  made.addEventListener("click", action);
  return made;
}

// A box with its label; JupyterLab must not take its keys.
function box(name, type = "text") {
  const key = id();
  const label = element("label", name, { for: key });
  const input = element("input", "", { id: key, type, autocomplete: "off" });
  if (type === "text") input.setAttribute("inputmode", "decimal");
  input.dataset.lmSuppressShortcuts = "true";
  return [label, input];
}

// --- the chart: points that stand on it, a mark that is put there, the path of the working --------

function chart(data, name, onMark) {
  const at = data.chart;
  const [left, top, right, bottom] = at.box;
  const [x0, x1] = at.x;
  const [y0, y1] = at.y;
  const px = (x, y) => [
    left + ((x - x0) * (right - left)) / (x1 - x0),
    bottom - ((y - y0) * (bottom - top)) / (y1 - y0),
  ];
  const figure = element("figure", "", { class: "gk-chart" });
  figure.innerHTML = at.svg; // made by the library
  // The same diagram may stand twice in a notebook: its parts get names of their own.
  const own_names = new Map([...figure.querySelectorAll("[id]")].map((e) => [e.id, id()]));
  for (const part of figure.querySelectorAll("*")) {
    for (const { name, value } of [...part.attributes]) {
      const named = value.match(/^(#|url\(#)?([^)]*)\)?$/)?.[2];
      if (name === "id" || value.startsWith("#") || value.startsWith("url(#")) {
        if (own_names.has(named)) part.setAttribute(name, value.replace(named, own_names.get(named)));
      }
    }
  }
  const svg = figure.querySelector("svg");
  svg.setAttribute("style", `width:100%;max-width:${at.width}px;height:auto;display:block`);
  const layer = drawn("g", { class: "gk-points" });
  svg.append(layer);

  const point = (where, words, x, y, look) => {
    const [cx, cy] = px(x, y);
    where.append(drawn("circle", { cx, cy, r: 6, stroke: "#fff", "stroke-width": 1.3, ...look }));
    const anchor = cx > right - 90 ? "end" : "start";
    const label = { x: cx + (anchor === "end" ? -9 : 9), y: cy - 8, "text-anchor": anchor };
    const style = { "font-size": 12, fill: "#111", stroke: "#fff", "stroke-width": 3 };
    where.append(drawn("text", { ...label, ...style, "paint-order": "stroke" }, words));
  };
  for (const [words, x, y] of data.picture.points) {
    point(layer, words, x, y, { fill: "#1b6ca8", "data-x": x, "data-y": y });
  }

  const own = drawn("g", { class: "gk-own-mark" });
  svg.append(own);
  const mark = (x, y) => {
    own.replaceChildren();
    if (!Number.isFinite(x + y)) return;
    const [cx, cy] = px(x, y);
    const lines = `M${cx - 9} ${cy}h18M${cx} ${cy - 9}v18`;
    own.append(
      drawn("path", { d: lines, stroke: "#fff", "stroke-width": 5 }),
      drawn("path", { d: lines, stroke: "#b3261e", "stroke-width": 2.4, "data-x": x, "data-y": y }),
    );
  };
  if (onMark) {
    svg.setAttribute("tabindex", "0");
    svg.setAttribute("role", "application");
    svg.setAttribute("aria-label", `${name}: press a place, or move the mark with the arrow keys`);
    svg.dataset.lmSuppressShortcuts = "true";
    let now = null;
    const put = (x, y) => {
      now = [Math.min(Math.max(x, x0), x1), Math.min(Math.max(y, y0), y1)];
      onMark(...now);
    };
    svg.addEventListener("pointerdown", (event) => {
      const matrix = svg.getScreenCTM();
      const spot = new DOMPoint(event.clientX, event.clientY).matrixTransform(matrix.inverse());
      put(
        x0 + ((spot.x - left) * (x1 - x0)) / (right - left),
        y0 + ((bottom - spot.y) * (y1 - y0)) / (bottom - top),
      );
    });
    svg.addEventListener("keydown", (event) => {
      const way = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] }[
        event.key
      ];
      if (!way) return;
      event.preventDefault();
      const step = event.shiftKey ? 1 : 0.1;
      const from = now ?? [(x0 + x1) / 2, (y0 + y1) / 2];
      put(from[0] + way[0] * step, from[1] + way[1] * step);
    });
    figure.moveTo = (x, y) => { now = Number.isFinite(x + y) ? [x, y] : null; };
  }
  const trail = drawn("g", { class: "gk-path" });
  svg.append(trail);
  const way = element("p", "", { class: "gk-small" });
  figure.append(way);
  figure.path = (shown) => {
    trail.replaceChildren();
    const steps = data.picture.path;
    if (!shown || !steps.length) return;
    const spots = steps.map(([, x, y]) => px(x, y));
    const line = { fill: "none", stroke: "#111", "stroke-width": 1.6, "stroke-dasharray": "3 2" };
    const corners = spots.map((spot) => spot.map((v) => v.toFixed(1)).join(","));
    trail.append(drawn("polyline", { points: corners.join(" "), ...line }));
    steps.forEach(([words, x, y], n) => {
      const last = n === steps.length - 1;
      const look = { fill: last ? "#2e7d32" : "#777", r: last || !n ? 6 : 3 };
      point(trail, "", x, y, { ...look, "data-x": x, "data-y": y });
      // Each step bears the name of its element, if there is room for it.
      const [dx, dy] = n ? [spots[n][0] - spots[n - 1][0], spots[n][1] - spots[n - 1][1]] : [99, 0];
      if (Math.hypot(dx, dy) < 9) return;
      const at = n ? [spots[n][0] - dx / 2, spots[n][1] - dy / 2] : spots[0];
      const label = { x: at[0] + (dy ? 8 : 0), y: at[1] + (dy ? 4 : 16) };
      const style = { "font-size": 11, fill: "#111", stroke: "#fff", "stroke-width": 3 };
      const place = { "text-anchor": dy ? "start" : "middle", "paint-order": "stroke" };
      trail.append(drawn("text", { ...label, ...style, ...place }, words.split(":")[0]));
    });
    // Steps too short for a name on the chart are told beneath it.
    way.textContent = `The way there: ${steps.map(([words]) => words).join(" → ")}.`;
  };
  figure.mark = mark;
  return figure;
}

// --- the forms: each returns what stands there, what is answered, and how an answer is shown ------

const FORMS = {
  number(data, name, check) {
    const [label, input] = box(data.asked ? `${name}, ${data.asked}` : name);
    input.addEventListener("change", () => input.value.trim() && check());
    return {
      parts: [element("div", "", { class: "gk-row" }, label, input)],
      given: () => input.value.trim(),
      show: (text) => (input.value = text),
    };
  },

  choice(data, name) {
    const group = id();
    const short = data.choices.every((c) => c.length < 12);
    const list = element("fieldset", "", { class: short ? "gk-short" : "" });
    list.append(element("legend", name));
    const radios = data.choices.map((words) => {
      const [label, input] = box(words, "radio");
      Object.assign(input, { name: group, value: words });
      list.append(element("div", "", { class: "gk-row" }, input, label));
      return input;
    });
    return {
      parts: [list],
      given: () => radios.find((r) => r.checked)?.value ?? "",
      show: (text) => radios.forEach((r) => (r.checked = r.value === text)),
    };
  },

  order(data, name) {
    let order = [...data.choices];
    let touched = false;
    const list = element("ol", "", { class: "gk-order", "aria-label": name });
    const move = (at, by) => {
      const to = at + by;
      [order[at], order[to]] = [order[to], order[at]];
      touched = true;
      draw();
      const buttons = list.children[to].querySelectorAll("button");
      const same = buttons[by < 0 ? 0 : 1];
      (same.disabled ? buttons[by < 0 ? 1 : 0] : same).focus();
    };
    const draw = () => {
      list.replaceChildren(
        ...order.map((words, at) => {
          const up = button("↑", () => move(at, -1), `Move ${words} up`);
          const down = button("↓", () => move(at, 1), `Move ${words} down`);
          up.disabled = at === 0;
          down.disabled = at === order.length - 1;
          return element("li", "", {}, up, down, element("span", words));
        }),
      );
    };
    draw();
    return {
      parts: [list],
      given: () => order.join(" > "),
      show: (text) => {
        const found = text.split(" > ");
        if (found.length === order.length) order = found;
        draw();
      },
      untouched() {
        if (touched) return "";
        touched = true; // who presses again means it
        return "This is the order as it was drawn by lot: move what is wrong, or check again.";
      },
    };
  },

  point(data, name) {
    const [xLabel, x] = box("chromium equivalent, wt%");
    const [yLabel, y] = box("nickel equivalent, wt%");
    const picture = chart(data, name, (px, py) => {
      x.value = String(round(px, 1));
      y.value = String(round(py, 1));
      picture.mark(px, py);
    });
    const typed = () => {
      picture.mark(read(x.value), read(y.value));
      picture.moveTo(read(x.value), read(y.value));
    };
    for (const input of [x, y]) input.addEventListener("input", typed);
    return {
      parts: [element("div", "", { class: "gk-row" }, xLabel, x, yLabel, y)],
      picture,
      given: () => (x.value || y.value ? `${x.value.trim()}; ${y.value.trim()}` : ""),
      show: (text) => {
        [x.value, y.value] = text.split(";").map((part) => part.trim());
        typed();
      },
    };
  },

  design(data, name) {
    const levels = Object.fromEntries(data.sliders.map((s) => [s.element, s.start]));
    const goals = element("table", "", { class: "gk-goals" });
    goals.append(element("caption", `${name}: the targets at these contents`));
    const at = (sum) =>
      Object.entries(sum.terms).reduce((all, [e, k]) => all + k * levels[e], sum.constant);
    const show = (x) => String(Number(x.toPrecision(4)));
    const draw = () => {
      goals.querySelector("tbody")?.remove();
      const body = element("tbody");
      for (const t of data.targets) {
        const x = at(t);
        const low = t.low !== null && x < t.low - 1e-9;
        const high = t.high !== null && x > t.high + 1e-9;
        const asked = [
          t.low === null ? "" : `at least ${t.low}`,
          t.high === null ? "" : `at most ${t.high}`,
        ].filter(Boolean).join(", ");
        body.append(element("tr", "", {},
          element("th", t.words, { scope: "row" }),
          element("td", `${show(x)} ${t.unit}`),
          element("td", asked),
          element("td", low || high ? `✕ too ${low ? "low" : "high"}` : "✓ met"),
        ));
      }
      body.append(element("tr", "", {},
        element("th", `${data.least.words}, as little as possible`, { scope: "row" }),
        element("td", `${show(at(data.least))} wt%`), element("td"), element("td"),
      ));
      goals.append(body);
    };
    const rows = data.sliders.map((s) => {
      const [label, number] = box(`${s.element}, wt%`);
      const slider = element("input", "", {
        type: "range", min: s.low, max: s.high, step: s.step, "aria-label": `${s.element} slider`,
      });
      slider.dataset.lmSuppressShortcuts = "true";
      const put = (text, keep) => {
        const value = read(text);
        if (!Number.isFinite(value)) return;
        levels[s.element] = value;
        slider.value = value;
        if (!keep) number.value = String(round(value, Math.max(decimals(s.step), 1)));
        draw();
      };
      slider.addEventListener("input", () => put(slider.value));
      number.addEventListener("input", () => put(number.value, true));
      put(s.start);
      return [element("div", "", { class: "gk-row" }, label, number, slider), put];
    });
    return {
      parts: [...rows.map(([row]) => row), goals],
      given: () => data.sliders.map((s) => `${s.element} ${levels[s.element]}`).join("; "),
      show: (text) => {
        const told = Object.fromEntries(text.split(";").map((part) => part.trim().split(" ")));
        data.sliders.forEach((s, n) => told[s.element] && rows[n][1](told[s.element]));
      },
    };
  },
};

const contents = (heat) =>
  Object.entries(heat).map(([e, x]) => `${e}\u00a0${x}`).join(", ");

// Show a question in `el`. `commit(text)` is called with an answer, `opened()` when the working is
// asked for; the returned `say({words, sign})` shows what is said to it.
export function view(el, data, { commit, opened = () => {}, given = "", name = "Answer" }) {
  const root = element("section", "", { class: "gk-question" });
  root.append(element("h4", `${data.number ? `${data.number}. ` : ""}${data.title}`));
  root.append(element("p", data.question));
  for (const [words, heat] of Object.entries(data.heats)) {
    const text = element("p", "", { class: "gk-heat" }, element("b", words));
    text.append(`, wt%: ${contents(heat)}`);
    root.append(text);
  }
  if (data.lines.length) {
    const lines = data.lines.map((line) => element("li", line));
    root.append(element("ul", "", { class: "gk-lines" }, ...lines));
  }
  const said = element("p", "", { role: "status", class: "gk-said" });
  const check = () => {
    const text = form.given();
    const first = text ? form.untouched?.() : "Give an answer first.";
    if (first) return say({ words: first, sign: "" });
    commit(text);
  };
  const form = FORMS[data.form](data, name, check);
  const picture = form.picture ?? (data.chart ? chart(data, name) : null);
  if (picture) root.append(picture);
  root.append(...form.parts);
  const working = element("div", "", { class: "gk-working", hidden: "" });
  working.append(element("p", "", {}, element("b", data.shown_answer)));
  working.append(element("ol", "", {}, ...data.solution.map((step) => element("li", step))));
  working.append(element("p", data.evidence, { class: "gk-small" }));
  const reveal = () => {
    working.hidden = false;
    picture?.path(true);
  };
  const row = element("div", "", { class: "gk-row" });
  const label = data.number ? ` ${data.number}` : "";
  row.append(button(`Check${label}`, check));
  row.append(button(`Show working${label}`, () => { reveal(); opened(); }));
  root.append(row, said, working);
  root.addEventListener("keydown", (event) => {
    if (event.key === "Enter" && event.target.matches("input")) {
      event.preventDefault();
      check();
    }
  });
  const say = ({ words, sign, busy }) => {
    said.textContent = words ? `${sign ? `${sign} ` : ""}${words}` : "";
    root.classList.toggle("gk-right", sign === "✓");
    root.classList.toggle("gk-wrong", sign === "✕");
    root.setAttribute("aria-busy", String(Boolean(busy)));
  };
  if (given) form.show(given);
  el.replaceChildren(root);
  return { say, show: form.show, reveal };
}

// In a notebook the kernel judges. What it says stands in a trait that this view reads whenever it
// comes to exist; and an answer is handed over again until it was heard.
const AGAIN = [1500, 3000, 6000, 12000, 24000];

function render({ model, el }) {
  let shown;
  let waiting = null;
  const hand = (given, times = 0) => {
    const turn = Math.max(model.get("answer").turn, model.get("reply").turn) + 1;
    model.set("answer", { turn, given });
    model.save_changes();
    clearTimeout(waiting);
    waiting = setTimeout(() => {
      if (model.get("reply").turn >= turn) return;
      shown.say({ words: "… the answer is being judged", busy: true });
      if (times < AGAIN.length) hand(given, times + 1);
    }, AGAIN[times] ?? 60000);
  };
  const say = () => {
    const reply = model.get("reply");
    if (reply.given && reply.given !== model.get("answer").given) shown.show(reply.given);
    if (reply.turn >= model.get("answer").turn) shown.say(reply);
  };
  const build = () => {
    const reply = model.get("reply");
    shown = view(el, model.get("data"), {
      commit: (given) => hand(given),
      opened: () => {
        model.set("opened", true);
        model.save_changes();
      },
      given: reply.given || model.get("answer").given,
      name: model.get("data").name,
    });
    if (model.get("opened")) shown.reveal();
    say();
  };
  model.on("change:data", build);
  model.on("change:reply", say);
  build();
  return () => clearTimeout(waiting);
}

export default { render };

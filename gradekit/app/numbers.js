// Number boxes with linked sliders. All meaning lies in the kernel: this file hands over what was
// typed as text and shows what comes back.

const decimals = (text) => (String(text).split(/[.,]/)[1] || "").length;
const read = (text) => parseFloat(String(text).replace(",", "."));

function row(field, commit) {
  // Two groups load this file each for itself, so a counter would give the same name twice.
  const id = `gk-${crypto.getRandomValues(new Uint32Array(2)).join("-")}`;
  const line = document.createElement("div");
  line.className = "gk-number";
  line.innerHTML =
    `<label for="${id}"></label><input id="${id}" type="text" inputmode="decimal" ` +
    `autocomplete="off" spellcheck="false" aria-describedby="${id}-problem ${id}-note">` +
    `<input type="range"><span class="gk-note" id="${id}-note"></span>` +
    `<span class="gk-problem" id="${id}-problem"></span>`;
  const [label, box, slider, note, problem] = line.children;
  label.textContent = field.label || field.name;
  label.title = box.title = field.title;
  slider.setAttribute("aria-label", `${label.textContent} slider`);
  Object.assign(slider, { min: field.low, max: field.high, step: field.step });
  // JupyterLab would take the arrow keys and letters for its own shortcuts.
  for (const input of [box, slider]) input.dataset.lmSuppressShortcuts = "true";

  let kept = "";
  const move = (steps) => {
    const from = Number.isNaN(read(box.value)) ? field.low : read(box.value);
    const places = Math.max(decimals(field.step), decimals(box.value));
    let to = from + steps * field.step;
    if (field.least !== null) to = Math.max(to, Math.min(from, field.least));
    commit(to.toFixed(places));
  };
  box.addEventListener("keydown", (event) => {
    const steps = { ArrowUp: 1, ArrowDown: -1, PageUp: 10, PageDown: -10 }[event.key];
    if (steps) {
      event.preventDefault();
      move(event.shiftKey ? 10 * steps : steps);
    } else if (event.key === "Enter") {
      commit(box.value);
    } else if (event.key === "Escape") {
      box.value = kept;
    }
  });
  box.addEventListener("change", () => commit(box.value));
  slider.addEventListener("input", () => commit(slider.value));

  return {
    line,
    show(text) {
      kept = text;
      if (box.value !== text) box.value = text;
      const value = read(text);
      if (!Number.isNaN(value)) slider.value = value;
    },
    remark(text) {
      note.textContent = text || "";
    },
    complain(text) {
      problem.textContent = text ? `✕ ${text}` : "";
      box.setAttribute("aria-invalid", text ? "true" : "false");
    },
  };
}

function render({ model, el }) {
  const group = document.createElement("div");
  group.className = "gk-numbers";
  group.setAttribute("role", "group");
  el.append(group);
  let shown = {};

  const texts = () => {
    for (const [name, one] of Object.entries(shown)) one.show(model.get("typed")[name] ?? "");
  };
  const notes = () => {
    for (const [name, one] of Object.entries(shown)) one.remark(model.get("notes")[name]);
  };
  const problems = () => {
    for (const [name, one] of Object.entries(shown)) one.complain(model.get("problems")[name]);
  };
  const build = () => {
    group.setAttribute("aria-label", model.get("title"));
    const head = document.createElement("div");
    head.className = "gk-numbers-title";
    head.textContent = model.get("title");
    shown = {};
    for (const field of model.get("fields")) {
      shown[field.name] = row(field, (text) => {
        if (text === model.get("typed")[field.name]) return;
        model.set("typed", { ...model.get("typed"), [field.name]: text });
        model.save_changes();
      });
    }
    group.replaceChildren(head, ...Object.values(shown).map((one) => one.line));
    texts();
    notes();
    problems();
  };
  model.on("change:fields", build);
  model.on("change:typed", texts);
  model.on("change:notes", notes);
  model.on("change:problems", problems);
  build();
}

export default { render };

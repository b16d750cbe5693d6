// Number boxes with linked sliders. All meaning lies in the kernel: this file hands over what was
// typed as text and shows what comes back. The explorer around it hears of it first ('gk-numbers'):
// where it computes in the page, nothing waits for the kernel.

const decimals = (text) => (String(text).match(/[.,](\d*)/)?.[1] || "").length;
const read = (text) =>
  parseFloat(String(text).replace(",", ".")) / (/ppm\s*$/i.test(text) ? 1e4 : 1);
// "12.345" could be 12345: what this page writes itself can be read one way only.
const oneWay = (text) => (/^-?[1-9]\d{0,2}\.\d{3}$/.test(text) ? `${text}0` : text);

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
  // A long name may go on in a new line after each of its words.
  const words = (field.label || field.name).split(/(?<=_)/);
  label.append(...words.flatMap((word) => [word, document.createElement("wbr")]));
  label.title = box.title = field.title;
  slider.setAttribute("aria-label", `${label.textContent} slider`);
  // Tab goes from box to box; the slider is one arrow key away, and Escape leads back.
  Object.assign(slider, { min: field.low, max: field.high, step: field.step, tabIndex: -1 });
  // JupyterLab would take the arrow keys and letters for its own shortcuts.
  for (const input of [box, slider]) input.dataset.lmSuppressShortcuts = "true";

  let kept = "";
  const move = (steps) => {
    const from = Number.isNaN(read(box.value)) ? field.low : read(box.value);
    const places = Math.max(decimals(field.step), decimals(box.value));
    let to = from + steps * field.step;
    if (field.least !== null) to = Math.max(to, Math.min(from, field.least));
    commit(oneWay(to.toFixed(places)));
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
    } else if (event.key === "ArrowRight" && box.selectionStart === box.value.length) {
      event.preventDefault();
      slider.focus();
    }
  });
  slider.addEventListener("keydown", (event) => {
    if (event.key === "Escape") box.focus();
  });
  box.addEventListener("change", () => commit(box.value));
  slider.addEventListener("input", () => commit(oneWay(slider.value)));

  return {
    line,
    show(text) {
      kept = text;
      if (box.value !== text) box.value = text;
      const value = read(text);
      // What is not known stands nowhere on a scale.
      slider.classList.toggle("gk-unknown", Number.isNaN(value));
      slider.value = Number.isNaN(value) ? field.low : value;
      slider.setAttribute("aria-valuetext", text || "not known");
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
  let rows = {};

  // The texts as this page has them. Both sides write a trait of their own, each with its number in
  // the order of things, so that a late answer never undoes what was typed meanwhile: `shown` is
  // what the kernel puts here, a turn each time; `typed` counts what was typed since that turn.
  const newest = () => {
    const [shown, typed] = [model.get("shown"), model.get("typed")];
    return typed.turn === shown.turn ? typed : { ...shown, count: 0 };
  };
  let now = newest();

  // `names`: what was typed; null for what the kernel has put here. Returns whether the page has
  // computed and drawn what follows from it.
  const tell = (names) =>
    !el.dispatchEvent(new CustomEvent("gk-numbers", {
      bubbles: true,
      cancelable: true,
      detail: {
        names,
        title: model.get("title"),
        fields: model.get("fields"),
        texts: now.texts,
        refused: Object.keys(model.get("problems")),
        refuse: (name, words) => rows[name].complain(words),
        accept: (name) => rows[name].complain(""),
      },
    }));
  const texts = () => {
    for (const [name, one] of Object.entries(rows)) one.show(now.texts[name] ?? "");
  };
  const commit = (name, text) => {
    if (text === now.texts[name]) return;
    now = { ...now, texts: { ...now.texts, [name]: text }, count: now.count + 1 };
    rows[name].show(text);
    const send = () => {
      model.set("typed", now);
      try {
        model.save_changes();
      } catch {
        // The kernel has ended; what is computed in the page goes on.
      }
    };
    if (!tell([name])) return send(); // so that the kernel works while the page is drawn
    waiting = send; // it is on the screen first, and the kernel hears of it then
    requestAnimationFrame(() => setTimeout(flush));
    setTimeout(flush, 100); // a page that nobody sees draws nothing
  };
  let waiting = null;
  const flush = () => {
    const send = waiting;
    waiting = null;
    send?.();
  };
  group.addEventListener("focusout", flush); // before whatever is pressed next
  const notes = () => {
    for (const [name, one] of Object.entries(rows)) one.remark(model.get("notes")[name]);
  };
  const hide = () => {
    for (const [name, one] of Object.entries(rows)) {
      one.line.hidden = (model.get("hidden") ?? []).includes(name);
    }
  };
  const problems = () => {
    for (const [name, one] of Object.entries(rows)) one.complain(model.get("problems")[name]);
    tell([]);
  };
  const build = () => {
    group.setAttribute("aria-label", model.get("title"));
    const head = document.createElement("div");
    head.className = "gk-numbers-title";
    head.textContent = model.get("title");
    rows = {};
    for (const field of model.get("fields")) {
      rows[field.name] = row(field, (text) => commit(field.name, text));
    }
    group.replaceChildren(head, ...Object.values(rows).map((one) => one.line));
    texts();
    notes();
    hide();
    problems();
  };
  model.on("change:fields", build);
  model.on("change:shown", () => {
    if (model.get("shown").turn > now.turn) {
      now = newest();
      texts();
      tell(null);
    }
  });
  model.on("change:typed", () => {
    const typed = model.get("typed");
    if (typed.turn === now.turn && typed.count > now.count) {
      const names = Object.keys(typed.texts).filter((n) => typed.texts[n] !== now.texts[n]);
      now = typed; // in another view of these numbers
      texts();
      tell(names);
    }
  });
  model.on("change:notes", notes);
  model.on("change:hidden", hide);
  model.on("change:problems", problems);
  build();
}

export default { render };

// An explorer in a notebook: what is typed is computed and drawn here, and the kernel is told
// afterwards. It keeps the state, undo and files; what it changes itself comes back as `state`.

function render({model: kernel, el}) {
  el.innerHTML = kernel.get("value");
  let state = kernel.get("state"), panel = null, view = null, said = "", shown = "", answer = "";
  const typed = {}, values = {};
  const unread = {}; // what the kernel had where this page could not read what was typed
  const chosen = {...state.chosen};
  let told = state.chosen; // what the kernel last said was chosen
  let drawn = chosen.diagram;

  const groups = ["contents", "conditions", "weld"].filter(group => state[group]);
  const take = group => {
    const mine = values[group] ?? {};
    values[group] = {...state[group]};
    for (const name of typed[group] ?? []) {
      const asked = unread[`${group} ${name}`];
      if (asked && asked.had !== state[group][name]) typed[group].delete(name); // the kernel could
      else if (name in mine) values[group][name] = mine[name];
      else delete values[group][name];
    }
  };
  const heat = part => {
    const name = chosen[part];
    if (spec.known?.[name]) return {name, contents: spec.known[name]};
    return state.parts[part]; // of many heats only the chosen ones are here
  };

  function show() {
    if (!view) return;
    if (chosen.diagram !== drawn && spec.pictures?.[chosen.diagram]) {
      const resting = panel.querySelector(".gk-background .widget-html-content");
      if (resting) resting.innerHTML = spec.pictures?.[chosen.diagram];
    }
    drawn = chosen.diagram;
    const now = {contents: values.contents, conditions: values.conditions ?? {}, diagram: chosen.diagram,
      reference: chosen.reference ? heat("reference") : state.parts.reference};
    if (values.weld) {
      now.weld = values.weld;
      now.parts = Object.fromEntries(["first", "second", "wire"].map(part => [part, heat(part)]));
    }
    const asked = JSON.stringify(now);
    if (asked !== shown) answer = view.update(now);
    shown = asked; // what the kernel says of a state that stands here already moves nothing
    return answer;
  }
  const say = words => {
    const line = panel.querySelector(".gk-status");
    if (!line || words === said) return;
    said = words;
    put(line, words);
    if (line.matches(".gk-error")) line.classList.remove("gk-error");
  };

  function onNumbers(event) {
    const {detail} = event, group = spec.boxes[detail.title];
    if (!group) return;
    event.preventDefault(); // the kernel need not hurry
    typed[group] ??= new Set();
    if (!detail.names) { // put there by the kernel
      typed[group].clear();
      take(group);
      return void show();
    }
    for (const name of detail.refused) typed[group].delete(name);
    if (detail.refused.length) take(group);
    for (const name of detail.names) {
      const field = detail.fields.find(f => f.name === name);
      const value = numberOf(detail.texts[name] ?? "", field.most, field.unit);
      let wrong = value === undefined ? "a number" : "";
      if (value === null && !field.optional) wrong = "a number";
      if (isNumber(value) && field.least !== null && value < field.least) wrong = `at least ${field.least}`;
      if (isNumber(value) && field.most !== null && value > field.most) wrong = `at most ${field.most}`;
      if (!wrong && isNumber(value) && group === "contents") {
        const sum = Object.entries({...values.contents, [name]: value}).reduce((a, [, v]) => a + (v ?? 0), 0);
        if (sum > 100) wrong = `such that all contents are 100 wt% at most`;
      }
      if (!wrong && group === "weld") {
        const all = {...values.weld, [name]: value};
        if (all.low > all.high) wrong = "from a lower to a higher value";
        if (all.layers % 1) wrong = "a whole number";
      }
      delete unread[`${group} ${name}`];
      if (wrong) {
        unread[`${group} ${name}`] = {had: state[group][name]};
        typed[group].add(name);
        detail.refuse(name, `${field.label || name} · must be ${wrong} · got ${detail.texts[name] || "nothing"}`);
        return;
      }
      typed[group].add(name);
      if (value === null) delete values[group][name];
      else values[group][name] = value;
      if (detail.accept) detail.accept(name);
    }
    const words = show();
    if (detail.names.length && words) say(words);
  }

  function onChosen({target}) {
    const label = target.closest(".widget-dropdown")?.querySelector("label")?.textContent;
    const choice = spec.choices?.[label];
    if (!choice || !target.matches("select")) return;
    const [what, options] = choice, name = options[target.selectedIndex];
    const here = what === "diagram" ? spec.pictures?.[name] : spec.known?.[name];
    if (!here) return; // the kernel has it
    chosen[what] = name;
    const words = show();
    if (words && what === "diagram") say(words);
  }

  function onState() {
    state = kernel.get("state");
    for (const [what, name] of Object.entries(state.chosen))
      if (name !== told[what]) chosen[what] = name; // else it only lags behind what was chosen here
    told = state.chosen;
    groups.forEach(take);
    said = "";
    show();
  }

  const connect = tries => {
    panel = el.closest(".gk-panel");
    if (!panel) return void (tries && requestAnimationFrame(() => connect(tries - 1)));
    panel.addEventListener("gk-numbers", onNumbers);
    panel.addEventListener("change", onChosen);
    if (spec.kind === "contributions") el.querySelector(".gk-overlay").dataset.of = "parts";
    view = makeView(el, spec, () => el.querySelector(".gk-overlay > svg"));
    show();
  };
  groups.forEach(take);
  setTimeout(() => connect(600));
  kernel.on("change:state", onState);
  return () => {
    kernel.off("change:state", onState);
    panel?.removeEventListener("gk-numbers", onNumbers);
    panel?.removeEventListener("change", onChosen);
  };
}

export default { render };

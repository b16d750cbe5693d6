// An explorer in a file of its own: boxes in, view.js out, nothing asked of anyone. A page may hold
// several, each in its own `root`.

function savedExplorer(root, spec) {
  const $ = name => root.querySelector(`[data-is=${name}]`);
  const inputs = [...root.querySelectorAll(".controls input")];
  const isContent = group => group !== "conditions" && group !== "weld";

  function read() {
    const state = {};
    let problem = "";
    for (const input of inputs) {
      const group = input.closest("fieldset").dataset.group;
      const least = Number(input.dataset.least || -Infinity), most = Number(input.dataset.most || Infinity);
      const value = numberOf(input.value, most, input.dataset.unit);
      const wrong = value === undefined || (value === null ? group === "weld" : value < least || value > most);
      input.setAttribute("aria-invalid", String(wrong));
      if (wrong)
        problem = problem || `${input.getAttribute("aria-label")} · must be a number` +
          (Number.isFinite(most) ? ` from ${least} to ${most}` : Number.isFinite(least) ? ` of at least ${least}` : "") +
          `${isContent(group) ? ", wt%" : ""} · got '${input.value}'`;
      else if (value !== null) (state[group] ??= {})[input.dataset.name] = value;
    }
    for (const [group, contents] of Object.entries(state)) {
      if (problem || !isContent(group)) continue;
      const sum = Object.values(contents).reduce((a, b) => a + b, 0);
      if (sum > 100) problem = `the contents · must be 100 % together at most · got ${number(sum)}`;
    }
    const weld = state.weld;
    if (!problem && weld && weld.low > weld.high)
      problem = `ferrite · must be from a lower to a higher value · got ${weld.low} to ${weld.high}`;
    if (!problem && weld && weld.layers % 1)
      problem = `layers · must be a whole number · got ${weld.layers}`;
    put($("error"), problem);
    return problem ? null : state;
  }

  const diagramNow = () => $("diagram")?.value ?? spec.diagrams[0];

  function stateOf(given) {
    const state = {contents: given.contents ?? {}, conditions: given.conditions ?? {}, diagram: diagramNow()};
    if (spec.kind === "weld") {
      state.weld = given.weld;
      state.parts = Object.fromEntries(["first", "second", "wire"].map(part =>
        [part, {name: spec.names[part], contents: {...spec.blank, ...given[part]}}]));
    }
    return state;
  }

  for (const input of inputs) input.value = input.defaultValue; // a reload begins at the start
  const start = stateOf(read());
  const reference = {name: spec.reference,
    contents: spec.kind === "weld" ? metalOf(start, start.weld.dilution / 100) : start.contents};
  const view = makeView(root, spec, name => root.querySelector(`.chart[data-diagram="${name}"] svg.moving`));
  let given = read();

  function show() {
    const found = read();
    if (!found) return;
    given = found;
    for (const chart of root.querySelectorAll(".chart")) chart.hidden = chart.dataset.diagram !== diagramNow();
    put($("answer"), view.update({...stateOf(given), reference}));
    const diagram = model.diagrams.find(d => d.name === diagramNow());
    if (diagram) put($("caution"), `${diagram.title}. ${diagram.caution}.`);
  }

  // No cell of what is saved can start a formula in a spreadsheet.
  const safe = text => (/^\s*[=+\-@\t\r]/.test(text) ? `'${text}` : text).replace(/"/g, '""');

  function exported() {
    const lines = [["name", "value", "unit", "evidence", "remarks"]];
    for (const [group, contents] of Object.entries(given))
      for (const [name, value] of Object.entries(contents))
        lines.push([group === "contents" ? name : `${spec.names?.[group] ?? group} ${name}`, value, "", "", ""]);
    for (const row of root.querySelectorAll("tr[data-relation]")) {
      const cells = [...row.cells].map(c => c.textContent);
      const value = row.querySelector("td[data-value]").dataset.value;
      lines.push([row.dataset.relation, value === "" ? "" : Number(value), cells[5], cells[6], cells[7]]);
    }
    return lines.map(line => line.map(c => (typeof c === "number" ? c : `"${safe(String(c))}"`)).join(",")).join("\r\n");
  }

  for (const input of inputs) {
    input.addEventListener("input", show);
    input.addEventListener("keydown", event => {
      const steps = {ArrowUp: 1, ArrowDown: -1, PageUp: 10, PageDown: -10}[event.key];
      const value = numberOf(input.value, Number(input.dataset.most || Infinity), input.dataset.unit);
      if (!steps || value === undefined) return;
      event.preventDefault();
      const moved = (value ?? 0) + steps * (event.shiftKey ? 10 : 1) * Number(input.dataset.step);
      const least = Number(input.dataset.least || -Infinity), most = Number(input.dataset.most || Infinity);
      const comma = input.value.includes(",");
      const text = String(Number(Math.min(Math.max(moved, least), most).toPrecision(10)));
      input.value = comma ? text.replace(".", ",") : text;
      show();
    });
  }
  $("controls").addEventListener("submit", event => event.preventDefault());
  $("reset").addEventListener("click", () => {
    for (const input of inputs) input.value = input.defaultValue;
    show();
  });
  $("export").addEventListener("click", () => {
    const link = html("a", {download: "values.csv"});
    link.href = URL.createObjectURL(new Blob(["\ufeff" + exported()], {type: "text/csv"}));
    link.click();
    setTimeout(() => URL.revokeObjectURL(link.href), 1000);
  });
  $("diagram")?.addEventListener("change", show);
  show();
  root.exported = exported;
}

for (const root of document.querySelectorAll("[data-explorer]"))
  savedExplorer(root, explorers[root.dataset.explorer]);

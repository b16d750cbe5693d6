"""Explorers that compute in the page of a notebook: what they draw is what the kernel says, and
neither a busy kernel nor a dead one keeps anybody from looking."""

from __future__ import annotations

import json
import random
import time

import pytest
from labpage import CURRENT

import gradekit as gk

HEATS = {
    "C": [0.05, 0.15, 0.0153, 0.02], "Si": [0.4, 0.3, 0.4, 0.5], "Mn": [1.4, 1.0, 1.6, 1.1],
    "Cr": [18.2, 0.1, 23.51234567891, 22.3], "Ni": [8.1, 0.1, 13.0, 5.6],
    "Mo": [0.2, 0.0, None, 3.1], "N": [0.05, 0.005, 0.06, 0.17], "Cu": [0.3, 0.1, 0.1, 0.2],
    "heat": ["sheet", "plate", "wire", "duplex"],
}  # fmt: skip
CELL = f"""
import json
from pathlib import Path
import gradekit as gk

heats = {HEATS!r}
first = {{k: [v[0]] for k, v in heats.items()}}
plain = lambda numbers: {{k: v if v == v else None for k, v in numbers.items()}}

def write(name, panel, contents, values, spot):
    said = {{"state": panel.encode(panel.state), "contents": plain(contents)}}
    said |= {{"values": plain(values), "x": spot["x"], "y": spot["y"]}}
    Path(name).write_text(json.dumps(said))
"""
COMPOSITION = """
panel = gk.explorer(heats, grain_size_astm=8)

def say(change):
    state = panel.state
    names = [r.name for r in panel.relations]
    values = gk.evaluate(state.composition, names, **dict(state.conditions)).values.iloc[0]
    spot = gk.diagram(state.diagram).locate(state.composition).iloc[0]
    write("composition.json", panel, state.composition, values, spot)

panel._moving.observe(say, "state")
panel
"""
PARTS = """
parts = gk.app.contributions(first, ["pren_16n", "md30_nohara_1977", "ferrite_wrc_1992", "ms_self_1984"])

def say_parts(change):
    state = parts.state
    names = [r.name for r in parts.relations]
    values = gk.evaluate(state.composition, names, **dict(state.conditions)).values.iloc[0]
    write("parts.json", parts, state.composition, values, {"x": None, "y": None})

parts._moving.observe(say_parts, "state")
parts
"""  # noqa: E501
WELD = """
joint = gk.app.weld_explorer(heats, "plate", "sheet", "wire")

def say_joint(change):
    state = joint.state
    metal = joint._metal(state)
    values = gk.evaluate(metal, [r.name for r in joint.relations]).values.iloc[0]
    spot = gk.diagram(state.diagram).locate(metal).iloc[0]
    write("weld.json", joint, metal.iloc[0], values, spot)

joint._moving.observe(say_joint, "state")
joint
"""
SLEEP = "import time; time.sleep(6)"
VALUES = """e => Object.fromEntries([...e.querySelectorAll('tr[data-relation]')].map(r =>
    [r.dataset.relation, r.querySelector('td[data-value]').dataset.value]))"""
MARK = "e => { const m = e.querySelector('.trial'); return m ? [m.dataset.x, m.dataset.y] : null; }"


class Bench:
    """The three explorers in one open notebook."""

    def __init__(self, notebook, lab):
        self.notebook, self.page, self.folder = notebook, notebook.page, lab.folder / "notebooks"

    def panel(self, number):
        return self.page.locator(".gk-panel").nth(number)

    def said(self, name, state):
        """What the kernel has written of this state, which it reaches by and by."""
        give_up = time.monotonic() + 20
        while time.monotonic() < give_up:
            try:
                found = json.loads((self.folder / f"{name}.json").read_text())
                if state(found["state"]):
                    return found
            except (OSError, ValueError):
                pass  # not written yet, or not to its end
            self.page.wait_for_timeout(30)
        raise AssertionError(f"the kernel never reached this state, last {found['state']}")


@pytest.fixture(scope="module")
def bench(browser, lab):
    from conftest import visit

    lab.keeps_cells = True
    name = lab.write_notebook("drawn.ipynb", CELL, COMPOSITION, PARTS, WELD, SLEEP)
    with visit(browser, lab) as open_it:
        made = Bench(open_it(name), lab)
        made.notebook.run_all()
        made.page.locator(".gk-panel .gk-asked").first.wait_for()
        yield made
    lab.keeps_cells = False


def close(ours, shown):
    if ours is None:
        return shown == ""
    return shown != "" and float(shown) == pytest.approx(ours, rel=1e-12, abs=1e-300)


def agree(panel, said):
    shown = panel.evaluate(VALUES)
    assert set(shown) == set(said["values"])
    wrong = {n: (v, shown[n]) for n, v in said["values"].items() if not close(v, shown[n])}
    assert not wrong
    mark = panel.evaluate(MARK)
    if said["x"] is not None and mark is not None:
        assert close(said["x"], mark[0]) and close(said["y"], mark[1])


def typed(draw, value):
    """A number as somebody writes it, and what it means."""
    text = f"{value:.{draw.choice((2, 3, 4))}f}"
    meant = float(text)
    return draw.choice([text, text.replace(".", ",")]), meant


def test_thirty_steps_of_a_composition_are_what_the_kernel_says(bench):
    panel, draw = bench.panel(0), random.Random(7)
    ends = {"C": (0, 0.12), "Cr": (12, 26), "Ni": (0.5, 14), "Mn": (0.2, 9), "N": (0, 0.35),
            "Mo": (0, 4)}  # fmt: skip
    for step in range(30):
        element = draw.choice(list(ends))
        text, meant = typed(draw, draw.uniform(*ends[element]))
        box = panel.get_by_label(element, exact=True)
        box.fill(text)
        box.press("Enter")
        if step % 5 == 4:
            names = ["wrc_1992", "schaeffler_1949", "delong_1973"]
            panel.get_by_label("Diagram", exact=True).select_option(index=step // 5 % 3)
            diagram = names[step // 5 % 3]
        else:
            diagram = None
        shown = panel.evaluate(VALUES), panel.evaluate(MARK)
        said = bench.said(
            "composition",
            lambda s, e=element, m=meant, d=diagram: (
                s["composition"].get(e) == m and (d is None or s["diagram"] == d)
            ),
        )
        agree(panel, said)
        # What the kernel says has changed nothing of what stood there before.
        assert (panel.evaluate(VALUES), panel.evaluate(MARK)) == shown
    panel.get_by_label("Reference", exact=True).select_option(label="duplex")
    assert panel.locator("thead th").nth(2).inner_text() == "duplex"
    bench.notebook.shot("drawn-composition")


def test_what_is_undone_and_refused_agrees_too(bench):
    panel = bench.panel(0)
    box, status = panel.get_by_label("Cr", exact=True), panel.get_by_role("status")
    box.fill("17.5")
    box.press("Enter")
    bench.said("composition", lambda s: s["composition"]["Cr"] == 17.5)
    before = panel.evaluate(VALUES)
    panel.get_by_label("Mo", exact=True).fill("2.5")
    panel.get_by_label("Mo", exact=True).press("Enter")
    bench.said("composition", lambda s: s["composition"]["Mo"] == 2.5)
    assert panel.evaluate(VALUES) != before
    panel.get_by_role("button", name="Undo", exact=True).click()
    status.filter(has_text="undone").wait_for()
    bench.page.wait_for_function(
        "([e, old]) => e.querySelector('tr[data-relation=pren_16n] td').dataset.value === old",
        arg=[panel.element_handle(), before["pren_16n"]],
    )
    assert panel.evaluate(VALUES) == before
    box.fill("eighteen")
    box.press("Enter")
    status.filter(has_text="must be a number").wait_for()
    assert box.get_attribute("aria-invalid") == "true" and panel.evaluate(VALUES) == before
    box.fill("17,5")
    box.press("Enter")
    bench.page.wait_for_function("e => e.ariaInvalid === 'false'", arg=box.element_handle())


def test_parts_and_their_picture_follow(bench):
    panel, draw = bench.panel(1), random.Random(3)
    for _ in range(10):
        element = draw.choice(["C", "Cr", "Ni", "N"])
        text, meant = typed(
            draw, draw.uniform(0.01, 0.3) if element in "CN" else draw.uniform(5, 20)
        )
        box = panel.get_by_label(element, exact=True)
        box.fill(text)
        box.press("Enter")
        agree(panel, bench.said("parts", lambda s, e=element, m=meant: s["composition"][e] == m))
    label = panel.locator("[data-of=parts] svg").get_attribute("aria-label")
    contents = bench.said("parts", lambda s: True)["contents"]
    assert f"{gk.evaluate(contents, 'pren_16n').values.iloc[0, 0]:.4g}" in label


def test_a_weld_with_its_layers_is_that_of_the_kernel(bench):
    panel, draw = bench.panel(2), random.Random(5)
    for step in range(10):
        name = draw.choice(["dilution, %", "from first, %"])
        text, meant = typed(draw, draw.uniform(0, 100))
        box = panel.get_by_label(name, exact=True)
        box.fill(text)
        box.press("Enter")
        if step == 4:
            panel.get_by_label("Wire", exact=True).select_option(label="duplex")
        key = "dilution" if name.startswith("dil") else "share"
        said = bench.said(
            "weld",
            lambda s, k=key, m=meant, step=step: (
                s[k] == m and s["wire"] == ("duplex" if step > 3 else "wire")
            ),
        )
        agree(panel, said)
    box = panel.get_by_label("layers", exact=True)
    box.fill("5")
    box.press("Enter")
    state = bench.said("weld", lambda s: s["layers"] == 5)["state"]
    heats = gk.as_batch(HEATS)
    plate, wire = heats.loc[["plate"]], heats.loc[[state["wire"]]]
    layers = gk.diagrams.buttering(plate, wire, dilution=state["dilution"] / 100, layers=5)
    rows = panel.locator("table[data-of=metals] tbody tr").all()
    assert len(rows) == 6
    head = panel.locator("table[data-of=metals] thead th").all_inner_texts()
    for row, (_, metal) in zip(rows[1:], layers.iterrows(), strict=True):
        cells = row.locator("td").evaluate_all("c => c.map(x => x.dataset.value)")
        for element in ("C", "Cr", "Ni"):
            assert close(metal[element], cells[head.index(element) - 1])
    bench.notebook.shot("drawn-weld")


def test_a_busy_kernel_keeps_nobody_waiting(bench):
    page, panel = bench.page, bench.panel(0)
    page.evaluate(
        f"() => {{ const book = {CURRENT}.content; book.deselectAll();"
        " book.activeCellIndex = book.widgets.length - 1;"
        " window.jupyterapp.commands.execute('notebook:run-cell'); }"
    )
    page.wait_for_function(f"() => {CURRENT}.sessionContext.session.kernel.status === 'busy'")
    box = panel.get_by_label("Cr", exact=True)
    for text in ("18.9", "19,1"):
        box.fill(text)
        box.press("Enter")
        shown = panel.evaluate(VALUES)
        assert page.evaluate(f"{CURRENT}.sessionContext.session.kernel.status") == "busy"
        contents = bench.said("composition", lambda s: True)["contents"]
        contents |= {"Cr": float(text.replace(",", "."))}
        ours = gk.evaluate(contents, "pren_16n").values.iloc[0, 0]
        assert float(shown["pren_16n"]) == pytest.approx(ours, rel=1e-12)
    bench.notebook.wait_idle()
    agree(panel, bench.said("composition", lambda s: s["composition"]["Cr"] == 19.1))


def test_left_by_its_kernel_it_goes_on_answering(bench):
    page, panel = bench.page, bench.panel(0)
    contents = bench.said("composition", lambda s: True)["contents"]
    page.evaluate(f"() => {CURRENT}.sessionContext.restartKernel().then(() => null)")
    page.wait_for_function(
        "() => [...document.querySelectorAll('.gk-live')]"
        ".every(e => e.matches('.jupyter-widgets-disconnected'))"
    )
    box = panel.get_by_label("Cr", exact=True)
    box.fill("20,4")
    box.press("Enter")
    shown = panel.evaluate(VALUES)
    ours = gk.evaluate(contents | {"Cr": 20.4}, "pren_16n").values.iloc[0, 0]
    assert float(shown["pren_16n"]) == pytest.approx(ours, rel=1e-12)
    panel.get_by_label("Diagram", exact=True).select_option(label="DeLong diagram")
    spot = gk.diagram("delong_1973").locate(contents | {"Cr": 20.4}).iloc[0]
    mark = panel.evaluate(MARK)
    assert float(mark[0]) == pytest.approx(spot["x"], rel=1e-12)
    box.fill("plenty")
    box.press("Enter")
    assert box.get_attribute("aria-invalid") == "true" and panel.evaluate(VALUES) == shown
    bench.notebook.shot("drawn-left")

"""The lean-nickel notebook as a person uses it: type, step, err, undo, save, come back, load."""

from __future__ import annotations

import json

import pytest

NOTEBOOK = "01-lean-nickel.ipynb"
CELL = "gk.explorer("
NAMELESS = """root => [...root.querySelectorAll(
    'input, select, textarea, button, [role=slider], [tabindex="0"]')]
    .filter(e => e.checkVisibility())
    .filter(e => !(e.labels?.length || e.getAttribute('aria-label') || e.textContent.trim()))
    .map(e => e.outerHTML)"""
DOUBLE_IDS = """root => [...root.querySelectorAll('[id]')].map(e => e.id)
    .filter((id, at, all) => all.indexOf(id) !== at)"""
CUT_OFF = """root => [...root.querySelectorAll('input, select, button, svg, p, .gk-number')]
    .filter(e => e.checkVisibility())
    .filter(e => e.getBoundingClientRect().right > root.getBoundingClientRect().right + 1)
    .map(e => e.outerHTML.slice(0, 80))"""

THEME = "theme => window.jupyterapp.commands.execute('apputils:change-theme', { theme })"
# Text whose contrast to what lies behind it is below 4.5; opacity and all.
PALE = """root => {
    const rgb = text => text.match(/[\\d.]+/g).map(Number);
    const light = ([r, g, b]) => [r, g, b].map(v => v / 255)
        .map(v => v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4)
        .reduce((sum, v, i) => sum + v * [0.2126, 0.7152, 0.0722][i], 0);
    const behind = e => {
        for (; e; e = e.parentElement) {
            const colour = rgb(getComputedStyle(e).backgroundColor);
            if (colour.length === 3 || colour[3] > 0.5) return colour;
        }
        return [255, 255, 255];
    };
    const found = [];
    const kinds = 'p, td, th, caption, label, span, button, input[type=text], select';
    for (const e of root.querySelectorAll(kinds)) {
        if (!e.checkVisibility() || e.disabled || !(e.textContent.trim() || e.value)) continue;
        const [back, own] = [behind(e), getComputedStyle(e)];
        const front = rgb(own.color).slice(0, 3)
            .map((v, i) => v * own.opacity + back[i] * (1 - own.opacity));
        const [a, b] = [light(front), light(back)].sort((x, y) => y - x);
        if ((a + 0.05) / (b + 0.05) < 4.5) found.push(e.outerHTML.slice(0, 90) + own.color + back);
    }
    return found;
}"""


class Desk:
    """The explorer in the open notebook, by the names that a user reads."""

    def __init__(self, notebook):
        self.notebook, self.page = notebook, notebook.page
        self.whole = self.page.locator(".gk-panel")
        self.table = self.whole.get_by_role("table").first
        self.status = self.whole.get_by_role("status")

    def box(self, name):
        return self.whole.get_by_label(name, exact=True)

    def press(self, name):
        self.whole.get_by_role("button", name=name, exact=True).click()

    def value(self, relation):
        row = self.table.get_by_role("row").filter(has=self.page.get_by_text(relation, exact=True))
        return row.get_by_role("cell").first

    def says(self, text):
        self.status.filter(has_text=text).wait_for()

    def shows(self, relation, text):
        self.value(relation).filter(has_text=text).wait_for()


@pytest.fixture
def desk(open_notebook):
    def open_desk(width: int = 1280, height: int = 1000) -> Desk:
        notebook = open_notebook(NOTEBOOK, width, height)
        notebook.run_all()
        notebook.show(CELL)
        found = Desk(notebook)
        found.table.wait_for()
        # Once saved the notebook is trusted, and until it is run its panel is dead.
        notebook.trouble[:] = [t for t in notebook.trouble if "model not found" not in t]
        return found

    return open_desk


def test_a_designer_moves_errs_returns_and_takes_along(desk, lab):
    d = desk()
    # The cell after the panel set nickel to 4.0 from code; undo takes it back.
    assert d.box("Ni").input_value() == "4,0"
    d.press("Undo")
    d.says("undone")
    assert d.box("Ni").input_value() == "4.4"

    # Typed, with a decimal comma: PREN = 18.5 + 3.3 x 0.2 + 16 x 0.20
    d.box("Cr").fill("18,5")
    d.box("Cr").press("Enter")
    d.shows("pren_16n", "22.36")

    # Arrow keys step the box, Tab goes on to slider and next box; a slider takes arrow keys too.
    d.box("Cr").press("ArrowDown")
    d.shows("pren_16n", "22.26")
    d.page.keyboard.press("Tab")
    assert d.page.evaluate("document.activeElement.ariaLabel") == "Cr slider"
    d.page.keyboard.press("ArrowLeft")
    d.shows("pren_16n", "22.16")
    d.page.keyboard.press("Tab")
    d.page.keyboard.press("Tab")
    d.page.keyboard.press("Tab")
    assert d.page.evaluate("document.activeElement.labels[0].innerText") == "Mo"

    # Twenty presses as fast as a finger: none is lost, and one undo takes them all back.
    d.box("N").focus()
    for _ in range(20):
        d.page.keyboard.press("ArrowDown")
    d.shows("pren_16n", "20.56")
    assert d.box("N").input_value() == "0.100"
    d.press("Undo")
    d.shows("pren_16n", "22.16")

    # What cannot be is said in words where the user is, and what stood before still stands.
    for typed, said in (
        ("150", "Cr · must be at least 0 and at most 100 · got 150"),
        ("plenty", "Cr · must be a number"),
        ("-1", "got -1"),
        ("90", "sum of the contents"),
    ):
        d.box("Cr").fill(typed)
        d.box("Cr").press("Enter")
        d.says(said)
        assert d.box("Cr").get_attribute("aria-invalid") == "true"
        assert d.value("pren_16n").inner_text() == "22.16"
    d.box("Cr").fill("")
    d.box("Cr").press("Enter")
    d.shows("pren_16n", "—")
    d.table.get_by_text("no value: Cr not reported").first.wait_for()
    d.press("Undo")
    d.shows("pren_16n", "22.16")
    assert d.box("Cr").get_attribute("aria-invalid") == "false"

    # The other diagrams, another reference.
    for chart in ("WRC-1992 constitution diagram", "DeLong diagram"):
        d.box("Diagram").select_option(label=chart)
        d.whole.get_by_role("img", name=chart).wait_for()
    d.box("Reference").select_option(label="H25-0242 (2)")
    d.table.get_by_role("columnheader", name="H25-0242 (2)").wait_for()

    # Kept in a file, moved away, taken up again: after a reload of the page, too.
    d.box("File").fill("my-desk")
    for kind in ("Save", "CSV", "XLSX"):
        d.press(kind)
    d.says("my-desk.xlsx")
    kept = json.loads((lab.folder / "notebooks" / "my-desk.json").read_text("utf-8"))
    assert kept["state"]["composition"]["Cr"] == pytest.approx(18.3)
    assert (lab.folder / "notebooks" / "my-desk.csv").read_text("utf-8-sig").startswith("name,")
    d.press("Reset")
    d.shows("pren_16n", "21.66")
    d.notebook.save()
    d.page.reload()
    d.notebook.panel.wait_for()
    d.notebook.wait_idle()
    d.notebook.show(CELL)
    d.shows("pren_16n", "21.66")
    d.box("File").fill("my-desk")
    d.press("Load")
    d.says("loaded my-desk.json")
    d.shows("pren_16n", "22.16")
    assert d.box("Diagram").input_value() == "DeLong diagram"

    # A file from the future, and one that is not there: in words, and nothing is lost.
    newer = lab.folder / "notebooks" / "my-newer.json"
    newer.write_text(json.dumps({**kept, "version": 99}))
    for name, said in (("my-newer", "a newer gradekit"), ("nowhere", "there and a text")):
        d.box("File").fill(name)
        d.press("Load")
        d.says(said)
        assert d.value("pren_16n").inner_text() == "22.16"

    d.press("Copy as code")
    code = d.box("Python code for this state")
    code.wait_for()
    assert '"Cr": 18.3' in code.input_value()


def test_names_widths_and_themes(desk):
    d = desk()
    assert d.whole.evaluate(NAMELESS) == []
    assert d.whole.evaluate(DOUBLE_IDS) == []
    tree = d.whole.aria_snapshot()
    for name in ('textbox "Cr"', 'slider "Cr slider"', 'combobox "Diagram"', 'button "Undo"'):
        assert name in tree
    for width, theme in ((1280, "Dark"), (1280, "Light"), (800, "Light")):
        d.page.set_viewport_size({"width": width, "height": 1000})
        d.page.evaluate(THEME, f"JupyterLab {theme}")
        light = str(theme == "Light").lower()
        d.page.wait_for_function(f"document.body.dataset.jpThemeLight === '{light}'")
        d.notebook.show(CELL)
        assert d.whole.evaluate(CUT_OFF) == []
        assert d.whole.evaluate(PALE) == []
        d.notebook.shot(f"lean-nickel-{width}-{theme.lower()}")
        d.table.scroll_into_view_if_needed()
        d.notebook.shot(f"lean-nickel-{width}-{theme.lower()}-table")


def test_a_notebook_opened_again_can_be_read_and_says_how_to_revive(open_notebook):
    notebook = open_notebook(NOTEBOOK)
    notebook.show(CELL)
    still = notebook.outputs.get_by_text("To bring it to life, run the notebook")
    still.wait_for()
    picture = notebook.outputs.get_by_role("img", name="trial: field A+M+F", exact=False)
    assert picture.evaluate("image => image.naturalWidth") > 300
    notebook.shot("lean-nickel-opened-again")
    # Trusted, with a new kernel: the live panel is dead ('model not found'), the picture stays.
    notebook.page.evaluate("() => { window.jupyterapp.commands.execute('notebook:trust'); }")
    notebook.page.locator(".jp-Dialog .jp-mod-accept").click()
    notebook.outputs.get_by_text("model not found").first.wait_for()
    notebook.show(CELL)
    assert still.is_visible()
    assert notebook.outputs.get_by_role("table", name="Trial beside H25-0002").is_visible()
    notebook.shot("lean-nickel-opened-again-trusted")
    # Run, the picture makes room for the panel.
    notebook.run_all()
    notebook.show(CELL)
    notebook.page.locator(".gk-panel").wait_for()
    assert not still.is_visible()
    assert all("model not found" in line for line in notebook.trouble)
    notebook.trouble.clear()

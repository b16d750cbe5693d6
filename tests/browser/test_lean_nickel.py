"""The lean-nickel notebook as a person uses it: type, step, err, undo, save, come back, load."""

from __future__ import annotations

import json

import pytest

NOTEBOOK = "01-lean-nickel.ipynb"
CELL = "gk.explorer("


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
    notebook = open_notebook(NOTEBOOK, height=1000)
    notebook.run_all()
    notebook.show(CELL)
    found = Desk(notebook)
    found.table.wait_for()
    return found


def test_a_designer_moves_errs_returns_and_takes_along(desk, lab):
    d = desk
    # The cell after the panel set nickel to 4.0 from code; undo takes it back.
    assert d.box("Ni").input_value() == "4,0"
    d.press("Undo")
    d.says("undone")
    assert d.box("Ni").input_value() == "4.4"

    # Typed, with a decimal comma: PREN = 18.5 + 3.3 x 0.2 + 16 x 0.20
    d.box("Cr").fill("18,5")
    d.box("Cr").press("Enter")
    d.shows("pren_16n", "22.36")

    # Arrow keys step the box, right of its end stands the slider, which takes arrow keys too;
    # Escape goes back, Tab from box to box.
    d.box("Cr").press("ArrowDown")
    d.shows("pren_16n", "22.26")
    d.page.keyboard.press("End")
    d.page.keyboard.press("ArrowRight")
    assert d.page.evaluate("document.activeElement.ariaLabel") == "Cr slider"
    # What the reader has selected stays through the step: only what differs is touched.
    d.table.locator("caption").select_text()
    selected = d.page.evaluate("getSelection().toString()")
    d.page.keyboard.press("ArrowLeft")
    d.shows("pren_16n", "22.16")
    assert "Trial beside" in selected == d.page.evaluate("getSelection().toString()")
    d.page.keyboard.press("Escape")
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
    for name, said in (("my-newer", "a newer gradekit"), ("nowhere", "must be there")):
        d.box("File").fill(name)
        d.press("Load")
        d.says(said)
        assert d.value("pren_16n").inner_text() == "22.16"

    d.press("Copy as code")
    code = d.box("Python code for this state")
    code.wait_for()
    assert "'Cr': [18.3, " in code.input_value()

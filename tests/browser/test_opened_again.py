"""A notebook that was saved and is opened again, without a kernel that knows its panels."""

from __future__ import annotations

import time

import nbformat
import pytest
from labpage import CURRENT, NotebookPage

CELLS = (
    "import gradekit as gk",
    'gk.explorer({"C": .05, "Si": .4, "Mn": 1.4, "Cr": 18.2, "Ni": 8.1, "N": .05, "Mo": .2})',
    'course = gk.course("my-opened.json")\ncourse.guess("equivalents")',
    'course.check("pitting")',
    "course.standing()",
)
AUTOSAVED = 40.0  # seconds; the launcher sets ten


@pytest.fixture(autouse=True)
def all_cells_stay_in_the_page(lab):
    lab.keeps_cells = True
    yield
    lab.keeps_cells = False


def test_a_saved_notebook_shows_the_last_answers(lab, open_notebook):
    name = lab.write_notebook("opened.ipynb", *CELLS)
    notebook: NotebookPage = open_notebook(name)
    notebook.run_all()
    page = notebook.page
    nickel = page.locator(".gk-live").get_by_label("Ni", exact=True).first
    nickel.fill("11.25")
    nickel.press("Enter")
    guess = page.get_by_label("Your guess")
    guess.fill("7.5")
    guess.press("Enter")
    answer = page.get_by_label("Answer 1").first
    answer.fill("99")
    answer.press("Enter")
    page.get_by_role("status").filter(has_text="✕").first.wait_for()
    page.wait_for_function(
        f"""() => {CURRENT}.content.widgets.map(cell => JSON.stringify(cell.model.toJSON()))
            .filter(text => /11\\.25|guess: 7\\.5|answer: 99/.test(text)).length === 3"""
    )
    path = lab.folder / "notebooks" / name
    # Nobody presses Save: whoever closes the lid of the machine has it all the same.
    give_up = time.monotonic() + AUTOSAVED
    while "next: chapter 1, equivalents: 3 questions" not in path.read_text("utf-8").lower():
        assert time.monotonic() < give_up, "what was done is not in the file"
        page.wait_for_timeout(500)
    page.wait_for_function(f"() => !{CURRENT}.context.model.dirty")
    saved = nbformat.read(path, 4)
    pages = ["".join(o.data.get("text/html", "") for o in c.outputs) for c in saved.cells]
    assert "11.25" in pages[1] and "<img" in pages[1]
    assert "Your guess: 7.5" in pages[2] and "Your answer: 99" in pages[3]
    assert "7.5" in pages[4] and "8 chapters not begun yet" in pages[4]
    page.context.close()

    lab.end_kernels()
    again: NotebookPage = open_notebook(name)
    page = again.page
    for trusted in (False, True):
        if trusted:
            page.evaluate("() => { window.jupyterapp.commands.execute('notebook:trust'); }")
            page.locator(".jp-Dialog .jp-mod-accept").click()
            page.locator(".jp-Dialog").wait_for(state="detached")
            page.wait_for_function("() => document.body.textContent.includes('model not found')")
        shown = again.panel.inner_text()
        assert "11.25" in shown and "Your guess: 7.5" in shown and "Your answer: 99" in shown
        assert "Next: chapter 1, equivalents: 3 questions to check yourself." in shown
        assert "model not found" not in shown and "Error displaying" not in shown
        picture = again.panel.locator(".jp-OutputArea-output img").first
        assert picture.is_visible() and picture.evaluate("e => e.naturalWidth > 100 && !!e.alt")
        again.shot(f"opened-again-{'trusted' if trusted else 'new'}")
    again.trouble[:] = [line for line in again.trouble if "model not found" not in line]

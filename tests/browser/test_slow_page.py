"""A slow processor, Run All, and a student in a hurry: what the kernel says reaches every view."""

from __future__ import annotations

import os
import re

import pytest

from gradekit.lessons.chapters import CHAPTERS
from gradekit.lessons.sets import self_check

NOTEBOOK = "06-phase-balance.ipynb"
TIMES = 5  # so many times slower than this machine
RUN_ALL_AND_GO = "() => { window.jupyterapp.commands.execute('notebook:run-all-cells'); }"
IN_A_HURRY = ("equivalents", "one element", "dilution")


def live(notebook, source: str):
    notebook.show(source)
    return notebook.panel.locator(".jp-Cell").filter(has_text=source).first


def numbers(chapter: str):
    """The first exercise of a chapter that asks for a number, and which one it is."""
    asked = self_check(CHAPTERS[chapter].topic)
    return next((k, e) for k, e in enumerate(asked, start=1) if e.form == "number")


@pytest.mark.skipif(not os.environ.get("GRADEKIT_ALL_SIZES"), reason="minutes; by a flag")
@pytest.mark.parametrize(
    "lab_keeps_cells", [False, True], ids=["cells on screen only", "all cells"]
)
def test_a_verdict_shows_however_slow_the_page_and_fast_the_student(
    open_notebook, lab, lab_keeps_cells
):
    """Typed answers never showed their verdict although the kernel had recorded 'Right.'."""
    lab.lay_again(NOTEBOOK)
    (lab.folder / "notebooks" / "my-phase-balance.json").unlink(missing_ok=True)
    lab.keeps_cells = lab_keeps_cells
    try:
        notebook = open_notebook(NOTEBOOK, height=1000)
        page = notebook.page
        session = page.context.new_cdp_session(page)
        session.send("Emulation.setCPUThrottlingRate", {"rate": TIMES})
        page.evaluate(RUN_ALL_AND_GO)
        for chapter in IN_A_HURRY:  # down through the cells while they still run, never waiting
            cell = live(notebook, f'course.check("{chapter}")')
            place, exercise = numbers(chapter)
            box = cell.get_by_label(re.compile(f"^Answer {place}")).first
            box.wait_for()
            box.fill(exercise.shown_answer.split()[0])
            box.press("Enter")
        for chapter in IN_A_HURRY:  # and back again
            cell = live(notebook, f'course.check("{chapter}")')
            cell.get_by_role("status").filter(has_text="✓ Right.").first.wait_for(timeout=60_000)
        # what is written over shows its new verdict, too
        cell = live(notebook, f'course.check("{IN_A_HURRY[0]}")')
        place, _ = numbers(IN_A_HURRY[0])
        box = cell.get_by_label(re.compile(f"^Answer {place}")).first
        box.fill("77777")
        box.press("Enter")
        live(notebook, 'course.guess("dilution")')
        cell = live(notebook, f'course.check("{IN_A_HURRY[0]}")')
        cell.get_by_role("status").filter(has_text="✕").first.wait_for(timeout=60_000)
        notebook.shot(f"slow-{'all' if lab_keeps_cells else 'screen'}")
        session.detach()
    finally:
        lab.keeps_cells = False

"""The whole course as a weak and as a strong student go through it, from the first guess on.

A weak student guesses far off, takes the usual wrong ways, looks at the working and tries again; a
strong one is right at once. It takes two minutes a student and width, so it is asked for:
`GRADEKIT_WIDTHS=390,1024,1920` plays both at these widths, and keeps pictures of every page.
"""

from __future__ import annotations

import json
import os
import re

import pytest
from conftest import visit
from labpage import CURRENT
from looking import CUT_OFF, each

from gradekit.lessons.chapters import CHAPTERS
from gradekit.lessons.exercise import Exercise
from gradekit.lessons.marking import mark
from gradekit.lessons.prompts import PROMPTS
from gradekit.lessons.sets import self_check

ASKED = os.environ.get("GRADEKIT_WIDTHS", "")
WIDTHS = [int(w) for w in (ASKED or "1024").split(",")]
STUDENTS = ["weak", "strong"]
pytestmark = pytest.mark.skipif(not ASKED, reason="set GRADEKIT_WIDTHS=1024 to play the course")
NOTEBOOKS = {
    "06-phase-balance.ipynb": [*CHAPTERS][:4],
    "10-beyond-the-diagram.ipynb": [*CHAPTERS][4:],
}
KEPT = "my-phase-balance.json"
FAR_OFF = 1.9
PAGE = 1600  # pixels of one picture
BOOK = "document.querySelector('.jp-NotebookPanel:not(.lm-mod-hidden) .jp-WindowedPanel-outer')"


def wrong(exercise: Exercise) -> str:
    """An answer that is not right, by one of the usual slips where there is one."""
    for slip in exercise.mistakes:
        given = as_typed(exercise, slip.value)
        if given and not mark(exercise, given).right and not mark(exercise, given).refused:
            return given
    if exercise.form == "choice":
        return next(c for c in exercise.choices if c != exercise.answer)
    if exercise.form == "order":
        return " > ".join(reversed(exercise.answer))
    if exercise.form == "point":
        x, y = exercise.answer
        return f"{x + 3:.1f}; {y:.1f}"
    if exercise.form == "design":
        return "; ".join(f"{s.element} {s.low:g}" for s in exercise.sliders)
    return f"{float(exercise.answer) * FAR_OFF + 1:.3f}"


def as_typed(exercise: Exercise, value) -> str:
    if exercise.form == "number":
        return f"{float(value):.{exercise.decimals + 1}f}"
    if exercise.form == "order":
        return " > ".join(value)
    if exercise.form == "point":
        return "; ".join(f"{float(v):.1f}" for v in value)
    return str(value) if exercise.form == "choice" else ""


def right(exercise: Exercise) -> str:
    given = exercise.shown_answer
    if exercise.form == "number":
        given = given.split()[0]
    assert mark(exercise, given).right, (exercise.question, given)
    return given


class Player:
    """One student at one notebook."""

    def __init__(self, notebook, weak: bool):
        self.notebook, self.page, self.weak = notebook, notebook.page, weak

    def panel(self, source: str):
        self.notebook.show(source)
        cell = self.notebook.panel.locator(".jp-Cell").filter(has_text=source).first
        return cell.locator(".gk-live").first

    def guess(self, name: str) -> None:
        panel = self.panel(f'course.guess("{name}")')
        answer = CHAPTERS[name].compute()
        guess = answer.value
        if self.weak:
            guess = float(answer.of) if answer.of else answer.high * FAR_OFF + 0.5
        box = panel.get_by_role("textbox")
        box.fill(f"{guess:.3g}" if not answer.of else f"{guess:.0f}")
        box.press("Enter")
        panel.get_by_role("status").filter(has_text="Your guess").wait_for()
        panel.get_by_text("Computed:").first.wait_for()

    def answer(self, section, exercise: Exercise, given: str, number: int) -> None:
        form, name = exercise.form, f" {number}" if number else ""
        if form == "number":
            section.get_by_role("textbox").fill(given)
        elif form == "choice":
            section.get_by_label(given, exact=True).check()
        elif form == "point":
            boxes = section.get_by_role("textbox").all()
            for box, text in zip(boxes, given.split("; "), strict=True):
                box.fill(text)
        elif form == "design":
            for part in given.split("; "):
                element, amount = part.split()
                section.get_by_label(f"{element}, wt%", exact=True).fill(amount)
        else:
            self._sort(section, given.split(" > "))
        section.get_by_role("button", name=f"Check{name}", exact=True).click()

    @staticmethod
    def _sort(section, wanted: list[str]) -> None:
        for place, words in enumerate(wanted):
            rows = section.locator(".gk-order li span")
            at = rows.all_inner_texts().index(words)
            if place == 0 and at == 0:  # one step there and back: an order must be touched
                section.get_by_role("button", name=f"Move {words} down", exact=True).click()
                at = 1
            for _ in range(at - place):
                section.get_by_role("button", name=f"Move {words} up", exact=True).click()

    def question(self, section, exercise: Exercise, number: int) -> None:
        said = section.get_by_role("status")
        name = f" {number}" if number else ""
        if self.weak:
            self.answer(section, exercise, wrong(exercise), number)
            said.filter(has_text="✕").wait_for()
            section.get_by_role("button", name=f"Show working{name}", exact=True).click()
            section.locator(".gk-working").wait_for()
        self.answer(section, exercise, right(exercise), number)
        said.filter(has_text="✓").wait_for()

    def prompt(self, name: str, exercise: Exercise) -> None:
        panel = self.panel(f'course.prompt("{name}"')
        self.question(panel.locator(".gk-question").first, exercise, 0)

    def check(self, name: str) -> None:
        panel = self.panel(f'course.check("{name}")')
        for number, exercise in enumerate(self_check(CHAPTERS[name].topic), start=1):
            section = panel.locator(".gk-question").nth(number - 1)
            self.question(section, exercise, number)

    def explore(self) -> None:
        """Move the first number of every explorer, and wait for what it says."""
        for panel in self.page.locator(".gk-live:has(.gk-number)").all():
            box = panel.locator(".gk-number input[type=text]").first
            box.focus()
            box.press("ArrowUp")
            panel.get_by_role("status").filter(has_text=re.compile(r"\w")).first.wait_for()

    def pictures(self, name: str) -> None:
        """Keep the whole notebook, a page after the other."""
        size = self.page.viewport_size
        self.page.set_viewport_size({"width": size["width"], "height": PAGE})
        height = self.page.evaluate(f"() => {BOOK}.scrollHeight")
        for number, top in enumerate(range(0, height, PAGE - 150)):
            self.page.evaluate(f"() => {BOOK}.scrollTo(0, {top})")
            self.page.wait_for_timeout(100)
            self.notebook.shot(f"{name}-{number:02}")
        self.page.set_viewport_size(size)


def priced(lab):
    import gradekit as gk

    own = gk.works.inputs(lab.folder / "data" / "works.toml")
    return gk.read_prices(own.prices, book=own.materials, plant=own.plant)


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("student", STUDENTS)
def test_the_course_from_beginning_to_end(browser, lab, student, width):
    kept = lab.folder / "notebooks" / KEPT
    kept.unlink(missing_ok=True)
    lab.keeps_cells = True
    try:
        with visit(browser, lab) as open_it:
            for name, chapters in NOTEBOOKS.items():
                lab.lay_again(name)
                notebook = open_it(name, width=width, height=900)
                if width < 600:
                    notebook.page.evaluate(
                        "() => window.jupyterapp.commands.execute('application:toggle-left-area')"
                    )
                notebook.run_all(240)
                player = Player(notebook, student == "weak")
                for chapter in chapters:
                    player.guess(chapter)
                    for asked in (p for p in PROMPTS.values() if p.chapter == chapter):
                        exercise = asked.exercise(priced(lab) if asked.priced else None)
                        player.prompt(asked.name, exercise)
                    player.check(chapter)
                panels = notebook.page.locator(".gk-live").all()
                cut = each(panels, CUT_OFF)
                player.explore()
                if ASKED:
                    player.pictures(f"played-{name[:2]}-{student}-{width}")
                assert cut == []
                standing = player.panel("course.standing()").inner_text()
                if name.startswith("10"):
                    assert "All chapters are done" in standing
                else:
                    assert "Next: chapter 5, solidification: your guess." in standing
                notebook.page.wait_for_function(f"() => !{CURRENT}.context.model.dirty")
        work = json.loads(kept.read_text("utf-8"))["state"]
        assert set(work["guesses"]) == set(CHAPTERS)
        wrongs = sum(not t["right"] for t in work["tries"])
        rights = sum(t["right"] for t in work["tries"])
        assert rights >= 3 * len(CHAPTERS) + len(PROMPTS)
        assert wrongs >= rights if student == "weak" else wrongs == 0
    finally:
        lab.keeps_cells = False
        kept.unlink(missing_ok=True)

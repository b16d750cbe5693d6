"""The course as a student uses it: by keyboard, guessing, erring, being told why, seeing a weld."""

from __future__ import annotations

import json

import pytest

from gradekit.lessons.chapters import CHAPTERS
from gradekit.lessons.marking import mark
from gradekit.lessons.sets import self_check

NOTEBOOK = "06-phase-balance.ipynb"


class Desk:
    """The course in the open notebook."""

    def __init__(self, notebook):
        self.notebook, self.page = notebook, notebook.page

    def whole(self, source: str):
        """The cell that holds this source, on screen."""
        self.notebook.show(source)
        return self.notebook.panel.locator(".jp-Cell").filter(has_text=source).first

    def cell(self, source: str):
        """Its live output; the picture for when nothing lives stands hidden beneath."""
        return self.whole(source).locator(".jp-OutputArea-output").first

    def type(self, box, text: str) -> None:
        box.focus()
        self.page.keyboard.press("Control+a")
        self.page.keyboard.type(text)
        self.page.keyboard.press("Enter")

    def tab_to(self, name: str, most: int = 12) -> None:
        for _ in range(most):
            self.page.keyboard.press("Tab")
            if self.page.evaluate("document.activeElement.textContent.trim()") == name:
                return
        raise AssertionError(f"the keyboard does not reach {name!r}")


@pytest.fixture
def desk(open_notebook):
    notebook = open_notebook(NOTEBOOK, height=1000)
    notebook.run_all()
    return Desk(notebook)


def test_guess_err_and_learn_by_keyboard(desk, lab):
    d = desk
    guess = d.cell('course.guess("equivalents")')
    box = guess.get_by_label("Your guess, % Ni")
    box.wait_for()
    whole = d.whole('course.guess("equivalents")')
    assert "Computed: 1.5" not in whole.inner_text()  # the still picture is hidden, too
    d.type(box, "plenty")
    guess.get_by_role("status").filter(has_text="must be a number").wait_for()
    d.type(box, "0,9")
    said = guess.get_by_role("status")
    said.filter(has_text="0.6 % Ni too low. It lies outside the range").wait_for()
    guess.get_by_text("Computed: 1.5 % Ni").first.wait_for()
    guess.get_by_role("table", name="How much nickel one per cent stands for").wait_for()
    d.notebook.shot("phase-balance-guess")

    check = d.cell('course.check("equivalents")')
    exercise = self_check(CHAPTERS["equivalents"].topic)[0]
    answer = check.get_by_label("Answer 1, wt%")
    slip = exercise.mistakes[0]
    d.type(answer, f"{slip.value:.4f}")
    status = check.get_by_role("status")
    status.filter(has_text=slip.words).wait_for()
    d.notebook.shot("phase-balance-check")
    d.type(answer, exercise.shown_answer.split()[0].replace(".", ","))
    status.filter(has_text="✓ Right.").wait_for()
    d.tab_to("Show working 1")
    d.page.keyboard.press("Enter")
    check.get_by_text(exercise.solution[-1]).wait_for()
    d.tab_to("Other questions", most=30)
    d.page.keyboard.press("Enter")
    status.filter(has_text="three other questions").wait_for()

    kept = json.loads((lab.folder / "notebooks" / "my-phase-balance.json").read_text("utf-8"))
    assert kept["state"]["guesses"] == {"equivalents": 0.9}
    assert [t["right"] for t in kept["state"]["tries"]] == [False, True]

    # Tomorrow: the kernel is a new one, what was done is there.
    d.page.evaluate("() => window.jupyterapp.shell.currentWidget.sessionContext.restartKernel()")
    d.notebook.wait_idle()
    d.notebook.run_all()
    guess = d.cell('course.guess("equivalents")')
    guess.get_by_role("status").filter(has_text="Your guess 0.9").wait_for()


def test_a_choice_of_fields(desk):
    d = desk
    check = d.cell('course.check("fields")')
    exercise = self_check(CHAPTERS["fields"].topic)[0]
    question = check.locator(".gk-question").first
    question.wait_for()
    group = question.get_by_role("group", name="Answer 1")
    for choice in [*(c for c in exercise.choices if c != exercise.answer), exercise.answer]:
        group.get_by_label(choice, exact=True).check()
        question.get_by_role("button", name="Check 1").click()
        said = mark(exercise, choice).words
        question.get_by_role("status").filter(has_text=said).wait_for()
    question.get_by_role("button", name="Show working 1").click()
    question.get_by_text(exercise.solution[-1]).wait_for()


def test_a_place_on_the_chart_by_its_arrow_keys(desk):
    d = desk
    check = d.cell('course.check("fields")')
    exercise = self_check(CHAPTERS["fields"].topic)[1]
    assert exercise.form == "point"
    question = check.locator(".gk-question").nth(1)
    question.wait_for()
    question.get_by_role("application").focus()
    d.page.keyboard.press("ArrowUp")
    assert question.get_by_label("nickel equivalent, wt%").input_value() == "15.1"
    x, y = exercise.answer
    d.type(question.get_by_label("chromium equivalent, wt%"), f"{x + 3:.1f}")
    question.get_by_role("status").filter(has_text="chromium equivalent is too high").wait_for()
    d.type(question.get_by_label("nickel equivalent, wt%"), f"{y:.1f}")
    d.type(question.get_by_label("chromium equivalent, wt%"), f"{x:.1f}")
    question.get_by_role("status").filter(has_text="✓ Right.").wait_for()
    question.get_by_role("button", name="Show working 2").click()
    question.locator(".gk-path circle").first.wait_for()
    d.notebook.shot("phase-balance-place")


def test_the_weld_and_its_names(desk):
    d = desk
    weld = d.cell("gk.app.weld_explorer(").locator(".gk-panel")
    box = weld.get_by_label("dilution, %", exact=True)
    box.wait_for()
    shown = weld.get_by_role("img", name="At 20 % dilution: field FA")
    shown.wait_for()
    box.focus()
    d.page.keyboard.press("ArrowUp")
    weld.get_by_role("img", name="At 21 % dilution").wait_for()
    d.page.keyboard.press("PageUp")
    weld.get_by_role("img", name="At 31 % dilution").wait_for()
    d.type(box, "130")
    weld.get_by_role("status").filter(has_text="at most 100").wait_for()
    assert weld.get_by_role("img", name="At 31 % dilution").is_visible()
    tree = weld.aria_snapshot()
    for name in (
        'textbox "dilution, %"', 'slider "dilution, % slider"', 'combobox "Wire"',
        'combobox "Diagram"', 'button "Undo"', "layer 3",
    ):  # fmt: skip
        assert name in tree, tree
    d.notebook.shot("phase-balance-weld")

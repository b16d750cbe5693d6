"""A course in a notebook: a guess before each answer, self-checks, and a sheet to hand in."""

from __future__ import annotations

import os
from dataclasses import replace
from pathlib import Path

import ipywidgets as widgets
import pandas as pd

from gradekit.app import views
from gradekit.app.panels import lesson_views
from gradekit.app.panels.lesson_state import Progress, Try
from gradekit.app.panels.lesson_views import answer, next_step
from gradekit.app.widgets.controls import button, text_box
from gradekit.app.widgets.question import QuestionBox
from gradekit.app.widgets.shown import Shown
from gradekit.app.widgets.status import Status, guarded
from gradekit.core.errors import InputError
from gradekit.core.files import write_whole
from gradekit.core.markup import Html, panel, small, tag
from gradekit.design.prices import Prices
from gradekit.lessons.answer import Answer
from gradekit.lessons.chapters import CHAPTERS, Chapter, chapter
from gradekit.lessons.course_answers import STEELS
from gradekit.lessons.exercise import Exercise
from gradekit.lessons.guess import read_guess
from gradekit.lessons.marking import Feedback, mark
from gradekit.lessons.prompts import Prompt, prompt

_WIDTH = {"width": "24em", "max_width": "calc(100% - 4px)"}


def course(path: str | os.PathLike = "my-phase-balance.json", name: str = "") -> Course:
    """Open the course on phase balance, with what was done in it before.

    Parameters
    ----------
    path : path of the file that keeps guesses and answers
        Read if it is there, written at every step.
    name : str, optional
        Of the student, for the sheet.

    Returns
    -------
    Course
        `.standing()`, `.guess(chapter)`, `.after(chapter, panel)`, `.prompt(name)`,
        `.check(chapter)`, `.answer(chapter)`, `.sheet(path)`; shown by itself it is a table of
        what has been done.

    Raises
    ------
    InputError
        A file that is there and holds no work of this course; it stays as it is.

    Examples
    --------
    >>> import pathlib, tempfile
    >>> c = course(pathlib.Path(tempfile.mkdtemp()) / "work.json")
    >>> box = c.guess("nitrogen")
    >>> box.enter("0,3")
    >>> c.progress.work.guesses
    {'nitrogen': 0.3}
    """
    return Course(Progress(path, name))


class Course:
    """The course made by `course`."""

    def __init__(self, progress: Progress):
        self.progress = progress

    @property
    def steels(self) -> pd.DataFrame:
        """The invented steels that the course speaks of, wt%."""
        return pd.DataFrame(STEELS).T.rename_axis("heat")

    def guess(self, name: str) -> GuessBox:
        """Return the question of a chapter, with a box for a guess and the answer behind it."""
        return GuessBox(chapter(name), self.progress)

    def after(self, name: str, panel: Shown) -> After:
        """Return a panel that would give the answer of a chapter away, shut until the guess."""
        return After(chapter(name), self.progress, panel)

    def check(self, name: str) -> SelfCheck:
        """Return three questions of a chapter, with boxes for answers."""
        return SelfCheck(chapter(name), self.progress)

    def prompt(self, name: str, prices: Prices | None = None) -> PromptBox:
        """Return a question of the text, with a place for a guess and the computed answer.

        `prices` is a price list for 'each coin', as `gk.read_prices` gives it.
        """
        return PromptBox(prompt(name), self.progress, prices)

    def answer(self, name: str) -> Answer:
        """Return the computed answer of a chapter."""
        return answer(chapter(name).name)

    def sheet(self, path: str | os.PathLike = "my-answers.html", name: str = "") -> Path:
        """Write the student's own answers as a page to print or hand in, and return its path."""
        return write_whole(path, lesson_views.answers_page(self.progress.work, name))

    def standing(self) -> Standing:
        """Return what has been done and what comes next, live, with a page to hand in."""
        return Standing(self)

    def _repr_html_(self) -> str:
        work = self.progress.work
        return panel(lesson_views.overview(work), lead=next_step(work))

    def __repr__(self) -> str:
        work = self.progress.work
        return f"Course with {len(work.guesses)} of {len(CHAPTERS)} guesses, {self.progress.path}"


class Standing(Shown):
    """The standing of a course, live: what has been done, the next step, a page to hand in."""

    title = "Where you stand"

    def __init__(self, course: Course):
        self.course, self.progress, self.status = course, course.progress, Status()
        self._page = widgets.HTML()
        self._name = text_box("Your name", _WIDTH, value=self.progress.work.name)
        self._name.observe(guarded(self.status, lambda _: self._named()), "value")
        page = button("Page to hand in", self._hand_in, self.status, "a file beside this notebook")
        box = widgets.Box([self._name, page], layout={"flex_flow": "row wrap"})
        self.arrange(self._page, box, self.status)
        self.renew()
        self.progress.watchers.append(self.renew)

    def renew(self) -> None:
        """Show what has been done by now."""
        self._page.value = tag("div", *self._parts(), class_="gk")
        self.moved()

    def enter(self, name: str) -> None:
        """Do what typing a name does."""
        self._name.value = name

    def _named(self) -> str:
        name = self._name.value.strip()
        complaint = self.progress.rename(name)
        return f"{f'the page will bear the name {name}' if name else 'no name'}{complaint}"

    def _hand_in(self) -> str:
        return f"written beside this notebook: {self.course.sheet()}"

    def _parts(self) -> tuple[Html, Html]:
        work = self.progress.work
        return tag("p", next_step(work), class_="lead"), lesson_views.so_far(work)

    def _repr_html_(self) -> str:
        return tag("div", *self._parts(), small(views.REVIVE), class_="gk")


class GuessBox(Shown):
    """A question, a box for a guess, and the computed answer once there is one."""

    title = "Your guess first"

    def __init__(self, asked: Chapter, progress: Progress):
        self.chapter, self.progress, self.status = asked, progress, Status()
        self._text = text_box(f"Your guess, {asked.unit}", _WIDTH)
        self._answer = widgets.HTML()
        pass_by = button("Show without a guess", self._pass_by, self.status)
        question = widgets.HTML(tag("div", tag("p", asked.question), class_="gk"))
        box = widgets.Box([self._text, pass_by], layout={"flex_flow": "row wrap"})
        self.arrange(question, box, self.status, self._answer, look="gk-lesson")
        before = progress.work.guesses.get(asked.name)
        if before is not None:
            self._text.value = f"{before:g}"
            self._show(before)
        self._text.observe(guarded(self.status, lambda _: self._guessed()), "value")

    def enter(self, text: str) -> None:
        """Do what typing a guess does."""
        self._text.value = str(text)

    def _guessed(self) -> str | None:
        if not self._text.value.strip():
            return None
        guess = read_guess(self._text.value, self.chapter.unit, answer(self.chapter.name).of)
        kept = self.progress.keep(lambda work: work.guessed(self.chapter.name, guess))
        return self._show(guess) + kept

    def _show(self, guess: float) -> str:
        # The computed answer stands beneath in full: here only how the guess lies beside it.
        said = answer(self.chapter.name).judged(guess)
        self._reveal()
        self.status.say(said)
        return said

    def _pass_by(self) -> str:
        self._reveal()
        return "Shown without a guess: the computed answer stands below."

    def _reveal(self) -> None:
        self._answer.value = answer(self.chapter.name)._repr_html_()
        self.moved()

    def _repr_html_(self) -> str:
        guess = self._text.value.strip() if self._answer.value else ""
        told = f"Your guess: {guess}. {self.status.text}" if guess else ""
        return lesson_views.guess_still(self.chapter, told)


class After(Shown):
    """A panel that opens once the guess of a chapter is made, or when it is asked for."""

    title = "After your guess"

    def __init__(self, asked: Chapter, progress: Progress, panel: Shown):
        self.chapter, self.progress, self.panel, self.status = asked, progress, panel, Status()
        words = f"{panel.title}: opens with your guess above."
        shut = widgets.HTML(tag("div", tag("p", words), class_="gk"))
        open_it = button("Open without a guess", self._open, self.status)
        open_it.layout.align_self = "flex-start"
        self.arrange(shut, open_it, self.status)
        progress.watchers.append(self._follow)
        self._follow()

    def _ipython_display_(self) -> None:
        super()._ipython_display_()
        self.panel._still = self._still  # what moves in the panel is kept by the panel

    def _follow(self) -> None:
        if self.chapter.name in self.progress.work.guesses:
            self._open()

    def _open(self) -> None:
        if self.panel.root not in self.root.children:
            self.root.children = (self.root.children[0], self.panel.root)
            self.moved()

    def _repr_html_(self) -> str:
        still = Html(self.panel._repr_html_())
        if self.panel.root in self.root.children:
            return still
        shut = lesson_views.shut(self.chapter.name, self.panel.title, still)
        return tag("div", shut, small(lesson_views.RUN_TO_ANSWER), class_="gk")


class _Questions(Shown):
    """Questions that keep what is answered."""

    progress: Progress
    status: Status
    items: list[QuestionBox]

    def _question(
        self, chapter_name: str, seed: int, number: int, exercise: Exercise
    ) -> QuestionBox:
        """Return a question with its last answer; number 0 is a question of the text."""
        progress, at = self.progress, (chapter_name, seed, number, exercise.template)

        def judge(given: str) -> Feedback:
            feedback, before = mark(exercise, given), progress.work.answers(*at)
            if feedback.refused:
                return feedback
            opened = (chapter_name, seed, number) in progress.work.opened
            one = Try(*at[:3], given, feedback.right, feedback.words, opened, exercise.template)
            kept = progress.keep(lambda work: work.tried(one))
            self.moved()
            return replace(feedback, words=f"{feedback.words}{kept}{_solved(feedback, before)}")

        def opened() -> None:
            kept = progress.keep(lambda work: work.opening(chapter_name, seed, number)).strip()
            if kept:
                self.status.say(kept)

        tries = progress.work.answers(*at)
        if not tries:
            return QuestionBox(exercise, number, judge, opened)
        last = tries[-1]
        said = Feedback(last.right, f"{last.said}{_solved(last, tries)}")
        return QuestionBox(exercise, number, judge, opened, last.given, said)

    def _repr_html_(self) -> str:
        told = [f"Your answer: {i.given}. {i.said}" if i.said else "" for i in self.items]
        exercises = [item.exercise for item in self.items]
        return lesson_views.questions_still(exercises, told, self.title)


class SelfCheck(_Questions):
    """Three questions of one chapter; a wrong answer is told what went wrong."""

    title = "Check yourself"

    def __init__(self, asked: Chapter, progress: Progress):
        self.chapter, self.progress, self.status = asked, progress, Status()
        self._items = widgets.VBox()
        self.seed = 0  # of the questions that stand here, whatever another kernel has turned to
        other = button("Other questions", self._turn, self.status, "three new ones")
        other.layout.align_self = "flex-start"
        self.arrange(self._items, other, self.status, look="gk-lesson")
        self._lay()

    def enter(self, item: int, text: str) -> str:
        """Do what answering a question (1 to 3) does, and return what is said to it."""
        if item not in range(1, len(self.items) + 1):
            raise InputError("question", f"1 to {len(self.items)}", item)
        return self.items[item - 1].enter(text)

    def _lay(self) -> None:
        self.seed = self.progress.work.seeds.get(self.chapter.name, 0)
        made = enumerate(lesson_views.questions(self.chapter, self.seed), start=1)
        self.items = [
            self._question(self.chapter.name, self.seed, n, exercise) for n, exercise in made
        ]
        self._items.children = [*self.items]

    def _turn(self) -> str:
        seed = 1 + max(self.seed, self.progress.work.seeds.get(self.chapter.name, 0))
        kept = self.progress.keep(lambda work: work.turned(self.chapter.name, seed))
        self._lay()
        self.moved()
        return f"three other questions stand above{kept}"


class PromptBox(_Questions):
    """A question of the text, with a place for a guess and the computed answer behind it."""

    title = "Guess, then look"

    def __init__(self, asked: Prompt, progress: Progress, prices: Prices | None = None):
        self.prompt, self.progress, self.status = asked, progress, Status()
        self.item = self._question(asked.chapter, 0, 0, asked.exercise(prices))
        self.items = [self.item]
        self.arrange(self.item, self.status, look="gk-lesson")

    def enter(self, text: str) -> str:
        """Do what guessing does, and return what is said to it."""
        return self.item.enter(text)


def _solved(now: Feedback | Try, tries: list[Try]) -> str:
    """Say to a wrong answer that the question was solved before."""
    before = any(t.right for t in tries) and not now.right
    return " You had it right before; it stays solved." if before else ""

"""A course in a notebook: a guess before each answer, self-checks, and a sheet to hand in."""

from __future__ import annotations

import os
from dataclasses import replace
from functools import cache
from pathlib import Path

import ipywidgets as widgets
import pandas as pd

from gradekit.app import views
from gradekit.app.panels import lesson_views
from gradekit.app.panels.lesson_state import Progress, Try
from gradekit.app.panels.progress import Standing, next_step
from gradekit.app.widgets.controls import button
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


@cache
def _answer(name: str) -> Answer:
    return chapter(name).compute()


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
        return _answer(chapter(name).name)

    def sheet(self, path: str | os.PathLike = "my-answers.html", name: str = "") -> Path:
        """Write the student's own answers as a page to print or hand in, and return its path."""
        return write_whole(
            path, lesson_views.answers_page(self.progress.work, self._answers(), name)
        )

    def _answers(self) -> dict[str, Answer]:
        return {name: self.answer(name) for name in CHAPTERS}

    def standing(self) -> Standing:
        """Return what has been done and what comes next, live, with a page to hand in."""
        return Standing(self.progress, self._so_far, self._next, self._hand_in)

    def _hand_in(self) -> str:
        return f"written beside this notebook: {self.sheet()}"

    def _so_far(self) -> Html:
        return lesson_views.so_far(self.progress.work, self._answers())

    def _next(self) -> str:
        return next_step(self.progress.work, lesson_views.QUESTIONS)

    def _repr_html_(self) -> str:
        work, answers = self.progress.work, self._answers()
        return panel(lesson_views.overview(work, answers), lead=self._next())

    def __repr__(self) -> str:
        work = self.progress.work
        return f"Course with {len(work.guesses)} of {len(CHAPTERS)} guesses, {self.progress.path}"


class GuessBox(Shown):
    """A question, a box for a guess, and the computed answer once there is one."""

    title = "Your guess first"

    def __init__(self, asked: Chapter, progress: Progress):
        self.chapter, self.progress = asked, progress
        self.status = Status()
        self._style = widgets.HTML()
        self._text = _text(f"Your guess, {asked.unit}")
        self._answer = widgets.HTML()
        self._pass_by_button = button("Show without a guess", self._pass_by, self.status)
        self.root = widgets.VBox(
            [
                self._style,
                widgets.HTML(tag("div", tag("p", asked.question), class_="gk")),
                widgets.Box([self._text, self._pass_by_button], layout={"flex_flow": "row wrap"}),
                self.status,
                self._answer,
            ]
        ).add_class("gk-lesson")
        self._style.value = views.style(hide=self._still_class)
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
        guess = read_guess(self._text.value, self.chapter.unit, _answer(self.chapter.name).of)
        kept = self.progress.keep(lambda work: work.guessed(self.chapter.name, guess))
        return self._show(guess) + kept

    def _show(self, guess: float) -> str:
        # The computed answer stands beneath in full: here only how the guess lies beside it.
        said = _answer(self.chapter.name).judged(guess)
        self._reveal()
        self.status.say(said)
        return said

    def _pass_by(self) -> str:
        self._reveal()
        return "Shown without a guess: the computed answer stands below."

    def _reveal(self) -> None:
        self._answer.value = _answer(self.chapter.name)._repr_html_()
        self.moved()

    def _repr_html_(self) -> str:
        guess = self._text.value.strip() if self._answer.value else ""
        told = f"Your guess: {guess}. {self.status.text}" if guess else ""
        return lesson_views.guess_still(self.chapter, _answer(self.chapter.name), told)


class After(Shown):
    """A panel that opens once the guess of a chapter is made, or when it is asked for."""

    title = "After your guess"

    def __init__(self, asked: Chapter, progress: Progress, panel: Shown):
        self.chapter, self.progress, self.panel = asked, progress, panel
        self.status = Status()
        style, words = widgets.HTML(), f"{panel.title}: opens with your guess above."
        shut = widgets.HTML(tag("div", tag("p", words), class_="gk"))
        open_it = button("Open without a guess", self._open, self.status)
        open_it.layout.align_self = "flex-start"
        self.root = widgets.VBox([style, shut, open_it, self.status])
        style.value = views.style(hide=self._still_class)
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


class SelfCheck(Shown):
    """Three questions of one chapter; a wrong answer is told what went wrong."""

    title = "Check yourself"

    def __init__(self, asked: Chapter, progress: Progress):
        self.chapter, self.progress = asked, progress
        self.status = Status()
        self._items = widgets.VBox()
        self.seed = 0  # of the questions that stand here, whatever another kernel has turned to
        self.items: list[QuestionBox] = []
        other = button("Other questions", self._turn, self.status, "three new ones")
        other.layout.align_self = "flex-start"
        style = widgets.HTML()
        self.root = widgets.VBox([style, self._items, other, self.status]).add_class("gk-lesson")
        style.value = views.style(hide=self._still_class)
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
            _question(self, self.chapter.name, self.seed, n, exercise) for n, exercise in made
        ]
        self._items.children = [*self.items]

    def _turn(self) -> str:
        seed = 1 + max(self.seed, self.progress.work.seeds.get(self.chapter.name, 0))
        kept = self.progress.keep(lambda work: work.turned(self.chapter.name, seed))
        self._lay()
        self.moved()
        return f"three other questions stand above{kept}"

    def _repr_html_(self) -> str:
        told = [_told(item) for item in self.items]
        return lesson_views.questions_still([item.exercise for item in self.items], told)


class PromptBox(Shown):
    """A question of the text, with a place for a guess and the computed answer behind it."""

    title = "Guess, then look"

    def __init__(self, asked: Prompt, progress: Progress, prices: Prices | None = None):
        self.prompt, self.progress = asked, progress
        self.status = Status()
        self.item = _question(self, asked.chapter, 0, 0, asked.exercise(prices))
        style = widgets.HTML()
        self.root = widgets.VBox([style, self.item, self.status]).add_class("gk-lesson")
        style.value = views.style(hide=self._still_class)

    def enter(self, text: str) -> str:
        """Do what guessing does, and return what is said to it."""
        return self.item.enter(text)

    def _repr_html_(self) -> str:
        return lesson_views.questions_still([self.item.exercise], [_told(self.item)], self.title)


def _question(
    box: SelfCheck | PromptBox, chapter_name: str, seed: int, number: int, exercise: Exercise
) -> QuestionBox:
    """Return a question that keeps what is answered; number 0 is a question of the text."""
    progress, at = box.progress, (chapter_name, seed, number, exercise.template)

    def solved() -> str:
        return " You had it right before; it stays solved." if progress.work.has_solved(*at) else ""

    def judge(given: str) -> Feedback:
        feedback, before = mark(exercise, given), solved()
        if feedback.refused:
            return feedback
        opened = (chapter_name, seed, number) in progress.work.opened
        one = Try(*at[:3], given, feedback.right, feedback.words, opened, exercise.template)
        kept = progress.keep(lambda work: work.tried(one))
        box.moved()
        return replace(feedback, words=f"{feedback.words}{kept}{'' if feedback.right else before}")

    def opened() -> None:
        kept = progress.keep(lambda work: work.opening(chapter_name, seed, number)).strip()
        if kept:
            box.status.say(kept)

    last = progress.work.last(*at)
    if last is None:
        return QuestionBox(exercise, number, judge, opened)
    again = "" if last.right else solved()
    said = Feedback(last.right, f"{last.said}{again}")
    return QuestionBox(exercise, number, judge, opened, last.given, said)


def _told(item: QuestionBox) -> str:
    """Return the last answer and what was said to it, '' before there is one."""
    return f"Your answer: {item.given}. {item.said}" if item.said else ""


def _text(name: str) -> widgets.Text:
    return widgets.Text(
        description=name,
        continuous_update=False,
        style={"description_width": "auto"},
        layout=widgets.Layout(width="24em", max_width="calc(100% - 4px)"),
    )

"""How far a student has come: guesses, what is solved, the next step; it changes as one works."""

from __future__ import annotations

from collections.abc import Callable

import ipywidgets as widgets

from gradekit.app import views
from gradekit.app.panels.lesson_state import Work
from gradekit.app.widgets.shown import Shown
from gradekit.core.markup import Html, tag
from gradekit.lessons.chapters import CHAPTERS

__all__ = ["Standing", "next_step"]


def next_step(work: Work, questions: int) -> str:
    """Say what comes next in the course.

    Parameters
    ----------
    work : Work
    questions : int
        How many questions a set has.

    Returns
    -------
    str
        The first chapter without a guess; when all have one, the first with an open question.

    Examples
    --------
    >>> next_step(Work().guessed("equivalents", 1.5), 3)
    'Next: chapter 1, equivalents: 3 questions to check yourself.'
    >>> next_step(Work(), 3)
    'Next: chapter 1, equivalents: your guess.'
    """
    for number, name in enumerate(CHAPTERS, start=1):
        place = f"Next: chapter {number}, {name}"
        if name not in work.guesses:
            return f"{place}: your guess."
        open_ = questions - min(questions, work.solved(name))
        if open_:
            word = "question" if open_ == 1 else "questions"
            return f"{place}: {open_} {word} to check yourself."
    return "All chapters are done. Other questions stand behind the button of each chapter."


class Standing(Shown):
    """The standing of a course, live: `said` gives the table, `step` the next step in words."""

    title = "Where you stand"

    def __init__(self, said: Callable[[], Html], step: Callable[[], str]):
        self._said, self._step = said, step
        self._style, self._page = widgets.HTML(), widgets.HTML()
        self.root = widgets.VBox([self._style, self._page])
        self._style.value = views.style(hide=self._still_class)
        self.renew()

    def renew(self) -> None:
        """Show what has been done by now."""
        self._page.value = self._repr_html_()
        self.moved()

    def _repr_html_(self) -> str:
        return tag("div", tag("p", self._step(), class_="lead"), self._said(), class_="gk")

"""How far a student has come: guesses, what is solved, the next step; it changes as one works."""

from __future__ import annotations

from collections.abc import Callable

import ipywidgets as widgets

from gradekit.app import views
from gradekit.app.panels.lesson_state import Progress, Work
from gradekit.app.widgets.controls import button
from gradekit.app.widgets.shown import Shown
from gradekit.app.widgets.status import Status, guarded
from gradekit.core.markup import Html, small, tag
from gradekit.lessons.chapters import CHAPTERS


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
        The first chapter that lacks its guess or has an open question.

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
    """The standing of a course, live.

    Parameters
    ----------
    progress : Progress
    said : callable() -> Html
        The table of what has been done.
    step : callable() -> str
        The next step, in words.
    hand_in : callable() -> str
        Writes the page to hand in, and says where.
    """

    title = "Where you stand"

    def __init__(
        self,
        progress: Progress,
        said: Callable[[], Html],
        step: Callable[[], str],
        hand_in: Callable[[], str],
    ):
        self._progress, self._said, self._step = progress, said, step
        self.status = Status()
        style, self._page = widgets.HTML(), widgets.HTML()
        self._name = widgets.Text(
            value=progress.work.name, description="Your name", continuous_update=False,
            style={"description_width": "auto"},
            layout=widgets.Layout(width="24em", max_width="calc(100% - 4px)"),
        )  # fmt: skip
        self._name.observe(guarded(self.status, lambda _: self._named()), "value")
        page = button("Page to hand in", hand_in, self.status, "a file beside this notebook")
        box = widgets.Box([self._name, page], layout={"flex_flow": "row wrap"})
        self.root = widgets.VBox([style, self._page, box, self.status])
        style.value = views.style(hide=self._still_class)
        self.renew()
        progress.watchers.append(self.renew)

    def renew(self) -> None:
        """Show what has been done by now."""
        self._page.value = tag("div", *self._parts(), class_="gk")
        self.moved()

    def enter(self, name: str) -> None:
        """Do what typing a name does."""
        self._name.value = name

    def _named(self) -> str:
        name = self._name.value.strip()
        complaint = self._progress.rename(name)
        return f"{f'the page will bear the name {name}' if name else 'no name'}{complaint}"

    def _parts(self) -> tuple[Html, Html]:
        return tag("p", self._step(), class_="lead"), self._said()

    def _repr_html_(self) -> str:
        return tag("div", *self._parts(), small(views.REVIVE), class_="gk")

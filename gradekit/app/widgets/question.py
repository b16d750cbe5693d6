"""One question of any form, answered by mouse, finger or keyboard."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import anywidget
import traitlets

from gradekit.app.widgets.status import error_in_words
from gradekit.app.widgets.turns import in_turn
from gradekit.lessons.charted import chart_data
from gradekit.lessons.exercise import Exercise
from gradekit.lessons.marking import Feedback


class QuestionBox(anywidget.AnyWidget):
    """A question with its controls, what is said to the answer, and its working.

    Parameters
    ----------
    exercise : Exercise
    number : int
        Of the question, 0 for one that stands alone.
    judge : callable(given) -> Feedback
        Called with each answer, as text.
    opened : callable()
        Called when the working is shown.
    given : str
        An answer of before, which stands in the controls.
    said : Feedback, optional
        What was said to it.
    """

    _esm = Path(__file__).with_name("question.js")
    _css = Path(__file__).with_name("question.css")
    data = traitlets.Dict().tag(sync=True)
    # Each side writes a trait of its own; `turn` tells which answer was heard.
    answer: traitlets.Dict = traitlets.Dict({"turn": 0, "given": ""}).tag(sync=True)
    reply: traitlets.Dict = traitlets.Dict().tag(sync=True)
    opened = traitlets.Bool(False).tag(sync=True)

    def __init__(
        self, exercise: Exercise, number: int, judge: Callable[[str], Feedback],
        opened: Callable[[], Any] = lambda: None, given: str = "", said: Feedback | None = None,
    ):  # fmt: skip
        self.exercise, self._judge, self._opened = exercise, judge, opened
        data: dict = {**exercise.data(), "number": number, "name": f"Answer {number or ''}".strip()}
        if exercise.picture is not None:
            data["chart"] = chart_data(exercise.picture.diagram)
        super().__init__(data=data, reply=_reply(0, given, said))
        self.observe(self._on_answer, "answer")
        self.observe(self._on_opened, "opened")

    @property
    def said(self) -> str:
        """What is said to the last answer, with its sign; '' before there is one."""
        return f"{self.reply['sign']} {self.reply['words']}".strip()

    @property
    def given(self) -> str:
        """The last answer that was judged."""
        return self.reply["given"]

    def enter(self, given: str) -> str:
        """Do what answering does, and return what is said to it."""
        self.answer = {"turn": self.answer["turn"] + 1, "given": str(given)}
        return self.said

    def show_working(self) -> None:
        """Do what pressing 'Show working' does."""
        self.opened = True

    @in_turn
    def _on_answer(self, change: Mapping) -> None:
        turn, given = change["new"]["turn"], str(change["new"]["given"]).strip()
        if turn <= self.reply["turn"]:
            return
        if given == self.reply["given"] and self.reply["turn"]:
            self.reply = self.reply | {"turn": turn}  # handed over again: it was judged already
            return
        try:
            said = self._judge(given)
        except Exception as error:
            said = Feedback(False, error_in_words(error), True)
        self.reply = _reply(turn, given, said)

    @in_turn
    def _on_opened(self, change: Mapping) -> None:
        if change["new"]:
            self._opened()


def _reply(turn: int, given: str, said: Feedback | None) -> dict:
    """Return what the page shows: words, and a sign that is no colour alone."""
    if said is None:
        return {"turn": turn, "given": given, "words": "", "sign": ""}
    sign = "✓" if said.right else "△" if said.refused else "✕"
    return {"turn": turn, "given": given, "words": said.words, "sign": sign}

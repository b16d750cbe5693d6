"""Texts that are typed: what is refused stays marked and said until it is mended."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping

import ipywidgets as widgets

from gradekit.app.widgets.controls import text_box
from gradekit.app.widgets.numbers import NumberBoxes
from gradekit.app.widgets.status import Status, error_in_words, guarded
from gradekit.core.errors import InputError, said
from gradekit.core.markup import tag

_CLAUSE = re.compile(r" ?\(still refused: .*$", re.S)


class TypedText(widgets.VBox):
    """A text box; a text that is refused stays in it, marked, with the reason beneath.

    Parameters
    ----------
    text : str
        The words before the box.
    value : str
    action : callable(text)
        Called with what was typed. If it raises, the box is marked.
    status : Status

    Attributes
    ----------
    box : Text
    problem : str
        Why the text is refused, '' where it is not.
    """

    def __init__(self, text: str, value: str, action: Callable[[str], None], status: Status):
        self.box = text_box(text, value=value)
        self.problem = ""
        self._words = widgets.HTML().add_class("gk-why")
        self._action, self._typed = action, guarded(status, self._try)
        self._mark("")
        super().__init__([self.box, self._words], layout=widgets.Layout(overflow="visible"))
        self.box.observe(self._typed, "value")

    def show(self, value: str) -> None:
        """Show another text without calling the action; the complaint is gone."""
        self.box.unobserve(self._typed, "value")
        self.box.value = value
        self.box.observe(self._typed, "value")
        self._mark("")

    def _try(self, _: Mapping) -> None:
        self._mark("")  # before the action, which says what is still refused
        try:
            self._action(self.box.value)  # as it is now, not as it was before a wait
        except Exception as error:
            self._mark(error_in_words(error))
            raise

    def _mark(self, problem: str) -> None:
        self.problem = problem
        # A plain text box takes no 'aria-invalid', so the mark is a class and words beneath.
        (self.box.add_class if problem else self.box.remove_class)("gk-wrong")
        self._words.value = tag("span", f"✕ {problem}") if problem else ""
        self._words.layout.display = "" if problem else "none"


class Refused:
    """What a panel refuses at present, said at the end of its status line as long as it is so.

    Parameters
    ----------
    status : Status
    texts : iterable of TypedText
    numbers : Numbers
    labels : mapping of number name to the word before its box
    """

    def __init__(
        self,
        status: Status,
        texts: Iterable[TypedText],
        numbers: NumberBoxes,
        labels: Mapping[str, str],
    ):
        self._status, self._texts, self._numbers = status, list(texts), numbers
        self._labels = labels
        status.observe(self._remind, "text")
        numbers.observe(self._remind, "problems")

    def now(self) -> dict[str, str]:
        """Return what stands in the boxes that are refused, by the words before them."""
        refused = {t.box.description: t.box.value for t in self._texts if t.problem}
        for name in self._numbers.problems:
            refused[self._labels[name]] = self._numbers.texts[name]
        return refused

    def forbid(self, what: str) -> None:
        """Refuse to make something of the last answer while the boxes show something else.

        Raises
        ------
        InputError
            Naming each box and its text.
        """
        if open_now := self.now():
            boxes = "; ".join(f"{label}: {text.strip()!r}" for label, text in open_now.items())
            must_be = "of what the boxes show: mend what is refused first"
            raise InputError(what, must_be, said(boxes))

    def _remind(self, _: Mapping) -> None:
        told = _CLAUSE.sub("", self._status.text)
        left = [label for label in self.now() if label not in told]
        self._status.text = f"{told} (still refused: {', '.join(left)})".strip() if left else told

"""One exercise as plain data: what is shown, what is asked, the truth, and the usual mistakes.

An exercise holds no code. How an answer is judged follows from its form alone, so that a page
without Python, which has only `Exercise.data()`, judges as `gradekit.lessons.marking` does.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from typing import Any

import numpy as np

#: What is practised, in the words that stand above a question.
KINDS = {
    "compute": "Work it out",
    "estimate": "Estimate, before you compute",
    "read": "Read it off the chart",
    "place": "Mark it on the chart",
    "rank": "Put them in order",
    "change": "Which single change?",
    "reason": "What happens, and why?",
    "mistake": "Find the mistake",
    "chart": "Which diagram may be used?",
    "design": "A design in small",
}
# An answer: by its form a number, a word, an order of words, or a point (x, y).
AnswerValue = Any
#: How an answer is given, and so how it is judged.
FORMS = ("number", "choice", "order", "point", "design")


@dataclass(frozen=True)
class Mistake:
    """A wrong way and where it leads: a number, a word, an order or a point."""

    value: AnswerValue
    words: str


def gap(one: AnswerValue, other: AnswerValue) -> float:
    """Return how far two numbers lie apart, or two points on either axis."""
    if isinstance(one, tuple):
        return max(map(gap, one, other))
    return abs(float(one) - float(other))


def wrong_ways(says: Mapping[AnswerValue, str], right: AnswerValue) -> tuple[Mistake, ...]:
    """Return every answer but the right one, with what is said of it.

    Examples
    --------
    >>> wrong_ways({"A": "it is", "B": "too low"}, "A")
    (Mistake(value='B', words='too low'),)
    """
    return tuple(Mistake(value, words) for value, words in says.items() if value != right)


@dataclass(frozen=True)
class SumTarget:
    """A sum of contents, `constant` + coefficient times wt%, and where it has to lie.

    Attributes
    ----------
    words, unit : str
        What it is.
    constant : float
        The part of all that cannot be moved.
    terms : mapping of element to coefficient
    low, high : float, optional
        Limits; None where there is none.
    """

    words: str
    unit: str
    constant: float
    terms: Mapping[str, float]
    low: float | None = None
    high: float | None = None

    def at(self, levels: Mapping[str, Any]) -> Any:
        """Return the sum at contents in wt%, numbers or arrays of them.

        Examples
        --------
        >>> SumTarget("index", "", 1.0, {"Cr": 2.0}).at({"Cr": 3.0})
        7.0
        """
        return self.constant + sum(k * levels[e] for e, k in self.terms.items())

    def met(self, levels: Mapping[str, Any]) -> Any:
        """Tell whether the sum lies where it has to; what a binary sum rounds is forgiven."""
        at = self.at(levels)
        above = True if self.low is None else at >= self.low - 1e-9
        below = True if self.high is None else at <= self.high + 1e-9
        return above & below


@dataclass(frozen=True)
class Slider:
    """An element that may be moved from `low` to `high` in steps, wt%."""

    element: str
    low: float
    high: float
    step: float
    start: float


@dataclass(frozen=True)
class Picture:
    """A diagram with points on it.

    Attributes
    ----------
    diagram : name of a diagram of the library
    points : tuple of (words, x, y)
        Shown with the question.
    path : tuple of (words, x, y)
        Shown with the working: how the point comes about, from its first step to its last.
    """

    diagram: str
    points: tuple[tuple[str, float, float], ...] = ()
    path: tuple[tuple[str, float, float], ...] = ()


@dataclass(frozen=True)
class Exercise:
    """A question with its answer.

    Attributes
    ----------
    question : str
    heats : dict of name to {element: wt%}
        What the question is about, rounded as it is shown.
    answer : float, str, tuple of str, or (float, float)
        A number; one of `choices`; all of `choices` in order; a point (x, y) of the diagram in
        `picture`; for a design the least that `least` can be.
    unit : str
    tolerance : float
        How far a number, x or y of a point, or `least` of a design may be off.
    choices : tuple of str
        Accepted words, or what is to be put in order.
    mistakes : tuple of Mistake
    solution : tuple of str
        Steps, made from the declaration of the relation.
    relations : tuple of str
        Names in the catalogue that the answer rests on.
    evidence : str
        What it is worth; by default what `relations` are.
    elsewhere : str
        What is said of a wrong answer to which no known mistake leads.
    topic, template : str
        Of the template that it was drawn from, its name.
    kind : one of `KINDS`
    lines : tuple of str
        What stands beneath the question, line by line: a worked answer, say.
    picture : Picture, optional
    sliders, targets : tuple of Slider, tuple of Sum
        Of a design.
    least : Sum, optional
        What a design has to keep low.
    """

    question: str
    heats: dict[str, dict[str, float]]
    answer: AnswerValue
    unit: str = ""
    tolerance: float = 0.0
    choices: tuple[str, ...] = ()
    mistakes: tuple[Mistake, ...] = ()
    solution: tuple[str, ...] = ()
    relations: tuple[str, ...] = ()
    evidence: str = ""
    elsewhere: str = "Work it out once more."
    topic: str = ""
    kind: str = "compute"
    template: str = ""
    lines: tuple[str, ...] = ()
    picture: Picture | None = None
    sliders: tuple[Slider, ...] = field(default=())
    targets: tuple[SumTarget, ...] = field(default=())
    least: SumTarget | None = None

    @property
    def form(self) -> str:
        """How the answer is given: one of `FORMS`."""
        if self.sliders:
            return "design"
        if isinstance(self.answer, tuple):
            return "order" if self.choices else "point"
        return "choice" if self.choices else "number"

    @property
    def decimals(self) -> int:
        """How many decimals a number needs to be told from its neighbours; 0 without numbers."""
        return max(0, -int(np.floor(np.log10(self.tolerance)))) if self.tolerance else 0

    @property
    def asked(self) -> str:
        """In which unit and how exactly a number is wanted; empty for another form."""
        if self.form != "number":
            return ""
        if self.kind in ("estimate", "read"):
            exact = f"within {self.tolerance:g}"
        else:
            exact = f"to {counted(self.decimals)}"
        return ", ".join(filter(None, (self.unit, exact)))

    @property
    def shown_answer(self) -> str:
        """The answer as a teacher writes it, and as `mark` understands it."""
        shown = max(0, 1 - int(np.floor(np.log10(self.tolerance)))) if self.tolerance else 0
        if self.form == "order":
            return " > ".join(map(str, self.answer))
        if self.form == "point":
            return "; ".join(f"{at:.1f}" for at in self.answer)
        if self.form == "design":
            return "; ".join(self.solution[-1:])
        if self.form == "choice":
            return str(self.answer)
        return f"{self.answer:.{shown}f} {self.unit}".strip()

    @property
    def on_paper(self) -> bool:
        """Whether it can be answered with a pencil."""
        return self.form != "design"

    def data(self) -> dict:
        """Return the exercise as plain data, for JSON: its attributes, `form` and `asked`.

        `mistakes` is a list of {value, words}, `picture` is {diagram, points, path} or None, a
        point is [words, x, y].

        Examples
        --------
        >>> made = Exercise("Cr + Mo?", {}, 20.0, "wt%", 0.05, mistakes=(Mistake(18.0, "no"),))
        >>> plain = made.data()
        >>> plain["form"], plain["answer"], plain["mistakes"]
        ('number', 20.0, [{'value': 18.0, 'words': 'no'}])
        """
        shown = {"form": self.form, "asked": self.asked, "decimals": self.decimals,
                 "title": KINDS[self.kind], "shown_answer": self.shown_answer}  # fmt: skip
        return _plain(asdict(self)) | shown


def counted(decimals: int) -> str:
    """Return so many decimals in words.

    Examples
    --------
    >>> counted(1), counted(2)
    ('1 decimal', '2 decimals')
    """
    return f"{decimals} decimal{'' if decimals == 1 else 's'}"


def _plain(value):
    """Return a value with lists for tuples and plain numbers, as JSON has them."""
    if isinstance(value, dict):
        return {key: _plain(inner) for key, inner in value.items()}
    if isinstance(value, tuple | list):
        return [_plain(inner) for inner in value]
    return value.item() if isinstance(value, np.generic) else value

"""A template: a kind of question on a topic, from which exercises are drawn by lot."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import wraps
from typing import Concatenate, ParamSpec

import numpy as np

from gradekit.lessons.exercise import Exercise, Mistake, gap
from gradekit.relations.topics import CATALOGUE

#: Draws an exercise; None where what was drawn would make no good one.
Maker = Callable[[np.random.Generator], Exercise | None]
_Given = ParamSpec("_Given")
_Ask = Callable[Concatenate[np.random.Generator, _Given], Exercise | None]


@dataclass(frozen=True)
class Template:
    """A kind of question.

    Attributes
    ----------
    name : str
        Of its own; it stands in what a student hands in.
    kind : one of `gradekit.lessons.exercise.KINDS`
    make : callable(Generator) -> Exercise or None
    topic : str
    """

    name: str
    kind: str
    make: Maker
    topic: str = ""

    def draw(self, rng: np.random.Generator) -> Exercise:
        """Return an exercise drawn with a generator, the first that makes a good one.

        The generator goes on, so that a seed still means one exercise.
        """
        while True:
            made = self.make(rng)
            if made is None:
                continue
            exercise = finished(made, self.topic, self.kind, self.name)
            # Where every wrong way leads to the right answer nobody learns anything.
            if exercise.mistakes or not made.mistakes:
                return exercise


_Form = Callable[Concatenate[str, _Given], Template]


def form(kind: str) -> Callable[[_Ask[_Given]], _Form[_Given]]:
    """Make a form of questions of a function that draws one.

    The function takes a generator first. The form takes the name of a template in its place, and
    all else that the function takes; it returns the template.
    """

    def made(ask: _Ask[_Given]) -> _Form[_Given]:
        @wraps(ask)
        def template(name: str, *args: _Given.args, **given: _Given.kwargs) -> Template:
            return Template(name, kind, lambda rng: ask(rng, *args, **given))

        return template

    return made


def on_topic(topic: str, *templates: Template) -> tuple[Template, ...]:
    """Return templates as those of a topic."""
    return tuple(replace(one, topic=topic) for one in templates)


def finished(made: Exercise, topic: str, kind: str, template: str) -> Exercise:
    """Return an exercise with where it comes from, what it is worth, and clear mistakes."""
    return replace(
        made, topic=topic, kind=kind, template=template, mistakes=_clear(made),
        evidence=made.evidence or evidence_of(*made.relations),
    )  # fmt: skip


def evidence_of(*names: str) -> str:
    """Return what each relation is worth.

    Examples
    --------
    >>> evidence_of("pren_16n")
    'PREN with 16N: verified'
    """
    return "; ".join(f"{CATALOGUE[n].title}: {CATALOGUE[n].status}" for n in names)


def _clear(made: Exercise) -> tuple[Mistake, ...]:
    """Return the mistakes that nobody can confuse with the answer.

    Those that end at the same number become one that names them all; where two only lie close to
    each other, `mark` names both.

    Examples
    --------
    >>> near = (Mistake(5.01, "a"), Mistake(6.0, "b"), Mistake(6.0, "c"))
    >>> _clear(Exercise("How much?", {}, 5.0, "", 0.02, mistakes=near))
    (Mistake(value=6.0, words='b, or c'),)
    """
    if made.form not in ("number", "point"):
        return made.mistakes
    kept: list[Mistake] = []
    for mistake in made.mistakes:
        if gap(mistake.value, made.answer) <= 2 * made.tolerance:
            continue
        for at, other in enumerate(kept):
            if gap(mistake.value, other.value) < 1e-9:
                kept[at] = Mistake(other.value, f"{other.words}, or {mistake.words}")
                break
        else:
            kept.append(mistake)
    return tuple(kept)

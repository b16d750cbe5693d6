"""A template: a kind of question on a topic, from which exercises are drawn by lot."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from gradekit.lessons.exercise import Exercise

Maker = Callable[[np.random.Generator], Exercise]


@dataclass(frozen=True)
class Template:
    """A kind of question.

    Attributes
    ----------
    name : str
        Of its own; it stands in what a student hands in.
    topic : str
    kind : one of `gradekit.lessons.exercise.KINDS`
    make : callable(Generator) -> Exercise
    """

    name: str
    topic: str
    kind: str
    make: Maker

    def draw(self, rng: np.random.Generator) -> Exercise:
        """Return an exercise drawn with a generator."""
        return replace(self.make(rng), topic=self.topic, kind=self.kind, template=self.name)

"""Exercise sets from a seed, with their solutions."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from gradekit.core.errors import InputError, one_of
from gradekit.lessons.exercise import Exercise
from gradekit.lessons.template import Template
from gradekit.lessons.topics.diagrams import FIELD_TEMPLATES
from gradekit.lessons.topics.equivalents import CHROMIUM_TEMPLATES, NICKEL_TEMPLATES
from gradekit.lessons.topics.freezing import SOLIDIFICATION_TEMPLATES
from gradekit.lessons.topics.phases import DUPLEX_TEMPLATES, FERRITIC_TEMPLATES
from gradekit.lessons.topics.pitting import PITTING_TEMPLATES
from gradekit.lessons.topics.stability import MARTENSITE_TEMPLATES, NITROGEN_TEMPLATES
from gradekit.lessons.topics.welds import DILUTION_TEMPLATES

#: Templates by topic, in the order of the course; within one in the order in which they are met.
TOPICS: dict[str, tuple[Template, ...]] = {
    own[0].topic: own
    for own in (CHROMIUM_TEMPLATES, NICKEL_TEMPLATES, FIELD_TEMPLATES, DILUTION_TEMPLATES,
                SOLIDIFICATION_TEMPLATES, FERRITIC_TEMPLATES, NITROGEN_TEMPLATES,
                MARTENSITE_TEMPLATES, DUPLEX_TEMPLATES, PITTING_TEMPLATES)
}  # fmt: skip

#: All templates by name.
TEMPLATES: dict[str, Template] = {t.name: t for own in TOPICS.values() for t in own}


def exercise_set(seed: int, topics: str | Iterable[str] | None = None) -> list[Exercise]:
    """Return one exercise a topic; the same seed gives the same set.

    Parameters
    ----------
    seed : int
        Not negative.
    topics : str or list of str, optional
        Of `TOPICS`; all by default.

    Returns
    -------
    list of Exercise
        Question, invented steels (wt%), answer with unit and tolerance, and working.

    Raises
    ------
    InputError
        A seed that is no whole number, or a topic that there is not.

    Examples
    --------
    >>> [e.topic for e in exercise_set(7)][:2]
    ['chromium equivalent', 'nickel equivalent']
    """
    if not isinstance(seed, (int, np.integer)) or isinstance(seed, bool) or seed < 0:
        raise InputError("seed", "a whole number, not negative", seed)
    order = list(TOPICS)
    if topics is not None and not isinstance(topics, Iterable):
        raise InputError("topics", "a list of texts", topics)
    chosen = order if topics is None else [topics] if isinstance(topics, str) else list(topics)
    for topic in chosen:
        one_of("topic", topic, order)
    return [drawn(t, int(seed)) for t in chosen]


def drawn(topic: str, seed: int, *turn: int) -> Exercise:
    """Return an exercise of a template of a topic, both by lot; another one for each turn."""
    own, rng = TOPICS[topic], np.random.default_rng([seed, list(TOPICS).index(topic), *turn])
    return own[rng.integers(len(own))].draw(rng)


def self_check(topic: str, number: int = 3, seed: int = 0) -> list[Exercise]:
    """Return a few exercises on one topic, for the end of a chapter.

    Sets that follow each other go through all templates of the topic, each kind after the other.

    Examples
    --------
    >>> [e.kind for e in self_check("pitting index")]
    ['compute', 'rank', 'reason']
    >>> [e.kind for e in self_check("pitting index", seed=1)]
    ['change', 'mistake', 'estimate']
    """
    own, order = TOPICS[topic], list(TOPICS)
    return [
        own[(seed * number + n) % len(own)].draw(
            np.random.default_rng([seed, order.index(topic), n])
        )
        for n in range(number)
    ]

"""Questions that ask for an order: four steels by one index."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

import numpy as np

from gradekit.lessons.drawing_lots import steel
from gradekit.lessons.exercise import Exercise, Mistake
from gradekit.lessons.forms.amounts import evidence_of, named
from gradekit.lessons.slips import value
from gradekit.lessons.template import Template
from gradekit.relations.topics import CATALOGUE

NAMES = ("A", "B", "C", "D")


def rank(
    name: str, topic: str, relation: str, families: Sequence[str], gap: float,
    by: Iterable[str] = (),
) -> Template:  # fmt: skip
    """Return a template that asks for the order of four steels by a relation.

    Parameters
    ----------
    name, topic : str
    relation : name of a relation without conditions
    families : four, of each of which one steel is drawn
    gap : float
        Least difference of neighbours, so that rounding turns nothing.
    by : names of elements, or of relations
        By which somebody may order them instead.
    """

    def make(rng: np.random.Generator) -> Exercise:
        while True:
            drawn = [steel(rng, str(f)) for f in rng.permutation(families)]
            heats = dict(zip(NAMES, drawn, strict=True))
            values = {n: value(heat, relation) for n, heat in heats.items()}
            order = _order(values)
            if np.diff(sorted(values.values())).min() < gap:
                continue
            mistakes = _slips(heats, order, by)
            if mistakes:
                break
        declared = CATALOGUE[relation]
        unit = declared.unit_shown
        return Exercise(
            topic,
            f"Put these steels in order of their {named(declared)}, the highest first.",
            heats, order, choices=NAMES, mistakes=mistakes,
            solution=tuple(f"{n}: {values[n]:.2f} {unit}".rstrip() for n in order),
            relations=(relation,), evidence=evidence_of(relation),
            elsewhere=f"{order[0]} stands first, with {values[order[0]]:.3g} {unit}".rstrip() + ".",
        )  # fmt: skip

    return Template(name, topic, "rank", make)


def _order(values: dict[str, float]) -> tuple[str, ...]:
    """Return names by falling value."""
    return tuple(sorted(values, key=lambda n: -values[n]))


def _slips(heats: dict, order: tuple[str, ...], by: Iterable[str]) -> tuple[Mistake, ...]:
    def key(word: str) -> tuple[str, Callable[[dict], float]]:
        if word in CATALOGUE:
            return f"that is the order by {CATALOGUE[word].title}", lambda h: value(h, word)
        return f"that is the order by {word} alone", lambda h: h.get(word, 0.0)

    ways = {"you began with the lowest": order[::-1]}
    for words, of in map(key, by):
        ways[words] = _order({n: of(heat) for n, heat in heats.items()})
    return different_orders(ways, order)


def different_orders(
    ways: dict[str, tuple[str, ...]], right: tuple[str, ...]
) -> tuple[Mistake, ...]:
    """Return the mistakes that end in another order; of those that end alike, one for all.

    Examples
    --------
    >>> different_orders({"a": ("B", "A"), "b": ("A", "B"), "c": ("B", "A")}, ("A", "B"))
    (Mistake(value=('B', 'A'), words='a, or c'),)
    """
    ends: dict[tuple[str, ...], list[str]] = {}
    for words, order in ways.items():
        if order != right:
            ends.setdefault(order, []).append(words)
    return tuple(Mistake(order, ", or ".join(words)) for order, words in ends.items())

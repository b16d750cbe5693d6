"""Questions that ask for an order: four steels by one index."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from gradekit.lessons.drawing_lots import steel
from gradekit.lessons.exercise import Exercise, Mistake
from gradekit.lessons.forms.amounts import named
from gradekit.lessons.slips import value
from gradekit.lessons.template import form
from gradekit.relations.topics import CATALOGUE

NAMES = ("A", "B", "C", "D")


@form("rank")
def rank(
    rng: np.random.Generator, relation: str, families: Sequence[str], gap: float,
    by: Sequence[str] = (),
) -> Exercise | None:  # fmt: skip
    """Ask for the order of four steels by a relation.

    Parameters
    ----------
    relation : name of a relation without conditions
    families : four, of each of which one steel is drawn
    gap : float
        Least difference of neighbours, so that rounding turns nothing.
    by : names of elements, or of relations
        By which somebody may order them instead.
    """
    drawn = [steel(rng, str(f)) for f in rng.permutation(families)]
    heats = dict(zip(NAMES, drawn, strict=True))
    values = {n: value(heat, relation) for n, heat in heats.items()}
    if np.diff(sorted(values.values())).min() < gap:
        return None
    order = falling(values)
    ways = {"you began with the lowest": order[::-1]}
    for word in by:
        title = CATALOGUE[word].title if word in CATALOGUE else f"{word} alone"
        ends = {n: value(h, word) if word in CATALOGUE else h.get(word, 0.0)
                for n, h in heats.items()}  # fmt: skip
        ways[f"that is the order by {title}"] = falling(ends)
    mistakes = different_orders(ways, order)
    if not mistakes:
        return None
    declared = CATALOGUE[relation]
    unit = declared.unit_shown
    return Exercise(
        f"Put these steels in order of their {named(declared)}, the highest first.",
        heats, order, choices=NAMES, mistakes=mistakes,
        solution=tuple(f"{n}: {values[n]:.2f} {unit}".rstrip() for n in order),
        relations=(relation,),
        elsewhere=f"{order[0]} stands first, with {values[order[0]]:.3g} {unit}".rstrip() + ".",
    )  # fmt: skip


def falling(values: Mapping[str, float]) -> tuple[str, ...]:
    """Return names by falling value."""
    return tuple(sorted(values, key=lambda n: -values[n]))


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

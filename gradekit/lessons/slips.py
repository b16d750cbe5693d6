"""Where the usual slips lead, computed from the declarations as the answer is."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from gradekit.diagrams.constitution import Diagram
from gradekit.lessons.exercise import Exercise, Mistake
from gradekit.lessons.template import Maker
from gradekit.relations.declaration import Linear, Relation
from gradekit.relations.topics import CATALOGUE


def value(heat: Mapping[str, float], name: str, **conditions: float) -> float:
    """Return the value for exact contents: nothing is unknown here, so no flag can be lost.

    Examples
    --------
    >>> round(value({"Cr": 18, "Mo": 2, "N": 0.05}, "pren_16n"), 6)
    25.4
    """
    relation = CATALOGUE[name]
    given = {c: np.float64(x) for c, x in conditions.items() if c in relation.conditions}
    contents = {e: np.float64(heat.get(e, 0.0)) for e in relation.elements}
    raw = float(relation.value(contents | given))
    # What is read off a diagram begins at nothing.
    return raw if relation.floor is None else max(raw, relation.floor)


def linear(name: str) -> Linear:
    """Return a relation of the catalogue that is a sum of terms.

    Examples
    --------
    >>> linear("pren_16n").terms["Mo"]
    3.3
    """
    relation = CATALOGUE[name]
    assert isinstance(relation, Linear)
    return relation


def sum_slips(heat: dict, name: str, twin: str | None = None) -> tuple[Mistake, ...]:
    """Return the slips of a sum: a term, a factor, a sign, the unit, another relation.

    Parameters
    ----------
    heat : {element: wt%}
    name : name of a linear relation
    twin : name of the relation on the other axis, optional

    Examples
    --------
    >>> found = sum_slips({"Cr": 18, "Mo": 2, "N": 0.05}, "pren_16n")
    >>> [m.words for m in found if round(m.value, 6) == 18.8]
    ['you left out the term 3.3·Mo']
    >>> [m.words for m in found if round(m.value, 6) == 26.1]
    ['that is another relation, PREN with 30N (Wirksumme)']
    """
    relation = linear(name)
    right = value(heat, name)
    slips = []
    for term, coefficient in relation.terms.items():
        amount = heat.get(term, 0.0)
        part, size = coefficient * amount, abs(coefficient)
        shown = term if size == 1 else f"{size:g}·{term}"
        slips.append(Mistake(right - part, f"you left out the term {shown}"))
        if size != 1:
            plain = right - part + np.sign(coefficient) * amount
            slips.append(Mistake(plain, f"you took {term} without its factor {size:g}"))
        if coefficient < 0:
            slips.append(Mistake(right - 2 * part, f"you added {shown}; its sign is minus"))
    if relation.intercept:
        words = f"you left out the constant {relation.intercept:g}"
        slips.append(Mistake(right - relation.intercept, words))
    fraction = relation.intercept + (right - relation.intercept) / 100
    slips.append(Mistake(fraction, "you used weight fractions; the formula wants per cent by mass"))
    if twin:
        slips.append(
            Mistake(value(heat, twin), "you swapped the axes: that is the other equivalent")
        )
    return (*slips, *_siblings(heat, relation))


def _siblings(heat: dict, relation: Relation) -> list[Mistake]:
    """What the other relations of the same quantity, made for the same steels, give."""
    ends: dict[float, list[Relation]] = {}
    for other in CATALOGUE.values():
        related = other.quantity == relation.quantity and other.state == relation.state
        related &= relation.holds_for(*other.families)
        if related and other.name != relation.name and not other.conditions:
            ends.setdefault(round(value(heat, other.name), 9), []).append(other)
    slips = []
    for end, others in ends.items():
        # Longer forms that differ only in elements which this steel lacks need no mention.
        least = min(len(o.elements) for o in others)
        titles = " or ".join(o.title for o in others if len(o.elements) == least)
        slips.append(Mistake(end, f"that is another relation, {titles}"))
    return slips


def clear(answer: float, mistakes: tuple[Mistake, ...], tolerance: float) -> tuple[Mistake, ...]:
    """Return the mistakes that nobody can confuse with the answer.

    Those that end at the same number become one that names them all; where two only lie close to
    each other, `mark` names both.

    Examples
    --------
    >>> clear(5.0, (Mistake(5.01, "a"), Mistake(6.0, "b"), Mistake(6.0, "c")), 0.02)
    (Mistake(value=6.0, words='b, or c'),)
    """
    kept: list[Mistake] = []
    for mistake in mistakes:
        end = float(mistake.value)
        if abs(end - answer) <= 2 * tolerance:
            continue
        same = [n for n, m in enumerate(kept) if abs(float(m.value) - end) < 1e-9]
        if same:
            words = f"{kept[same[0]].words}, or {mistake.words}"
            kept[same[0]] = replace(kept[same[0]], words=words)
        else:
            kept.append(mistake)
    return tuple(kept)


def apart(make: Maker) -> Maker:
    """Return a maker that draws again until no wrong way leads to the right answer.

    The generator goes on, so that a seed still means one exercise.
    """

    def drawn(rng: np.random.Generator) -> Exercise:
        while True:
            made = make(rng)
            answer = float(made.answer)
            gaps = [abs(float(m.value) - answer) for m in made.mistakes]
            if min(gaps) > 2 * made.tolerance:
                return replace(made, mistakes=clear(answer, made.mistakes, made.tolerance))

    return drawn


def field_slips(chart: Diagram, heat: dict, right: str) -> tuple[Mistake, ...]:
    """Return the slips that end in another field of a diagram; of one field, all that lead there.

    Parameters
    ----------
    chart : Diagram
    heat : {element: wt%}
    right : label of the field where the steel lies
    """
    x, y = (value(heat, axis) for axis in chart.axes)
    ways = {"you swapped the axes": (y, x)}
    for at, own in enumerate(map(linear, chart.axes)):
        for term, coefficient in own.terms.items():
            if term in ("Cr", "Ni"):
                continue
            amount = heat.get(term, 0.0)
            factor = "" if coefficient == 1 else f"{coefficient:g}·"
            slips = {f"you left out {factor}{term}": coefficient * amount}
            if coefficient != 1:
                slips[f"you took {term} without its factor {coefficient:g}"] = (
                    coefficient - 1
                ) * amount
            for words, lost in slips.items():
                ways[words] = (x - lost, y) if at == 0 else (x, y - lost)
    ways["you counted nitrogen, which this diagram leaves out"] = (
        x, value(heat, "ni_eq_delong_1973")
    )  # fmt: skip
    ends = chart.locate_xy(*np.array(list(ways.values())).T)["region"].astype(str)
    return tuple(
        Mistake(end, words) for words, end in zip(ways, ends, strict=True) if end not in ("", right)
    )

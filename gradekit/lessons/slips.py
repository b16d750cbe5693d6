"""Where the usual slips lead, computed from the declarations as the answer is."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import wraps

import numpy as np

from gradekit.diagrams.constitution import Diagram
from gradekit.lessons.exercise import Exercise, Mistake, gap
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


def sides(ratio: str) -> tuple[str, str]:
    """Return the names of the two equivalents that a ratio is made of, chromium's first.

    Examples
    --------
    >>> sides("cr_ni_ratio_schaeffler")
    ('cr_eq_schaeffler_1949', 'ni_eq_schaeffler_1949')
    """
    chromium, nickel = map(str.strip, CATALOGUE[ratio].formula.split("/"))
    return chromium, nickel


def weighed(term: str, factor: float) -> str:
    """Return a term as it stands in a sum, without its sign.

    Examples
    --------
    >>> weighed("Mn", -0.5), weighed("Cr", 1.0)
    ('0.5·Mn', 'Cr')
    """
    return term if abs(factor) == 1 else f"{abs(factor):g}·{term}"


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
        shown = weighed(term, coefficient)
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
        words = "you swapped the axes: that is the other equivalent"
        slips.append(Mistake(value(heat, twin), words))
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


def apart(make: Callable[[np.random.Generator], Exercise]) -> Maker:
    """Return a maker that has it drawn again where a wrong way leads to the right answer."""

    @wraps(make)
    def drawn(rng: np.random.Generator) -> Exercise | None:
        made = make(rng)
        nearest = min(gap(m.value, made.answer) for m in made.mistakes)
        return made if nearest > 2 * made.tolerance else None

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
        for term, factor in own.terms.items():
            if term in ("Cr", "Ni"):
                continue
            amount = heat.get(term, 0.0)
            slips = {f"you left out {weighed(term, factor)}": factor * amount}
            if factor != 1:
                slips[f"you took {term} without its factor {factor:g}"] = (factor - 1) * amount
            for words, lost in slips.items():
                ways[words] = (x - lost, y) if at == 0 else (x, y - lost)
    counted = value(heat, "ni_eq_delong_1973")
    ways["you counted nitrogen, which this diagram leaves out"] = (x, counted)
    ends = chart.locate_xy(*np.array(list(ways.values())).T)["region"].astype(str)
    return ends_elsewhere(dict(zip(ways, ends, strict=True)), right)


def ends_elsewhere(ends: Mapping[str, str], right: str) -> tuple[Mistake, ...]:
    """Return the slips that end in another field or mode than the right one."""
    return tuple(Mistake(end, words) for words, end in ends.items() if end not in ("", right))

"""Questions that are answered with a number: a sum worked out, or estimated before that."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from gradekit.lessons.drawing_lots import steel
from gradekit.lessons.exercise import Exercise, Mistake
from gradekit.lessons.slips import linear, sum_slips, value
from gradekit.lessons.template import form
from gradekit.relations.declaration import Linear, Relation
from gradekit.relations.topics import CATALOGUE


def _formula_of(relation: Relation) -> str:
    """Return what can be worked out by hand; nothing for what cannot.

    Examples
    --------
    >>> _formula_of(CATALOGUE["cr_ni_ratio_schaeffler"])
    '(Cr + Mo + 1.5*Si + 0.5*Nb)/(Ni + 0.5*Mn + 30*C)'
    >>> _formula_of(CATALOGUE["ferrite_wrc_1992"])
    ''
    """
    if isinstance(relation, Linear):
        return relation.formula
    parts = [CATALOGUE[n].formula for n in relation.formula.split("/") if n in CATALOGUE]
    return f"({parts[0]})/({parts[1]})" if len(parts) == 2 else ""


def named(relation: Relation, formula: bool = True) -> str:
    """Return a quantity with its relation, not one name twice, and with its formula.

    Examples
    --------
    >>> named(CATALOGUE["pren_16n"])
    'pitting resistance equivalent (PREN with 16N: Cr + 3.3*Mo + 16*N)'
    >>> named(CATALOGUE["ni_eq_schaeffler_1949"])
    'Schaeffler nickel equivalent (Ni + 0.5*Mn + 30*C)'
    >>> named(CATALOGUE["md30_angel_1954"], formula=False)
    'Md30 by Angel'
    """
    quantity, title = relation.quantity, relation.title
    shown = _formula_of(relation) if formula else ""
    if title.casefold().startswith(quantity.casefold()):
        rest = title[len(quantity) :]
        name = quantity + (f" by {rest[2:]}" if rest.startswith(", ") else rest)
    elif isinstance(relation, Linear) and quantity in title:
        name = title
    else:
        name, shown = quantity, ": ".join(filter(None, [title, shown]))
    return f"{name} ({shown})" if shown else name


def steps(heat: dict[str, float], name: str) -> tuple[str, ...]:
    """Return the working of a linear relation, term by term, from its declaration."""
    relation = linear(name)
    lines = [f"{relation.title}: {relation.formula}"]
    if relation.intercept:
        lines.append(f"constant: {relation.intercept:g}")
    for term, coefficient in relation.terms.items():
        amount = heat.get(term, 0.0)
        lines.append(f"{term}: {coefficient:g} × {amount:g} = {coefficient * amount:.3f}")
    lines.append(f"sum: {value(heat, name):.3f}{relation.unit_behind}")
    return tuple(lines)


@form("compute")
def compute(
    rng: np.random.Generator, relation: str, families: Iterable[str], within: float,
    twin: str | None = None,
) -> Exercise | None:  # fmt: skip
    """Ask for the value of a linear relation.

    Parameters
    ----------
    relation : name of a linear relation
    families : of which the steel is drawn
    within : float
        What rounding may take away.
    twin : name of the relation on the other axis, optional
    """
    declared, heat = linear(relation), steel(rng, families)
    # Who forgets a term must not be told that the answer is right.
    if min(abs(c * heat[t]) for t, c in declared.terms.items() if t in heat) <= 2 * within:
        return None
    return Exercise(
        f"What is the {named(declared)} of this steel?",
        {"the steel": heat}, value(heat, relation), declared.unit_shown, within,
        mistakes=sum_slips(heat, relation, twin), solution=steps(heat, relation),
        relations=(relation,),
    )  # fmt: skip


@form("estimate")
def mental_estimate(
    rng: np.random.Generator, relation: str, families: Iterable[str], within: float
) -> Exercise:
    """Ask for a value without a calculator.

    Parameters
    ----------
    relation, families
        As for `compute`.
    within : float
        What counts as right: so much that the small terms may be left out, and the large may not.
    """
    declared, heat = linear(relation), steel(rng, families)
    sizes = {t: c * heat.get(t, 0.0) for t, c in declared.terms.items()}
    large = ", ".join(t for t, part in sizes.items() if abs(part) > within / 2)
    return Exercise(
        f"Without a calculator: about how large is the {named(declared)} of this steel? Within "
        f"{within:g} is right.",
        {"the steel": heat}, value(heat, relation), declared.unit_shown, within,
        mistakes=_rough(heat, relation),
        solution=(f"look at {large} first: no other term comes to {within / 2:g}",
                  *steps(heat, relation)),
        relations=(relation,),
    )  # fmt: skip


def _rough(heat: dict[str, float], name: str) -> tuple[Mistake, ...]:
    """Return the slips of somebody who estimates: a large term forgotten or taken plainly."""
    relation, right = linear(name), value(heat, name)
    slips = []
    if relation.intercept:
        slips.append(Mistake(right - relation.intercept, "you forgot the constant"))
    for term, factor in relation.terms.items():
        part = factor * heat.get(term, 0.0)
        weighed = "" if factor == 1 else f" with its factor {factor:g}"
        words = f"you left out {term}, which is not small here{weighed}"
        slips.append(Mistake(right - part, words))
        if abs(factor) > 1:
            plain = right - part + np.sign(factor) * heat.get(term, 0.0)
            slips.append(Mistake(plain, f"you took {term} without its factor {factor:g}"))
    return tuple(slips)

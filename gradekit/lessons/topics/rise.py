"""How far an equivalent rises with one element, asked of one author and told from the others."""

from __future__ import annotations

import numpy as np

from gradekit.lessons.drawing_lots import DECIMALS, steel
from gradekit.lessons.exercise import Exercise, Mistake
from gradekit.lessons.forms.amounts import evidence_of
from gradekit.lessons.slips import apart, linear, value

_NICKEL_SIDE = ("ni_eq_schaeffler_1949", "ni_eq_delong_1973", "ni_eq_wrc_1992")
# (least, most) of what is added, wt%: what a melt shop would move.
_STEPS = {"C": (0.02, 0.08), "N": (0.03, 0.12), "Mn": (0.6, 2.5), "Cu": (0.8, 2.5)}


@apart
def change_of_one(rng: np.random.Generator) -> Exercise:
    """Return a question on how much a nickel equivalent rises with one element.

    Examples
    --------
    >>> made = change_of_one(np.random.default_rng(2))
    >>> made.question.startswith("By how much does")
    True
    """
    name = str(rng.choice(_NICKEL_SIDE))
    relation, heat = linear(name), steel(rng, "18Cr-8Ni")
    element = str(rng.choice([e for e in _STEPS if e in relation.terms]))
    least, most = _STEPS[element]
    more = round(float(rng.uniform(least, most)), min(DECIMALS[element], 2))
    factor = relation.terms[element]
    answer, whole = factor * more, factor * (heat[element] + more)
    mistakes = [
        Mistake(more, f"you took {element} without its factor {factor:g}"),
        Mistake(more / factor, "you divided where you have to multiply"),
        Mistake(value(heat, name) + answer, "asked is the change, not the equivalent afterwards"),
        Mistake(whole, f"only what is added counts, not all the {element}"),
    ]
    for other in map(linear, _NICKEL_SIDE):
        theirs = other.terms.get(element, 0.0)
        if theirs != factor:
            words = f"that is another relation, {other.title}"
            mistakes.append(Mistake(theirs * more, words))
    return Exercise(
        "nickel equivalent",
        f"By how much does the {relation.title} {relation.formula} of this steel rise if it gets "
        f"{more:g} % more {element}?",
        {"the steel": heat},
        answer,
        relation.unit,
        0.02,
        mistakes=tuple(mistakes),
        solution=(
            f"{relation.title}: {relation.formula}",
            "all other terms stay as they are",
            f"{element}: {factor:g} × {more:g} = {answer:.3f} {relation.unit}",
        ),
        relations=(name,),
        evidence=evidence_of(name),
    )

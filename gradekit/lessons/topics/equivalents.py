"""The two equivalents: what each element weighs, and in whose sum."""

from __future__ import annotations

import numpy as np

from gradekit.lessons.drawing_lots import DECIMALS, steel
from gradekit.lessons.exercise import Exercise, Mistake
from gradekit.lessons.forms.amounts import compute, mental_estimate, named
from gradekit.lessons.forms.choices import change, effect, find_mistake
from gradekit.lessons.forms.orders import rank
from gradekit.lessons.slips import apart, linear, value
from gradekit.lessons.template import form, on_topic

_CR, _NI = "cr_eq_schaeffler_1949", "ni_eq_schaeffler_1949"
_CHROMIUM_SIDE = (_CR, "cr_eq_wrc_1992", "cr_eq_hammar_1979")
_OF_DIAGRAMS = (_NI, "ni_eq_delong_1973", "ni_eq_wrc_1992")
_NICKEL_SIDE = (*_OF_DIAGRAMS, "ni_eq_hammar_1979")
_WELDED = ("18Cr-8Ni", "CrNiMo", "CrNiMoNb", "weld metal")
# (least, most) of what is added, wt%: what a melt shop would move.
_STEPS = {"C": (0.02, 0.08), "N": (0.03, 0.12), "Mn": (0.6, 2.5), "Cu": (0.8, 2.5)}


@form("compute")
@apart
def _rise(rng: np.random.Generator) -> Exercise:
    """How much a nickel equivalent rises with one element, asked of one author."""
    name = str(rng.choice(_OF_DIAGRAMS))
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
    for other in map(linear, _OF_DIAGRAMS):
        theirs = other.terms.get(element, 0.0)
        if theirs != factor:
            mistakes.append(Mistake(theirs * more, f"that is another relation, {other.title}"))
    return Exercise(
        f"By how much does the {named(relation)} of this steel rise if it gets {more:g} % more "
        f"{element}?",
        {"the steel": heat}, answer, relation.unit, 0.02, mistakes=tuple(mistakes),
        solution=(f"{relation.title}: {relation.formula}", "all other terms stay as they are",
                  f"{element}: {factor:g} × {more:g} = {answer:.3f} {relation.unit}"),
        relations=(name,),
    )  # fmt: skip


CHROMIUM_TEMPLATES = on_topic(
    "chromium equivalent",
    compute("chromium sum", _CR, ["CrNiMoNb"], 0.02, twin=_NI),
    rank("chromium order", _CR, _WELDED, 0.3, by=("Cr", "Mo", "cr_eq_wrc_1992", _NI)),
    effect("chromium effect", _CHROMIUM_SIDE, _WELDED,
           {"Si": (0.2, 0.8), "Nb": (0.3, 0.9), "Mn": (0.5, 1.5), "Mo": (0.4, 1.4)}),
    find_mistake("chromium mistake", _CR, ["CrNiMo", "CrNiMoNb"], 0.1),
    mental_estimate("chromium estimate", _CR, _WELDED, 0.4),
    change("chromium change", _CR, ["18Cr-8Ni", "weld metal"],
           None, [("Cr", 0.7), ("Mo", 0.5), ("Mo", 1.0), ("Si", 0.3), ("Si", 0.6), ("Nb", 0.8),
                  ("Ni", 1.5), ("Mn", 1.5)], 0.07),
)  # fmt: skip

NICKEL_TEMPLATES = on_topic(
    "nickel equivalent",
    compute("nickel sum", "ni_eq_wrc_1992", ["18Cr-8Ni"], 0.02, twin="cr_eq_wrc_1992"),
    rank("nickel order", "ni_eq_wrc_1992", ("18Cr-8Ni", "18Cr-8Ni", "weld metal", "CrNiMo"), 0.3,
         by=("Ni", "C", _NI, "cr_eq_wrc_1992")),
    effect("nickel effect", _NICKEL_SIDE, _WELDED,
           {"C": (0.01, 0.05), "N": (0.02, 0.09), "Mn": (0.6, 2.0), "Cu": (0.6, 2.0)}),
    _rise("nickel change of one"),
    find_mistake("nickel mistake", "ni_eq_delong_1973", _WELDED, 0.1),
    mental_estimate("nickel estimate", "ni_eq_wrc_1992", ["18Cr-8Ni", "CrNiMo", "weld metal"], 0.4),
    change("nickel change", "ni_eq_wrc_1992", ["18Cr-8Ni", "weld metal"],
           None, [("N", 0.05), ("N", 0.02), ("C", 0.01), ("C", 0.02), ("Ni", 0.5), ("Mn", 1.5),
                  ("Cu", 1.0), ("Cr", 1.0)], 0.07),
)  # fmt: skip

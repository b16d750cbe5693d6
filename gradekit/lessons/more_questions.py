"""Second kinds of question: what a change of one element does, and what a ratio means."""

from __future__ import annotations

import numpy as np

from gradekit.diagrams.criteria import Criterion, criteria
from gradekit.lessons.drawing_lots import DECIMALS, steel
from gradekit.lessons.exercise import Exercise, Mistake
from gradekit.lessons.slips import apart, linear, value
from gradekit.relations.topics import CATALOGUE

__all__ = ["change_of_one", "mode_of_ratio"]

_NICKEL_SIDE = ("ni_eq_schaeffler_1949", "ni_eq_delong_1973", "ni_eq_wrc_1992")
# (least, most) of what is added, wt%: what a melt shop would move.
_STEPS = {"C": (0.02, 0.08), "N": (0.03, 0.12), "Mn": (0.6, 2.5), "Cu": (0.8, 2.5)}
# Families of which some steels freeze in a mode, by Schaeffler's ratio.
_FREEZE = {
    "A": ("25Cr-20Ni",),
    "AF": ("CrNiMo", "18Cr-8Ni"),
    "FA": ("18Cr-8Ni", "weld metal", "CrMnNi"),
    "F": ("duplex", "weld metal"),
}
_MARGIN = 0.02


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
        evidence=f"{relation.title}: {relation.status}",
    )


def mode_of_ratio(rng: np.random.Generator) -> Exercise:
    """Return a question on the mode of solidification that a ratio stands for.

    Examples
    --------
    >>> mode_of_ratio(np.random.default_rng(2)).answer in ("A", "AF", "FA", "F")
    True
    """
    rule = next(c for c in criteria() if c.name == "schaeffler_bands")
    mode = str(rng.choice(list(_FREEZE)))
    while True:
        heat = steel(rng, str(rng.choice(_FREEZE[mode])))
        ratio = value(heat, rule.relation)
        near = (ratio - _MARGIN, ratio, ratio + _MARGIN)
        if all(_mode(rule, r) == mode for r in near):
            break
    upper = "chromium equivalent", "cr_eq_schaeffler_1949"
    lower = "nickel equivalent", "ni_eq_schaeffler_1949"
    over, under = value(heat, upper[1]), value(heat, lower[1])
    bands = [f"{b.word} up to {b.upper:g}" for b in rule.bands if np.isfinite(b.upper)]
    return Exercise(
        "solidification mode",
        f"In which mode does this steel freeze by the ratio of Schaeffler's equivalents, "
        f"{CATALOGUE[upper[1]].formula} over {CATALOGUE[lower[1]].formula}: "
        f"{', '.join(bands)}, {rule.bands[-1].word} above?",
        {"the steel": heat},
        mode,
        choices=tuple(b.word for b in rule.bands),
        mistakes=_mode_slips(rule, heat, over, under, mode),
        solution=(
            f"{upper[0]}: {over:.3f}",
            f"{lower[0]}: {under:.3f}",
            f"{over:.3f} / {under:.3f} = {ratio:.3f}: {mode}",
        ),
        relations=(rule.relation,),
        evidence=f"{rule.title}: {', '.join(sorted({b.status for b in rule.bands}))}",
        elsewhere=f"The ratio of this steel is {ratio:.2f}: compare yours, then the limits.",
    )


def _mode(rule: Criterion, ratio: float) -> str:
    band = rule.band(ratio)
    return band.word if band else ""


def _mode_slips(
    rule: Criterion, heat: dict, over: float, under: float, right: str
) -> tuple[Mistake, ...]:
    """The slips that end in another mode."""
    ways = {
        "you turned the ratio over": under / over,
        "you used Hammar-Svensson's equivalents": value(heat, "cr_ni_ratio_hammar"),
        "you used DeLong's equivalents": value(heat, "cr_eq_delong_1973")
        / value(heat, "ni_eq_delong_1973"),
    }
    for at, name in enumerate(("cr_eq_schaeffler_1949", "ni_eq_schaeffler_1949")):
        for term, factor in linear(name).terms.items():
            if term in ("Cr", "Ni"):
                continue
            part = factor * heat.get(term, 0.0)
            shown = term if factor == 1 else f"{factor:g}·{term}"
            words = f"you left out {shown}"
            ways[words] = over / (under - part) if at else (over - part) / under
    ends = {words: _mode(rule, ratio) for words, ratio in ways.items()}
    return tuple(Mistake(end, words) for words, end in ends.items() if end not in ("", right))

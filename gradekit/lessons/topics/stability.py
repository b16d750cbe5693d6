"""Nitrogen for nickel, and austenite that gives way when it is strained."""

from __future__ import annotations

import numpy as np

from gradekit.lessons.drawing_lots import steel
from gradekit.lessons.exercise import Exercise, Mistake
from gradekit.lessons.forms.amounts import compute, mental_estimate
from gradekit.lessons.forms.choices import change, effect, find_mistake, moved, outcome
from gradekit.lessons.forms.designs import design
from gradekit.lessons.forms.orders import different_orders, falling, rank
from gradekit.lessons.slips import apart, linear, value
from gradekit.lessons.template import evidence_of, form, on_topic
from gradekit.relations.topics import CATALOGUE
from gradekit.works.cold.martensite import kinetics, martensite, strain_of

_NIEQ, _ROOM, _MD30 = "ni_eq_wrc_1992", "n_margin_castable", "md30_angel_1954"
_WEIGHTS = ("ni_eq_wrc_1992", "ni_eq_delong_1973", "ni_eq_hammar_1979", "ni_eq_us6056917",
            "ni_eq_schoefer_a800", "ni_eq_pryce_1960")  # fmt: skip


@form("compute")
@apart
def _trade(rng: np.random.Generator) -> Exercise:
    """How much nitrogen stands in for nickel on one axis."""
    heat, terms = steel(rng, "18Cr-8Ni"), linear(_NIEQ).terms
    less = round(float(rng.uniform(0.6, 2.4)), 1)
    answer = less * terms["Ni"] / terms["N"]
    return Exercise(
        f"{less:g} % nickel is taken out of this steel. How much nitrogen (wt%) has to be added to "
        f"keep its nickel equivalent ({CATALOGUE[_NIEQ].formula})?",
        {"the steel": heat}, answer, "wt%", 0.002,
        mistakes=(
            Mistake(less * terms["N"], "you multiplied where you have to divide"),
            Mistake(less / terms["C"], "that is carbon's factor"),
            Mistake(less, "one per cent of nitrogen does the work of many of nickel"),
            Mistake(heat["N"] + answer, "asked is the addition, not the content afterwards"),
        ),
        solution=(f"{terms['Ni']:g} × {less:g} has to equal {terms['N']:g} × addition",
                  f"addition = {answer:.4f} wt%"),
        relations=(_NIEQ,),
    )  # fmt: skip


@form("rank")
def _weights(rng: np.random.Generator) -> Exercise:
    """Order publications by how much nitrogen has to stand in for nickel by each."""
    taken = float(rng.choice([1.0, 2.0, 3.0]))
    while True:
        terms = {str(n): linear(str(n)).terms for n in rng.choice(_WEIGHTS, 4, replace=False)}
        needs = {n: taken * k["Ni"] / k["N"] for n, k in terms.items()}
        if np.diff(sorted(needs.values())).min() > 0.03 * min(needs.values()):
            break
    title = {n: CATALOGUE[n].title for n in needs}
    order = falling(needs)
    right = tuple(title[n] for n in order)
    ways = {
        "the more nitrogen weighs, the less of it is needed": right[::-1],
        "that is the order of carbon":
            tuple(title[n] for n in falling({n: -k["C"] for n, k in terms.items()})),
    }  # fmt: skip
    return Exercise(
        f"{taken:g} % nickel is taken out, and nitrogen is to keep the nickel equivalent. By which "
        "of these is most nitrogen needed? Put them in order, the most first.",
        {}, right, choices=tuple(title.values()), mistakes=different_orders(ways, right),
        solution=tuple(f"{title[n]}: {needs[n]:.3f} % N for {taken:g} % Ni" for n in order),
        lines=tuple(f"{title[n]}: {CATALOGUE[n].formula}" for n in needs),
        relations=order, elsewhere="Divide the nickel by the factor of N.",
    )  # fmt: skip


# What is said of each element and the room for nitrogen: (amount, rises, falls), each a reason that
# holds and one that does not.
_FREEZES = "with more {} {} freezes first, and {} nitrogen"
_POROUS = {
    "Mn": (3.0, ("manganese holds nitrogen in the melt",
                 "manganese binds nitrogen in the melt as a nitride"),
           ("", "manganese drives nitrogen out of the melt")),
    "Cr": (1.5, ("chromium holds nitrogen in the melt",
                 "chromium makes austenite, which holds nitrogen"),
           (_FREEZES.format("chromium", "ferrite", "gives up"),
            "chromium drives nitrogen out of the melt")),
    "Ni": (3.0, (_FREEZES.format("nickel", "austenite", "keeps its"),
                 "nickel holds nitrogen in the melt"),
           ("nickel drives nitrogen out of the melt",
            _FREEZES.format("nickel", "ferrite", "gives up"))),
    "Si": (0.8, ("", "silicon holds nitrogen in the melt"),
           ("silicon drives nitrogen out of the melt and makes ferrite, which gives it up",
            "silicon binds nitrogen in the melt as a nitride")),
}  # fmt: skip


@form("reason")
def _pores(rng: np.random.Generator) -> Exercise | None:
    """What an element does to the nitrogen that casts without pores."""
    element = str(rng.choice([*_POROUS]))
    amount, rises, falls = _POROUS[element]
    heat = steel(rng, "18Cr-8Ni")
    after = moved(heat, element, amount)
    return outcome(
        rng, f"This steel gets {amount:g} % more {element}.",
        "the room for nitrogen below what casts without pores (a working rule)",
        {"the steel": heat}, (value(heat, _ROOM), value(after, _ROOM)), "% N", 0.01,
        rises=rises, falls=falls,
        stays="only pressure decides how much nitrogen a melt holds", relations=(_ROOM,),
    )  # fmt: skip


@form("estimate")
@apart
def _guessed(rng: np.random.Generator) -> Exercise:
    """About how much nickel a nitrogen content stands for."""
    heat, terms = steel(rng, "CrNiMoN"), linear(_NIEQ).terms
    answer = heat["N"] * terms["N"] / terms["Ni"]
    return Exercise(
        "Without a calculator: for about how much nickel, in wt%, does all the nitrogen of this "
        f"steel stand in the nickel equivalent {CATALOGUE[_NIEQ].formula}? Within 0.4 is right.",
        {"the steel": heat}, answer, "wt%", 0.4,
        mistakes=(Mistake(heat["N"], "a per cent of nitrogen is worth many of nickel"),
                  Mistake(10 * answer, "a decimal has slipped")),
        solution=(f"{terms['N']:g} × {heat['N']:g} = {answer:.2f} wt%",), relations=(_NIEQ,),
    )  # fmt: skip


_LEAN = ("18Cr-8Ni", "17Cr-7Ni")

NITROGEN_TEMPLATES = on_topic(
    "nitrogen for nickel",
    _trade("nitrogen trade"),
    _pores("nitrogen pores"),
    design("nitrogen design", "18Cr-8Ni",
           [(_NIEQ, (12.0, 13.4), None), (_MD30, None, (-20.0, 5.0)),
            ("cr_eq_wrc_1992", (18.2, 19.0), None)],
           {"Cr": (17.0, 20.0, 0.1), "Ni": (5.0, 11.0, 0.1), "N": (0.03, 0.15, 0.005)}),
    _weights("nitrogen order"),
    change("nitrogen change", _NIEQ, ["18Cr-8Ni", "CrNiMo"], None,
           [("N", 0.03), ("N", 0.02), ("C", 0.01), ("C", 0.02), ("Ni", 0.5), ("Mn", 2.0),
            ("Cu", 1.0), ("Cu", 2.0), ("Ni", 0.8), ("Cr", -1.0)], 0.04),
    effect("nitrogen effect", _WEIGHTS, _LEAN, {"N": (0.02, 0.09)}),
    _guessed("nitrogen estimate"),
)  # fmt: skip


@form("reason")
def _rolled(rng: np.random.Generator) -> Exercise | None:
    """A strip that is rolled warmer, colder, thinner, or with more of an element in it."""
    heat = steel(rng, "18Cr-8Ni")
    md30 = value(heat, _MD30)
    reduction, at = float(rng.choice([20, 30, 40])), 20.0
    way = int(rng.integers(3))
    warmer, further = at + float(rng.choice([30, 60])), reduction + 15
    richer = value(moved(heat, "Ni", 1.0), _MD30)
    # What is done to another coil, the martensite there, and why it rises or falls.
    done, after, rises, falls = (
        (f"rolled at {warmer:g} °C instead of {at:g} °C",
         martensite(strain_of(reduction), warmer, md30),
         ("", "heat helps martensite to form"),
         ("the warmer the strip, the stabler its austenite",
          "the warmer strip is softer and takes less strain")),
        (f"rolled by {further:g} % instead of {reduction:g} %",
         martensite(strain_of(further), at, md30),
         ("strain makes the places where martensite begins",
          "rolling makes the strip hot, and heat makes martensite"),
         ("", "the harder strip withstands the change")),
        ("made with 1 % more nickel", martensite(strain_of(reduction), at, richer),
         ("", "nickel raises Md30"),
         ("nickel lowers Md30: the austenite is stabler",
          "nickel makes it softer, so that it takes less strain")),
    )[way]  # fmt: skip
    before = martensite(strain_of(reduction), at, md30)
    return outcome(
        rng, f"A strip of this steel (Md30 {md30:.0f} °C by Angel) is cold rolled by "
        f"{reduction:g} % at {at:g} °C. Another coil is {done}.",
        "its martensite", {"the steel": heat}, (100 * float(before), 100 * float(after)), "%", 2.0,
        rises=rises, falls=falls,
        stays="cold rolling changes the shape and not the phases", relations=(_MD30,),
        evidence=f"{evidence_of(_MD30)}; kinetics: {kinetics()}",
    )  # fmt: skip


MARTENSITE_TEMPLATES = on_topic(
    "strain-induced martensite",
    compute("strain sum", _MD30, ["18Cr-8Ni"], 0.2),
    _rolled("strain rolled"),
    rank("strain order", _MD30, ("18Cr-8Ni", "17Cr-7Ni", "CrNiMo", "18Cr-8Ni"), 8.0,
         by=("Ni", "Cr", "Mo", "md30_sjoberg_1973")),
    change("strain change", _MD30, _LEAN, (-np.inf, 0.0),
           [("N", 0.04), ("C", 0.03), ("Ni", 2.0), ("Mo", 1.0), ("Cr", 1.0), ("Mn", 2.0),
            ("Ni", -0.5), ("Si", 1.0), ("Cu", 2.0)], 1.0),
    find_mistake("strain mistake", _MD30, _LEAN, 2.0),
    mental_estimate("strain estimate", _MD30, _LEAN, 15.0),
    effect("strain effect", [_MD30, "md30_sjoberg_1973", "md30_gladman_1974"], _LEAN,
           {"Ni": (0.5, 2.0), "N": (0.02, 0.06), "Mo": (0.2, 0.8), "Mn": (0.5, 2.0),
            "Cu": (0.5, 2.0)}),
    design("strain design", "18Cr-8Ni",
           [(_MD30, None, (-20.0, 5.0)), ("pren_16n", (19.5, 20.5), None),
            ("ferrite_delong_1973", (2.0, 4.0), None)],
           {"Cr": (17.0, 19.0, 0.1), "Ni": (5.0, 11.0, 0.1), "N": (0.03, 0.12, 0.005)}),
)  # fmt: skip

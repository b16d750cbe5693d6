"""Ferritic and duplex steels: the index of each family, and how two phases share."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from gradekit.families.table import family_told
from gradekit.lessons.drawing_lots import shuffled, steel
from gradekit.lessons.exercise import Exercise, Mistake, wrong_ways
from gradekit.lessons.forms.amounts import compute, mental_estimate
from gradekit.lessons.forms.choices import (
    FOLLOWS,
    change,
    effect,
    find_mistake,
    outcome,
    wrong_line,
)
from gradekit.lessons.forms.orders import different_orders, falling, rank
from gradekit.lessons.slips import apart, value
from gradekit.lessons.template import form, on_topic
from gradekit.relations.topics import CATALOGUE
from gradekit.works.anneal.duplex_phases import partition

_FACTOR, _FERRITE = "ferrite_factor_kaltenhauser_1971", "ferrite_duplex_anchored"
_PARTITION = "partition ratios: memory"
_BALANCE = f"conservation of mass: exact; {_PARTITION}"
_ANNEAL_C = 1050.0
# One index for each family; which of them fits a steel is computed.
_INDICES = (_FACTOR, "ms_finkler_1996", _FERRITE, "md30_angel_1954")


@form("chart")
def _fitting(rng: np.random.Generator, lots: Sequence[str]) -> Exercise | None:
    """Ask which index was made for a steel."""
    heats = [steel(rng, str(lot)) for lot in rng.choice(lots, 8)]
    families = family_told(pd.DataFrame(heats))
    sure = [n for n, doubt in enumerate(families["doubt"]) if not doubt]
    if not sure:
        return None
    heat, row = heats[sure[0]], families.iloc[sure[0]]
    kind, reason = str(row["family"]), str(row["reason"])
    (fit,) = (n for n in _INDICES if CATALOGUE[n].holds_for(kind))
    made_from = {n: f"made from {', '.join(CATALOGUE[n].families)} steels" for n in _INDICES}
    why = {CATALOGUE[n].title: f"it was {made_from[n]}" for n in (fit, *_INDICES)}
    answer = CATALOGUE[fit].title
    return Exercise(
        "Which of these was made for a steel like this one?", {"the steel": heat}, answer,
        choices=shuffled(rng, why), mistakes=wrong_ways(why, answer),
        solution=(f"by composition the steel is {kind}: {reason}", f"{answer}: {made_from[fit]}"),
        relations=(fit,),
    )  # fmt: skip


_KIND = ("17Cr ferritic",)

FERRITIC_TEMPLATES = on_topic(
    "ferrite factor",
    compute("factor sum", _FACTOR, _KIND, 0.05),
    rank("factor order", _FACTOR, _KIND * 4, 1.0, by=("Cr", "Ti", "C", "Mo")),
    effect("factor effect", [_FACTOR], _KIND,
           {"Ti": (0.1, 0.4), "C": (0.01, 0.04), "N": (0.01, 0.03), "Ni": (0.1, 0.5),
            "Mn": (0.1, 0.5), "Mo": (0.2, 0.8), "Nb": (0.1, 0.4)}),
    find_mistake("factor mistake", _FACTOR, _KIND, 0.1),
    change("factor change", _FACTOR, _KIND, (17.0, np.inf),
           [("Ti", 0.3), ("Ti", 0.1), ("C", -0.01), ("N", -0.01), ("Cr", 0.5), ("Mo", 0.5),
            ("Mn", -0.2), ("Ni", 0.3), ("C", 0.02), ("Si", 0.2)], 0.2),
    _fitting("factor fitting", ("17Cr ferritic", "12Cr martensitic")),
    mental_estimate("factor estimate", _FACTOR, _KIND, 1.0),
)  # fmt: skip


def _shared(rng: np.random.Generator) -> tuple[dict, str, float, float, float]:
    """Return a steel, an element, the share of ferrite, the ratio and the austenite's content."""
    heat = steel(rng, "duplex")
    element = str(rng.choice(["Cr", "Mo", "Ni"]))
    share = float(rng.integers(40, 61)) / 100
    k = round(float(partition(element, _ANNEAL_C)), 2)
    return heat, element, share, k, heat[element] / (1 + share * (k - 1))


@form("compute")
@apart
def _phase(rng: np.random.Generator) -> Exercise:
    """What the austenite of a duplex steel holds, by conservation of mass."""
    heat, element, share, k, answer = _shared(rng)
    content = heat[element]
    return Exercise(
        f"This duplex steel is annealed at {_ANNEAL_C:g} °C and holds {100 * share:g} % ferrite by "
        f"mass. The ferrite holds {k:g} times as much {element} as the austenite. How much "
        f"{element} (wt%) does the austenite hold?",
        {"the steel": heat}, answer, "wt%", 0.02 if element != "Mo" else 0.01,
        mistakes=(
            Mistake(k * answer, "that is what the ferrite holds"),
            Mistake(content / k, "you took the content of the steel for that of the ferrite"),
            Mistake(content / (1 + (1 - share) * (k - 1)),
                    "you took the share of austenite for the ferrite"),
            Mistake(content, "that is the content of the steel; the phases differ"),
        ),
        solution=(f"{content:g} = {share:g} × {k:g} × a + {1 - share:g} × a",
                  f"a = {content:g} / (1 + {share:g} × ({k:g} - 1)) = {answer:.3f} wt%"),
        evidence=_BALANCE,
    )  # fmt: skip


@form("estimate")
def _lever(rng: np.random.Generator) -> Exercise | None:
    """About how much ferrite there is, from what both phases hold."""
    heat, element, _, k, a = _shared(rng)
    ferrite, austenite = round(k * a, 1), round(a, 1)
    answer = 100 * (heat[element] - austenite) / (ferrite - austenite)
    if element == "Mo" or not 35 < answer < 65:
        return None
    return Exercise(
        f"The ferrite of this duplex steel holds {ferrite:g} % {element}, its austenite "
        f"{austenite:g} %. About how much of it is ferrite, in % by mass? Within 4 is right.",
        {"the steel": heat}, answer, "%", 4.0,
        mistakes=(
            Mistake(100 - answer, "that is the austenite; the other arm of the lever is the "
                    "ferrite"),
            Mistake(100 * austenite / ferrite, "that compares the two phases, and not the steel "
                    "with them"),
        ),
        solution=(f"({heat[element]:g} - {austenite:g}) / ({ferrite:g} - {austenite:g}) = "
                  f"{answer / 100:.2f}",),
        evidence=_BALANCE,
    )  # fmt: skip


@form("rank")
def _sides(rng: np.random.Generator) -> Exercise:
    """Order four elements by how much more of them the ferrite holds."""
    elements = tuple(str(e) for e in rng.choice(["Cr", "Mo", "Ni", "Cu", "Mn"], 4, replace=False))
    ratios = {e: float(partition(e, _ANNEAL_C)) for e in elements}
    order, heat = falling(ratios), steel(rng, "duplex")
    ways = {
        "those are the contents of the steel, not how the phases share them":
            falling({e: heat[e] for e in elements}),
        "you began with what the austenite holds": order[::-1],
        "molybdenum chooses the ferrite more than chromium does":
            falling({e: ratio + 9 * (e == "Cr") for e, ratio in ratios.items()}),
    }  # fmt: skip
    return Exercise(
        f"A duplex steel is annealed at {_ANNEAL_C:g} °C. Put these elements in order of how much "
        "of them the ferrite holds for each part in the austenite, the one most in the ferrite "
        "first.",
        {"the steel": heat}, order, choices=elements, mistakes=different_orders(ways, order),
        solution=tuple(f"{e}: {ratios[e]:.2f} in the ferrite for 1 in the austenite"
                       for e in order),
        evidence=_PARTITION, elsewhere="Elements that make ferrite go to the ferrite.",
    )  # fmt: skip


@form("reason")
def _annealed(rng: np.random.Generator) -> Exercise | None:
    """A duplex steel annealed at another temperature."""
    heat, before_C = steel(rng, "duplex"), float(rng.choice([1020, 1050, 1080]))
    step = float(rng.choice([-60, 60, 80]))
    after_C = max(before_C + step, 1000.0)
    before, after = (value(heat, _FERRITE, temperature_C=t) for t in (before_C, after_C))
    return outcome(
        rng, f"This duplex steel is annealed at {after_C:g} instead of {before_C:g} °C.",
        "its ferrite", {"the steel": heat}, (before, after), "%", 3.0,
        rises=("near the melting point the steel is nearly all ferrite, and the hotter, the more "
               "of it there is",
               "more chromium dissolves when it is hotter"),
        falls=("the cooler the anneal, the more austenite forms out of the ferrite",
               "less chromium dissolves when it is cooler"),
        stays="only the composition decides", relations=(_FERRITE,),
    )  # fmt: skip


@form("mistake")
def _wrong_phase(rng: np.random.Generator) -> Exercise | None:
    """A worked balance of two phases with one wrong line."""
    heat, element, share, k, a = _shared(rng)
    if share == 0.5:  # else the wrong share would be the right one
        return None
    at = int(rng.integers(3))
    part = share if at != 0 else 1 - share
    first = 1 + part * (k - 1)
    austenite = heat[element] / first if at != 1 else heat[element] * first
    ferrite = k * austenite if at != 2 else austenite / k
    lines = (
        f"1 + {round(part, 2):g} × ({k:g} - 1) = {first:.4f}",
        f"austenite: {heat[element]:g} {'/' if at != 1 else '×'} {first:.4f} = {austenite:.3f}",
        f"ferrite: {austenite:.3f} {'×' if at != 2 else '/'} {k:g} = {ferrite:.3f}",
    )
    fault = (f"the share is that of the ferrite, {share:g}", "divide: the sum of both parts is the "
            "content of the steel", f"the ferrite holds {k:g} times as much")[at]  # fmt: skip
    return wrong_line(
        f"A duplex steel holds {100 * share:g} % ferrite by mass, and its ferrite {k:g} times as "
        f"much {element} as its austenite. Somebody has worked out what both hold.",
        {"the steel": heat}, dict.fromkeys(lines, FOLLOWS), at, fault,
        (f"austenite {a:.3f}, ferrite {k * a:.3f} wt%",), evidence=_BALANCE,
    )  # fmt: skip


DUPLEX_TEMPLATES = on_topic(
    "duplex partition",
    _phase("phases content"),
    _sides("phases order"),
    _annealed("phases anneal"),
    _wrong_phase("phases mistake"),
    _lever("phases estimate"),
    change("phases change", _FERRITE, ["duplex"], (45.0, 55.0),
           [("Ni", 1.0), ("Ni", -1.0), ("N", 0.04), ("N", -0.04), ("Cr", 1.0), ("Cr", -1.0),
            ("Mo", 0.3), ("Si", 0.2), ("Mn", 0.5), ("C", 0.005)], 1.0,
           given={"temperature_C": _ANNEAL_C}, state="this steel annealed at 1050 °C"),
    _fitting("phases fitting", ("duplex", "12Cr martensitic", "17Cr ferritic")),
)  # fmt: skip

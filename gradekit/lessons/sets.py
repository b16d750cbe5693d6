"""Exercise sets from a seed, with their solutions."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from gradekit.diagram import diagram
from gradekit.dilution import weld
from gradekit.errors import InputError
from gradekit.evaluate import evaluate
from gradekit.explain import explain
from gradekit.lessons.drawing_lots import FAMILIES, steel
from gradekit.lessons.exercise import Exercise, Mistake
from gradekit.relations import CATALOGUE

__all__ = ["TOPICS", "exercise_set", "self_check"]


def _value(heat: dict, name: str, **conditions: float) -> float:
    return float(evaluate(heat, name, **conditions).values.iloc[0, 0])


def _steps(heat: dict, name: str, **conditions: float) -> tuple[str, ...]:
    """The working, term by term, from the declaration."""
    relation = CATALOGUE[name]
    table = explain(heat, name, **conditions)
    lines = [f"{relation.title}: {relation.formula}"]
    for term, row in table.iterrows():
        if row["kind"] == "term" and np.isfinite(row["amount"]):
            lines.append(
                f"{term}: {row['coefficient']:g} × {row['amount']:g} = {row['contribution']:.3f}"
            )
        else:
            lines.append(f"{term}: {row['contribution']:.3f}")
    lines.append(f"sum: {table.attrs['value']:.3f} {relation.unit}")
    return tuple(lines)


def _evidence(*names: str) -> str:
    return "; ".join(f"{CATALOGUE[n].title}: {CATALOGUE[n].status}" for n in names)


def _linear_mistakes(heat: dict, name: str, twin: str | None = None) -> tuple[Mistake, ...]:
    """The slips of a sum: a term left out, weight fractions, the other axis."""
    relation = CATALOGUE[name]
    right = _value(heat, name)
    found = []
    for term, coefficient in relation.terms.items():
        part = coefficient * heat.get(term, 0.0)
        factor = "" if abs(coefficient) == 1 else f"{abs(coefficient):g}·"
        found.append(Mistake(right - part, f"you left out the term {factor}{term}"))
        if abs(coefficient) != 1:
            plain = right - part + np.sign(coefficient) * heat.get(term, 0.0)
            found.append(Mistake(plain, f"you took {term} without its factor {abs(coefficient):g}"))
    if relation.intercept:
        words = f"you left out the constant {relation.intercept:g}"
        found.append(Mistake(right - relation.intercept, words))
    fraction = relation.intercept + (right - relation.intercept) / 100
    found.append(Mistake(fraction, "you used weight fractions; the formula wants per cent by mass"))
    if twin:
        found.append(
            Mistake(_value(heat, twin), "you swapped the axes: that is the other equivalent")
        )
    return tuple(found)


def _clear(answer: float, mistakes: tuple[Mistake, ...], tolerance: float) -> tuple[Mistake, ...]:
    """Only mistakes that nobody can confuse with the answer or with each other."""
    kept: list[Mistake] = []
    for mistake in mistakes:
        others = [answer, *(m.value for m in kept)]
        if all(abs(mistake.value - other) > 2 * tolerance for other in others):
            kept.append(mistake)
    return tuple(kept)


def _sum_exercise(topic: str, name: str, family: str, twin: str | None, tolerance: float):
    def make(rng: np.random.Generator) -> Exercise:
        heat = steel(rng, family)
        relation = CATALOGUE[name]
        answer = _value(heat, name)
        return Exercise(
            topic,
            f"What is the {relation.quantity} of this steel by {relation.title}: "
            f"{relation.formula}?",
            {"the steel": heat},
            answer,
            relation.unit if relation.unit != "1" else "",
            tolerance,
            mistakes=_clear(answer, _linear_mistakes(heat, name, twin), tolerance),
            solution=_steps(heat, name),
            relations=(name,),
            evidence=_evidence(name),
        )

    return make


def _region(rng: np.random.Generator) -> Exercise:
    chart = diagram("schaeffler_1949")
    while True:
        heat = steel(rng, str(rng.choice(list(FAMILIES))))
        place = chart.locate(heat).iloc[0]
        around = chart.locate_xy(
            place["x"] + 0.3 * np.array([1, -1, 0, 0]), place["y"] + 0.3 * np.array([0, 0, 1, -1])
        )
        # a point beside a line of a reconstruction would be a quarrel, not an exercise
        if place["region"] and (around["region"] == place["region"]).all():
            break
    steps = (*_steps(heat, chart.axes[0]), *_steps(heat, chart.axes[1]))
    return Exercise(
        "field of a diagram",
        "In which field of the Schaeffler diagram (a reconstruction) does this steel lie as weld "
        "metal? Work out both equivalents first.",
        {"the steel": heat},
        str(place["region"]),
        choices=chart.labels,
        solution=(
            *steps,
            f"the point ({place['x']:.1f}, {place['y']:.1f}) lies in {place['region']}",
        ),
        relations=chart.axes,
        evidence=f"{chart.title}: {chart.caution}",
    )


def _trade(rng: np.random.Generator) -> Exercise:
    """How much nitrogen stands in for nickel on one axis."""
    name = "ni_eq_wrc_1992"
    heat = steel(rng, "18Cr-8Ni")
    less = round(float(rng.uniform(0.6, 2.4)), 1)
    terms = CATALOGUE[name].terms
    answer = less * terms["Ni"] / terms["N"]
    tolerance = 0.002
    mistakes = (
        Mistake(less * terms["N"], "you multiplied where you have to divide"),
        Mistake(less / terms["C"], "that is carbon's factor"),
        Mistake(less, "one per cent of nitrogen does the work of many of nickel"),
        Mistake(heat["N"] + answer, "asked is the addition, not the content afterwards"),
    )
    return Exercise(
        "nitrogen for nickel",
        f"{less:g} % nickel is taken out of this steel. How much nitrogen (wt%) has to be added to "
        f"keep its nickel equivalent ({CATALOGUE[name].formula})?",
        {"the steel": heat},
        answer,
        "wt%",
        tolerance,
        mistakes=_clear(answer, mistakes, tolerance),
        solution=(
            f"{terms['Ni']:g} × {less:g} has to equal {terms['N']:g} × addition",
            f"addition = {answer:.4f} wt%",
        ),
        relations=(name,),
        evidence=_evidence(name),
    )


def _weld(rng: np.random.Generator) -> Exercise:
    parent, wire = steel(rng, "18Cr-8Ni"), steel(rng, "weld metal")
    share = float(rng.integers(15, 46))
    element = str(rng.choice(["Cr", "Ni", "Mn"]))
    joint = weld(parent, parent, wire, steps=2).at(share / 100)
    answer = float(joint[element].iloc[0])
    swapped = parent[element] * (1 - share / 100) + wire[element] * share / 100
    mean = (parent[element] + wire[element]) / 2
    tolerance = 0.02 if element != "Mn" else 0.005
    mistakes = (
        Mistake(swapped, "you swapped the parts: dilution is the share of parent metal"),
        Mistake(mean, "you took the plain mean; the shares are not equal"),
        Mistake(wire[element] * (1 - share / 100), "the parent metal brings some too"),
    )
    return Exercise(
        "dilution",
        f"A weld of this parent with this wire has {share:g} % dilution. What is its {element} "
        "content (wt%)?",
        {"parent": parent, "wire": wire},
        answer,
        "wt%",
        tolerance,
        mistakes=_clear(answer, mistakes, tolerance),
        solution=(
            f"{share / 100:g} × {parent[element]:g} + {1 - share / 100:g} × {wire[element]:g} "
            f"= {answer:.3f}",
        ),
        evidence="mixing by mass: exact",
    )


def _mode(rng: np.random.Generator) -> Exercise:
    name = "cr_ni_ratio_hammar"
    heat = steel(rng, str(rng.choice(["18Cr-8Ni", "CrNiMo"])))
    answer, tolerance = _value(heat, name), 0.005
    chromium, nickel = CATALOGUE["cr_eq_hammar_1979"], CATALOGUE["ni_eq_hammar_1979"]
    creq, nieq = (_value(heat, r.name) for r in (chromium, nickel))
    other = _value(heat, "cr_ni_ratio_schaeffler")
    mistakes = (
        Mistake(nieq / creq, "you turned the ratio over"),
        Mistake(
            other, "those are Schaeffler's equivalents; this limit belongs to Hammar-Svensson's"
        ),
        Mistake(creq - nieq, "asked is the ratio, not the difference"),
    )
    return Exercise(
        "solidification mode",
        f"What is the ratio of Hammar-Svensson's equivalents, {chromium.formula} over "
        f"{nickel.formula}?",
        {"the steel": heat},
        answer,
        "",
        tolerance,
        mistakes=_clear(answer, mistakes, tolerance),
        solution=(f"{creq:.3f} / {nieq:.3f} = {answer:.3f}",),
        relations=(name,),
        evidence=_evidence(name),
    )


#: Topics in the order of the course, each with the maker of an exercise.
TOPICS: dict[str, Callable[[np.random.Generator], Exercise]] = {
    "chromium equivalent": _sum_exercise(
        "chromium equivalent", "cr_eq_schaeffler_1949", "CrNiMo", "ni_eq_schaeffler_1949", 0.02
    ),
    "nickel equivalent": _sum_exercise(
        "nickel equivalent", "ni_eq_wrc_1992", "18Cr-8Ni", "cr_eq_wrc_1992", 0.02
    ),
    "field of a diagram": _region,
    "dilution": _weld,
    "solidification mode": _mode,
    "nitrogen for nickel": _trade,
    "strain-induced martensite": _sum_exercise(
        "strain-induced martensite", "md30_angel_1954", "18Cr-8Ni", None, 0.2
    ),
    "pitting index": _sum_exercise("pitting index", "pren_16n", "CrNiMo", None, 0.02),
}


def exercise_set(seed: int, topics: object = None) -> list[Exercise]:
    """Return one exercise a topic; the same seed gives the same set.

    Parameters
    ----------
    seed : int
        Not negative.
    topics : list of str, optional
        Of `TOPICS`; all by default.

    Examples
    --------
    >>> [e.topic for e in exercise_set(7)][:2]
    ['chromium equivalent', 'nickel equivalent']
    """
    if not isinstance(seed, (int, np.integer)) or isinstance(seed, bool) or seed < 0:
        raise InputError("seed", "a whole number, not negative", seed)
    chosen = list(TOPICS) if topics is None else list(topics)
    for topic in chosen:
        if topic not in TOPICS:
            raise InputError("topic", ", ".join(TOPICS), topic)
    order = list(TOPICS)
    return [TOPICS[t](np.random.default_rng([int(seed), order.index(t)])) for t in chosen]


def self_check(topic: str, number: int = 3, seed: int = 0) -> list[Exercise]:
    """Return a few exercises on one topic, for the end of a chapter.

    Examples
    --------
    >>> len(self_check("pitting index"))
    3
    """
    return [exercise_set(seed * 1000 + n, [topic])[0] for n in range(number)]

"""Exercise sets from a seed, with their solutions."""

from __future__ import annotations

from collections.abc import Callable, Iterable

import numpy as np

from gradekit.core.errors import InputError, nearest
from gradekit.diagrams.constitution import diagram
from gradekit.lessons.drawing_lots import FIELDS, steel
from gradekit.lessons.exercise import Exercise, Mistake
from gradekit.lessons.more_questions import change_of_one, mode_of_ratio
from gradekit.lessons.slips import apart, clear, field_slips, linear, sum_slips, value
from gradekit.relations.declaration import Relation
from gradekit.relations.topics import CATALOGUE
from gradekit.works.anneal.duplex_phases import partition

__all__ = ["TOPICS", "exercise_set", "self_check"]


def _steps(heat: dict, name: str) -> tuple[str, ...]:
    """The working, term by term, from the declaration."""
    relation = linear(name)
    lines = [f"{relation.title}: {relation.formula}"]
    if relation.intercept:
        lines.append(f"constant: {relation.intercept:g}")
    for term, coefficient in relation.terms.items():
        amount = heat.get(term, 0.0)
        lines.append(f"{term}: {coefficient:g} × {amount:g} = {coefficient * amount:.3f}")
    lines.append(f"sum: {value(heat, name):.3f} {_unit(relation)}".rstrip())
    return tuple(lines)


def _unit(relation: Relation) -> str:
    return "" if relation.unit == "1" else relation.unit


def _evidence(*names: str) -> str:
    return "; ".join(f"{CATALOGUE[n].title}: {CATALOGUE[n].status}" for n in names)


def _sum_exercise(topic: str, name: str, family: str, twin: str | None, tolerance: float):
    def make(rng: np.random.Generator) -> Exercise:
        relation = linear(name)
        while True:
            heat = steel(rng, family)
            parts = [c * heat[t] for t, c in relation.terms.items() if t in heat]
            # Who forgets a term must not be told that he is right.
            if min(map(abs, parts)) > 2 * tolerance:
                break
        answer = value(heat, name)
        return Exercise(
            topic,
            f"What is the {relation.quantity} {relation.formula} of this steel ({relation.title})?",
            {"the steel": heat},
            answer,
            _unit(relation),
            tolerance,
            mistakes=clear(answer, sum_slips(heat, name, twin), tolerance),
            solution=_steps(heat, name),
            relations=(name,),
            evidence=_evidence(name),
        )

    return make


def _region(rng: np.random.Generator) -> Exercise:
    chart = diagram("schaeffler_1949")
    # The field first: of steels drawn at large, three in four would lie in one and the same.
    field = str(rng.choice(list(FIELDS)))
    while True:
        heat = steel(rng, str(rng.choice(FIELDS[field])))
        x, y = (value(heat, axis) for axis in chart.axes)
        around = chart.locate_xy(
            x + 0.3 * np.array([0, 1, -1, 0, 0]), y + 0.3 * np.array([0, 0, 0, 1, -1])
        )["region"].astype(str)
        # a point beside a line of a reconstruction would be a quarrel, not an exercise
        if (around == field).all():
            break
    steps = (*_steps(heat, chart.axes[0]), *_steps(heat, chart.axes[1]))
    return Exercise(
        "field of a diagram",
        "In which field of the Schaeffler diagram (a reconstruction) does this steel lie as weld "
        "metal? Work out both equivalents first.",
        {"the steel": heat},
        field,
        choices=chart.labels,
        mistakes=field_slips(chart, heat, field),
        elsewhere=f"This steel lies at ({x:.1f}, {y:.1f}), the chromium equivalent first: compare "
        "your two values with that, then find the point on the diagram.",
        solution=(
            *steps,
            f"the point ({x:.1f}, {y:.1f}) lies in {field}",
        ),
        relations=chart.axes,
        evidence=f"{chart.title}: {chart.caution}",
    )


@apart
def _trade(rng: np.random.Generator) -> Exercise:
    """How much nitrogen stands in for nickel on one axis."""
    name = "ni_eq_wrc_1992"
    heat = steel(rng, "18Cr-8Ni")
    less = round(float(rng.uniform(0.6, 2.4)), 1)
    terms = linear(name).terms
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
        mistakes=mistakes,
        solution=(
            f"{terms['Ni']:g} × {less:g} has to equal {terms['N']:g} × addition",
            f"addition = {answer:.4f} wt%",
        ),
        relations=(name,),
        evidence=_evidence(name),
    )


@apart
def _weld(rng: np.random.Generator) -> Exercise:
    parent, wire = steel(rng, "18Cr-8Ni"), steel(rng, "weld metal")
    share = float(rng.integers(15, 46))
    element = str(rng.choice(["Cr", "Ni", "Mn"]))
    answer = parent[element] * share / 100 + wire[element] * (1 - share / 100)
    swapped = parent[element] * (1 - share / 100) + wire[element] * share / 100
    mean = (parent[element] + wire[element]) / 2
    tolerance = 0.02 if element != "Mn" else 0.005
    mistakes = (
        Mistake(swapped, "you swapped the parts: dilution is the share of parent metal"),
        Mistake(mean, "you took the plain mean; the shares are not equal"),
        Mistake(wire[element], "that is the wire alone"),
        Mistake(parent[element], "that is the parent alone"),
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
        mistakes=mistakes,
        solution=(
            f"{share / 100:g} × {parent[element]:g} + {1 - share / 100:g} × {wire[element]:g} "
            f"= {answer:.3f}",
        ),
        evidence="mixing by mass: exact",
    )


@apart
def _mode(rng: np.random.Generator) -> Exercise:
    name = "cr_ni_ratio_hammar"
    heat = steel(rng, str(rng.choice(["18Cr-8Ni", "CrNiMo"])))
    answer, tolerance = value(heat, name), 0.005
    chromium, nickel = CATALOGUE["cr_eq_hammar_1979"], CATALOGUE["ni_eq_hammar_1979"]
    creq, nieq = (value(heat, r.name) for r in (chromium, nickel))
    other = value(heat, "cr_ni_ratio_schaeffler")
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
        mistakes=mistakes,
        solution=(f"{creq:.3f} / {nieq:.3f} = {answer:.3f}",),
        relations=(name,),
        evidence=_evidence(name),
    )


@apart
def _phase(rng: np.random.Generator) -> Exercise:
    """What the austenite of a duplex steel holds, by conservation of mass."""
    heat = steel(rng, "duplex")
    element = str(rng.choice(["Cr", "Mo", "Ni"]))
    share = float(rng.integers(40, 61)) / 100
    k = round(float(partition(element, 1050.0)), 2)
    content = heat[element]
    answer = content / (1 + share * (k - 1))
    tolerance = 0.02 if element != "Mo" else 0.01
    mistakes = (
        Mistake(k * answer, "that is what the ferrite holds"),
        Mistake(content / k, "you took the content of the steel for that of the ferrite"),
        Mistake(
            content / (1 + (1 - share) * (k - 1)), "you took the share of austenite for the ferrite"
        ),
        Mistake(content, "that is the content of the steel; the phases differ"),
    )
    return Exercise(
        "duplex partition",
        f"This duplex steel is annealed at 1050 °C and holds {100 * share:g} % ferrite by mass. "
        f"The ferrite holds {k:g} times as much {element} as the austenite. How much {element} "
        "(wt%) does the austenite hold?",
        {"the steel": heat},
        answer,
        "wt%",
        tolerance,
        mistakes=mistakes,
        solution=(
            f"{content:g} = {share:g} × {k:g} × a + {1 - share:g} × a",
            f"a = {content:g} / (1 + {share:g} × ({k:g} - 1)) = {answer:.3f} wt%",
        ),
        evidence="conservation of mass: exact; partition ratio: memory",
    )


def _either(*makers: Callable[[np.random.Generator], Exercise]):
    """One of several kinds of question on a topic, by lot."""

    def make(rng: np.random.Generator) -> Exercise:
        return makers[rng.integers(len(makers))](rng)

    return make


#: Topics in the order of the course, each with the maker of an exercise.
TOPICS: dict[str, Callable[[np.random.Generator], Exercise]] = {
    "chromium equivalent": _sum_exercise(
        "chromium equivalent", "cr_eq_schaeffler_1949", "CrNiMoNb", "ni_eq_schaeffler_1949", 0.02
    ),
    "nickel equivalent": _either(
        _sum_exercise("nickel equivalent", "ni_eq_wrc_1992", "18Cr-8Ni", "cr_eq_wrc_1992", 0.02),
        change_of_one,
    ),
    "field of a diagram": _region,
    "dilution": _weld,
    "solidification mode": _either(_mode, mode_of_ratio),
    "ferrite factor": _sum_exercise(
        "ferrite factor", "ferrite_factor_kaltenhauser_1971", "17Cr ferritic", None, 0.05
    ),
    "nitrogen for nickel": _trade,
    "strain-induced martensite": _sum_exercise(
        "strain-induced martensite", "md30_angel_1954", "18Cr-8Ni", None, 0.2
    ),
    "duplex partition": _phase,
    "pitting index": _sum_exercise("pitting index", "pren_16n", "CrNiMo", None, 0.02),
}


def exercise_set(seed: int, topics: str | Iterable[str] | None = None) -> list[Exercise]:
    """Return one exercise a topic; the same seed gives the same set.

    Parameters
    ----------
    seed : int
        Not negative.
    topics : str or list of str, optional
        Of `TOPICS`; all by default.

    Returns
    -------
    list of Exercise
        Question, invented steels (wt%), answer with unit and tolerance, and working.

    Raises
    ------
    InputError
        A seed that is no whole number, or a topic that there is not.

    Examples
    --------
    >>> [e.topic for e in exercise_set(7)][:2]
    ['chromium equivalent', 'nickel equivalent']
    """
    if not isinstance(seed, (int, np.integer)) or isinstance(seed, bool) or seed < 0:
        raise InputError("seed", "a whole number, not negative", seed)
    order = list(TOPICS)
    if topics is not None and not isinstance(topics, Iterable):
        raise InputError("topics", "a list of texts", topics)
    chosen = order if topics is None else [topics] if isinstance(topics, str) else list(topics)
    for topic in chosen:
        if topic not in order:
            raise InputError("topic", ", ".join(order), topic, nearest(str(topic), order))
    return [TOPICS[t](np.random.default_rng([int(seed), order.index(t)])) for t in chosen]


def self_check(topic: str, number: int = 3, seed: int = 0) -> list[Exercise]:
    """Return a few exercises on one topic, for the end of a chapter.

    Examples
    --------
    >>> len(self_check("pitting index"))
    3
    """
    return [exercise_set(seed * 1000 + n, [topic])[0] for n in range(number)]
